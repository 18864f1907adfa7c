"""From requested points to measured spans: snapping, the length, what to say of it."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from measure.kind_planes import Scale, measure_by
from measure.kinds import Choices
from measure.length import Length
from measure.snapping import UsedPoint
from measure.span_requests import SpanRequest
from measure.units import format_fraction, format_inches, format_mm

if TYPE_CHECKING:
    from calibration.photo import Photo
    from calibration.plane import Plane
    from calibration.weak_plane import PlaneFamily


@dataclass(frozen=True, slots=True)
class MeasuredSpan:
    """A span as asked for, the points used, its length and the cautions about it."""

    request: SpanRequest
    points: tuple[UsedPoint, UsedPoint]
    length: Length
    cautions: tuple[str, ...]


def measure_requests(
    photo: "Photo",
    plane: "Plane",
    requests: Sequence[SpanRequest],
    *,
    snap: bool,
    click_std_px: float,
    family: "PlaneFamily | None" = None,
) -> list[MeasuredSpan]:
    """Measure spans on one plane, or on all of a family; with `snap`, ends move to the edge beside them.

    Raises
    ------
    SpanError, GeometryError
        A span that can't be measured; the message starts with its name.
    """
    return [
        _measure(photo, plane, request, snap=snap, click_std_px=click_std_px, family=family)
        for request in requests
    ]


def _measure(
    photo: "Photo",
    plane: "Plane",
    request: SpanRequest,
    *,
    snap: bool,
    click_std_px: float,
    family: "PlaneFamily | None",
) -> MeasuredSpan:
    from calibration.errors import GeometryError
    from measure.errors import SpanError

    how = Choices(
        snap=snap,
        click_std_px=click_std_px,
        standoff_mm=request.standoff_mm,
        standoff_std_mm=request.standoff_std_mm,
    )
    try:
        measured = measure_by(Scale(plane, family), "span", photo, request.p_px, how)
    except (GeometryError, SpanError) as error:
        raise type(error)(f"{request.name}: {error}") from error
    assert isinstance(measured.result, Length)
    first, second = measured.ends
    return MeasuredSpan(request, (first, second), measured.result, measured.cautions)


def span_json(item: MeasuredSpan) -> dict[str, Any]:
    """Return one span as JSON values."""
    length, height = item.length, item.request.standoff_mm
    return {
        "name": item.request.name,
        "p_px": [list(point) for point in item.request.p_px],
        "used_px": [list(point.used_px) for point in item.points],
        "snapped": [point.snapped for point in item.points],
        "standoff_mm": list(height) if isinstance(height, tuple) else height,
        "length_mm": length.value_mm,
        "standard_uncertainty_mm": length.standard_uncertainty_mm,
        "expanded_uncertainty_mm": length.expanded_uncertainty_mm,
        "coverage_factor": length.coverage_factor,
        "coverage_probability": 0.95,
        "budget": [
            {"source": line.source, "u_mm": line.u_mm, "shared": line.shared} for line in length.budget
        ],
        "cautions": list(item.cautions),
    }


def describe_span(item: MeasuredSpan) -> list[str]:
    """Return the lines that tell a person a span's length, its budget and cautions."""
    length = item.length
    inches = f"{format_inches(length)}, about {format_fraction(length.value_mm)}"
    lines = [f"{item.request.name}: {format_mm(length)}   ({inches}; k = {length.coverage_factor:.2f}, 95 %)"]
    shown = [
        f"{line.source} {line.u_mm:.2g}"
        for line in length.budget
        if line.u_mm > 0.05 * length.standard_uncertainty_mm
    ]
    lines.append(f"  standard uncertainty {length.standard_uncertainty_mm:.2g} mm from: {', '.join(shown)}")
    moved = [point for point in item.points if point.snapped]
    if moved:
        furthest_px = max(point.moved_px for point in moved)
        lines.append(f"  {len(moved)} of 2 points moved to the edge, by {furthest_px:.1f} px at most")
    lines += [f"  Caution: {text}" for text in item.cautions]
    return lines
