"""Measurements of any kind as asked for on the command line, and what to say of them."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from measure.kind_planes import Scale, measure_by
from measure.kind_tip import CannotTell
from measure.kinds import Choices, Measured
from measure.length import Length
from measure.units import format_fraction, format_inches, format_mm

if TYPE_CHECKING:
    from calibration.locate import Location
    from calibration.photo import Photo

Point = tuple[float, float]


@dataclass(frozen=True, slots=True)
class KindRequest:
    """A measurement asked for.

    Attributes
    ----------
    name, kind : str
        For people, and one of the kinds.
    clicks_px : tuple of points
        The points that the kind asks for.
    choices : Choices
        How to measure.
    """

    name: str
    kind: str
    clicks_px: tuple[Point, ...]
    choices: Choices


def measure_kind_request(photo: "Photo", location: "Location", request: KindRequest) -> Measured:
    """Measure on the plane of a location, or on all that it allows.

    Raises
    ------
    SpanError, GeometryError
        It can't be measured; the message starts with the request's name.
    """
    from calibration.errors import GeometryError
    from measure.errors import SpanError

    assert location.plane is not None
    choices = replace(request.choices, span_id=request.name)
    scale = Scale(location.plane, location.family)
    try:
        return measure_by(scale, request.kind, photo, request.clicks_px, choices)
    except (GeometryError, SpanError) as error:
        raise type(error)(f"{request.name}: {error}") from error


def kind_json(request: KindRequest, measured: Measured) -> dict[str, Any]:
    """Return one measurement as JSON values; a length that can't be told is null, with the reason."""
    head = {
        "name": request.name,
        "kind": request.kind,
        "p_px": [list(point) for point in request.clicks_px],
        "used_px": [list(point) for point in np.asarray(measured.used_px).tolist()],
        "snapped": measured.snapped,
        "standoff_mm": request.choices.standoff_mm,
        "cautions": list(measured.cautions),
    }
    result = measured.result
    if isinstance(result, CannotTell):
        return {**head, "length_mm": None, "cannot_tell": result.reason}
    return {
        **head,
        "length_mm": result.value_mm,
        "standard_uncertainty_mm": result.standard_uncertainty_mm,
        "expanded_uncertainty_mm": result.expanded_uncertainty_mm,
        "coverage_factor": result.coverage_factor,
        "coverage_probability": 0.95,
        "budget": [
            {"source": line.source, "u_mm": line.u_mm, "shared": line.shared} for line in result.budget
        ],
    }


def describe_kind(request: KindRequest, measured: Measured) -> list[str]:
    """Return the lines that tell a person what was measured."""
    result = measured.result
    if isinstance(result, CannotTell):
        return [f"{request.name}: cannot tell: {result.reason}"]
    inches = f"{format_inches(result)}, about {format_fraction(result.value_mm)}"
    lines = [
        f"{request.name}: {format_mm(result)}   ({inches}; k = {result.coverage_factor:.2f}, 95 % coverage)",
        f"  standard uncertainty {result.standard_uncertainty_mm:.2g} mm from: {_shares(result)}",
    ]
    if measured.snapped:
        lines.append("  edges found in the photo beside the points")
    return [*lines, *(f"  Caution: {text}" for text in measured.cautions)]


def _shares(length: Length) -> str:
    least = 0.05 * length.standard_uncertainty_mm
    return ", ".join(f"{line.source} {line.u_mm:.2g}" for line in length.budget if line.u_mm > least)


def differences(requests: Sequence[KindRequest], results: Sequence[Measured]) -> list[tuple[str, Length]]:
    """Return each later length minus the first, what they share cancelling, with a name for each."""
    from measure.kind_difference import measure_difference

    lengths = [
        (request.name, measured.result)
        for request, measured in zip(requests, results, strict=True)
        if isinstance(measured.result, Length)
    ]
    if len(lengths) < 2:
        return []
    first_name, first = lengths[0]
    return [
        (f"{name} minus {first_name}", measure_difference(length, first, same_standoff=True).length)
        for name, length in lengths[1:]
    ]
