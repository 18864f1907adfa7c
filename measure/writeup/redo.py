"""Redoes a record's lengths from its points, or from its photos, to compare them with what it says."""

from math import hypot
from typing import TYPE_CHECKING

import numpy as np

from measure.length import Length
from measure.specimen import MeasurementEntry, Point

if TYPE_CHECKING:
    from calibration.photo import Photo
    from calibration.plane import Plane


def measured_again(
    entry: MeasurementEntry, plane: "Plane", photo: "Photo | None", photo_id: str, record: str = ""
) -> Length | None:
    """Measure an entry again as it was measured.

    Parameters
    ----------
    entry : MeasurementEntry
        Points, stand-offs and uncertainties of the points.
    plane : Plane
        Of its photo.
    photo : Photo or None
        The photo; a span can be redone without it.
    photo_id : str
        Names the inputs that the lengths of one photo share.
    record : str
        Tells the clicks of one record from those of another on the same photo.

    Returns
    -------
    Length or None
        None where the photo is needed and isn't there, or where the photo gives no length.

    Raises
    ------
    SpanError, GeometryError
        The record's points make no such length.
    """
    if entry.kind == "span":
        return _span(entry, plane, photo_id, record)
    if entry.kind == "difference" or photo is None:
        return None
    from measure.kinds import Choices, measure_kind
    from measure.span import CLICK_STD_PX

    how = Choices(
        snap=entry.snap,
        click_std_px=entry.click_std_px[0] if entry.click_std_px else CLICK_STD_PX,
        standoff_mm=float(np.mean(entry.standoff_mm)),
        standoff_std_mm=entry.standoff_std_mm,
        photo_id=photo_id,
        span_id=f"{record}:{photo_id}:{entry.id}",
    )
    found = measure_kind(entry.kind, photo, plane, entry.clicks_px, how).result
    return found if isinstance(found, Length) else None


def _span(entry: MeasurementEntry, plane: "Plane", photo_id: str, record: str) -> Length:
    from measure.span import CLICK_STD_PX, measure_span

    heights = entry.standoff_mm
    stds = entry.click_std_px
    return measure_span(
        plane,
        entry.used_px or entry.clicks_px,
        standoff_mm=heights[0] if len(heights) == 1 else heights[:2],
        standoff_std_mm=entry.standoff_std_mm,
        click_std_px=stds if len(stds) == 2 else (stds[0] if stds else CLICK_STD_PX),
        photo_id=photo_id,
        span_id=f"{record}:{photo_id}:{entry.id}",
    )


def moved_by_px(entry: MeasurementEntry, photo: "Photo") -> float:
    """Return how far the points of a span lie from where the photo's edges put them now, at most."""
    from measure.snapping import snap_span

    if entry.kind != "span" or not entry.snap or len(entry.clicks_px) != 2 or len(entry.used_px) != 2:
        return 0.0
    clicks: tuple[Point, Point] = (entry.clicks_px[0], entry.clicks_px[1])
    again = snap_span(photo, clicks, snap=True, click_std_px=1.0)
    return max(
        hypot(spot.used_px[0] - used[0], spot.used_px[1] - used[1])
        for spot, used in zip(again, entry.used_px, strict=True)
    )
