"""Measurements of any kind as requested on the command line, and how to report them."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from calibration.cautions import NoAnswer
from measure.kinds import Choices, Measured, Scale, measure_by
from measure.length import Length, format_fraction, format_inches, format_mm
from measure.wording import Audience, all_worded, worded

if TYPE_CHECKING:
    from calibration.image import Photo
    from calibration.locate import Location

Point = tuple[float, float]


@dataclass(frozen=True, slots=True)
class KindRequest:
    """A requested measurement.

    Attributes
    ----------
    name, kind : str
        For people, and one of the kinds.
    clicks_px : tuple of points
        The points that the kind asks for.
    choices : Choices
        How to measure.
    part, feature : str or None
        What of a release sheet it measures.
    """

    name: str
    kind: str
    clicks_px: tuple[Point, ...]
    choices: Choices
    part: str | None = None
    feature: str | None = None


def measure_kind_request(
    photo: "Photo", location: "Location", request: KindRequest, span_id: str = ""
) -> Measured:
    """Measure on the plane of a location, or on all that it allows.

    Parameters
    ----------
    photo, location
        The photo, and what it is measured by.
    request : KindRequest
        What to measure.
    span_id : str
        Distinguishes its clicks from those of other measurements; its name by default.

    Returns
    -------
    Measured
        A length in mm, or the reason for none.

    Raises
    ------
    SpanError, GeometryError
        It can't be measured; the message starts with the request's name.
    """
    from calibration.errors import GeometryError
    from measure.errors import SpanError

    assert location.plane is not None
    choices = replace(request.choices, span_id=span_id or request.name)
    scale = Scale(location.plane, location.family)
    try:
        return measure_by(scale, request.kind, photo, request.clicks_px, choices)
    except (GeometryError, SpanError) as error:
        raise type(error)(f"{request.name}: {error}") from error


def kind_json(request: KindRequest, measured: Measured) -> dict[str, Any]:
    """Return one measurement as JSON values; an unknown length is null, with the reason.

    Parameters
    ----------
    request : KindRequest
        As asked.
    measured : Measured
        Its result.

    Returns
    -------
    dict
        Points in px; lengths and heights in mm.
    """
    height = request.choices.standoff_mm
    common = {
        "name": request.name,
        "kind": request.kind,
        "p_px": [list(point) for point in request.clicks_px],
        "used_px": [list(point) for point in np.asarray(measured.used_px).tolist()],
        "click_std_px": list(measured.std_px),
        "snapped": [end.snapped for end in measured.ends] or measured.snapped,
        "standoff_mm": list(height) if isinstance(height, tuple) else height,
        "cautions": list(all_worded(measured.cautions, Audience.COMMAND)),
    }
    result = measured.result
    if isinstance(result, NoAnswer):
        return {**common, "length_mm": None, "cannot_tell": worded(result, Audience.COMMAND)}
    return {**common, **length_json(result)}


def length_json(length: Length) -> dict[str, Any]:
    """Return a length with its budget as JSON values.

    Parameters
    ----------
    length : Length
        In mm.

    Returns
    -------
    dict
        Standard and expanded uncertainty with the coverage factor; the budget's parts are standard ones, mm.
    """
    return {
        "length_mm": length.value_mm,
        "standard_uncertainty_mm": length.standard_uncertainty_mm,
        "expanded_uncertainty_mm": length.expanded_uncertainty_mm,
        "coverage_factor": length.coverage_factor,
        "coverage_probability": 0.95,
        "budget": [
            {"source": line.source, "u_mm": line.u_mm, "shared": line.shared} for line in length.budget
        ],
    }


def describe_kind(request: KindRequest, measured: Measured) -> list[str]:
    """Return the lines that describe what was measured.

    Parameters
    ----------
    request : KindRequest
        As asked.
    measured : Measured
        Its result.

    Returns
    -------
    list of str
        The first line names it; where there is no length it says why.
    """
    result = measured.result
    if isinstance(result, NoAnswer):
        return [f"{request.name}: cannot tell: {worded(result, Audience.COMMAND)}"]
    lines = describe_length(request.name, result)
    moved = [end for end in measured.ends if end.snapped]
    if moved:
        furthest_px = max(end.moved_px for end in moved)
        lines.append(f"  {len(moved)} of 2 points moved to the edge, by {furthest_px:.1f} px at most")
    elif measured.snapped:
        lines.append("  edges found in the photo beside the points")
    lines += _marked(request, measured)
    return [*lines, *(f"  Caution: {text}" for text in all_worded(measured.cautions, Audience.COMMAND))]


def _marked(request: KindRequest, measured: Measured) -> list[str]:
    """Return the line about how well points that stayed as given are known, unless the user stated it."""
    stays = [not end.snapped for end in measured.ends] or [not measured.snapped] * len(measured.std_px)
    stds = [std for std, own in zip(measured.std_px, stays, strict=True) if own]
    if request.choices.click_std_px is not None or not stds:
        return []
    return [f"  points as given count with {max(stds):.2g} px each, by the picture and the edge there"]


def describe_length(name: str, length: Length) -> list[str]:
    """Return the lines that describe a length and the sources of its uncertainty.

    Parameters
    ----------
    name : str
        What to call it.
    length : Length
        In mm.

    Returns
    -------
    list of str
        Value and expanded uncertainty in mm and inches, then the standard uncertainty with the sources that
        matter.
    """
    inches = f"{format_inches(length)}, about {format_fraction(length.value_mm)}"
    return [
        f"{name}: {format_mm(length)}   ({inches}; k = {length.coverage_factor:.2f}, 95 %)",
        f"  standard uncertainty {length.standard_uncertainty_mm:.2g} mm from: {_shares(length)}",
    ]


def _shares(length: Length) -> str:
    least = 0.05 * length.standard_uncertainty_mm
    return ", ".join(f"{line.source} {line.u_mm:.2g}" for line in length.budget if line.u_mm > least)


def differences(
    requests: Sequence[KindRequest], results: Sequence[Measured]
) -> list[tuple[int, str, Length]]:
    """Return each later length minus the first, shared errors cancelling.

    Parameters
    ----------
    requests : sequence of KindRequest
        As asked; the heights of all of them count as one stand-off.
    results : sequence of Measured
        One for each of them.

    Returns
    -------
    list of (int, str, Length)
        Index of the later one, a name, the difference in mm; empty where the first has no length.
    """
    from measure.kinds import measure_difference

    lengths = [
        (place, request.name, measured.result)
        for place, (request, measured) in enumerate(zip(requests, results, strict=True))
        if isinstance(measured.result, Length)
    ]
    if not lengths or lengths[0][0] != 0:
        return []
    _, first_name, first = lengths[0]
    return [
        (place, f"{name} minus {first_name}", measure_difference(length, first, same_standoff=True))
        for place, name, length in lengths[1:]
    ]
