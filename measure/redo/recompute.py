"""Recomputes a record's lengths from its points or photos, to compare them with the recorded ones."""

from math import hypot
from typing import TYPE_CHECKING

from measure.length import Length
from measure.record import MeasurementEntry, Point
from measure.redo.measurement_entries import measured_entry

if TYPE_CHECKING:
    from calibration.image import Photo
    from calibration.plane import Plane
    from measure.kinds import Scale


def measured_again(
    entry: MeasurementEntry, scale: "Scale", photo: "Photo | None", photo_id: str, record: str = ""
) -> Length | None:
    """Measure an entry again as it was measured.

    Parameters
    ----------
    entry : MeasurementEntry
        Points, stand-offs and uncertainties of the points.
    scale : Scale
        What its photo is measured by.
    photo : Photo or None
        The photo; a span can be redone without it.
    photo_id : str
        Names the inputs that the lengths of one photo share.
    record : str
        Distinguishes the clicks of one record from those of another on the same photo.

    Returns
    -------
    Length or None
        None if the photo is needed but missing, or if it gives no length.

    Raises
    ------
    SpanError, GeometryError
        The record's points make no such length.
    """
    name = f"{record}:{photo_id}:{entry.id}"
    if entry.kind == "span":
        return _span(entry, scale, photo_id, name)
    if entry.kind == "difference" or photo is None:
        return None
    from measure.kinds import CLICK_STD_PX

    std_px = entry.click_std_px[0] if entry.click_std_px else CLICK_STD_PX
    _, found = measured_entry(entry, scale, photo, click_std_px=std_px, photo_name=photo_id, span_name=name)
    return found.result if isinstance(found.result, Length) else None


def _span(entry: MeasurementEntry, scale: "Scale", photo_id: str, name: str) -> Length:
    from measure.kinds import CLICK_STD_PX, measure_span, over_family

    heights, stds = entry.standoff_mm, entry.click_std_px

    def on(plane: "Plane") -> Length:
        return measure_span(
            plane,
            entry.used_px or entry.clicks_px,
            standoff_mm=heights[0] if len(heights) == 1 else heights[:2],
            standoff_std_mm=entry.standoff_std_mm,
            click_std_px=stds if len(stds) == 2 else (stds[0] if stds else CLICK_STD_PX),
            on_edge=_on_edge(entry),
            photo_id=photo_id,
            span_id=name,
        )

    return on(scale.plane) if scale.family is None else over_family(scale.family, on, photo_id=photo_id)


def _on_edge(entry: MeasurementEntry) -> tuple[bool, bool]:
    """Tell which ends lie on a fitted edge; in older records, which don't say, those that moved."""
    if len(entry.edge_fit) == 2:
        return entry.edge_fit[0], entry.edge_fit[1]
    if not entry.snap or len(entry.used_px) != 2 or len(entry.clicks_px) != 2:
        return False, False
    first, second = (used != clicked for used, clicked in zip(entry.used_px, entry.clicks_px, strict=True))
    return first, second


def moved_by_px(entry: MeasurementEntry, photo: "Photo", plane: "Plane") -> float:
    """Return how far the points of a span lie from where the photo's edges put them now, at most.

    Parameters
    ----------
    entry : MeasurementEntry
        A recorded measurement of any kind.
    photo : Photo
        The photo itself, where edges are looked for.
    plane : Plane
        Its scale at the points tells how a rounded edge's shade counts.

    Returns
    -------
    float
        In px; 0 for other kinds, and for a span that wasn't snapped.
    """
    from measure.kinds import snap_span

    if entry.kind != "span" or not entry.snap or len(entry.clicks_px) != 2 or len(entry.used_px) != 2:
        return 0.0
    clicks: tuple[Point, Point] = (entry.clicks_px[0], entry.clicks_px[1])
    height_mm = sum(entry.standoff_mm) / len(entry.standoff_mm)
    px_per_mm = [1.0 / plane.scale_mm_per_px(point, height_mm) for point in clicks]
    again = snap_span(photo, clicks, snap=True, click_std_px=1.0, px_per_mm=px_per_mm)
    return max(
        hypot(spot.used_px[0] - used[0], spot.used_px[1] - used[1])
        for spot, used in zip(again, entry.used_px, strict=True)
    )
