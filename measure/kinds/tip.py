"""The tip: the radius of a rounded corner, sharp against rounded."""

from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import ArrayLike

from calibration.camera import Array
from calibration.cautions import NoAnswer
from calibration.edges import CornerRadius, find_corner_radius
from calibration.plane import Plane
from measure.cautions import NoLengthCode
from measure.length import EDGE, STANDOFF, Length, OwnInput, checked_standoff, points_of, propagated

if TYPE_CHECKING:
    from calibration.image import Photo

# Expanded uncertainty up to which a radius distinguishes sharp (below 1 mm) from rounded (above 2 mm).
NEEDED_MM = 1.0


def measure_tip(
    photo: "Photo",
    plane: Plane,
    clicks_px: ArrayLike,
    *,
    standoff_mm: float = 0.0,
    standoff_std_mm: float | None = None,
    photo_id: str = "photo",
    span_id: str | None = None,
) -> Length | NoAnswer:
    """Measure the radius of a rounded corner between two straight sides.

    Parameters
    ----------
    photo : Photo
        The photo.
    plane : Plane
        Of the reference.
    clicks_px : (N, 2) array
        At least four points in order around the corner: two on each straight side.
    standoff_mm, standoff_std_mm : float
        Height of the corner above the reference's face, and its standard uncertainty.
    photo_id, span_id : str
        Name the inputs.

    Returns
    -------
    Length or NoAnswer
        The radius; or why the photo doesn't tell it.

    Raises
    ------
    SpanError, GeometryError
        Fewer than four points, or sides that make no corner.
    """
    points = points_of(clicks_px, 4, "a tip")
    height, std_mm = checked_standoff(plane, standoff_mm, standoff_std_mm)
    found = find_corner_radius(photo.pixels_bgr, plane, points, standoff_mm=height)
    if isinstance(found, NoAnswer):
        return found
    name = span_id or "tip-" + "-".join(f"{number:.2f}" for number in points.ravel())
    length = _length(plane, found, height, std_mm, (photo_id, name))
    if length.expanded_uncertainty_mm > NEEDED_MM:
        scale = plane.scale_mm_per_px(found.vertex_px, height)
        return NoAnswer.of(
            NoLengthCode.RADIUS_VAGUE,
            px_per_mm=1.0 / scale,
            blur_px=found.blur_px,
            expanded_mm=length.expanded_uncertainty_mm,
            needed_mm=NEEDED_MM,
        )
    return length


def _length(
    plane: Plane, found: CornerRadius, height: float, std_mm: float, names: tuple[str, str]
) -> Length:
    # A few pixels across the corner carry the scale's errors over to the radius.
    x, y = found.vertex_px
    across = np.array([[x - 5.0, y], [x + 5.0, y], [x, y - 5.0], [x, y + 5.0]])
    own_mm = max(found.radius_mm - found.low_mm, found.high_mm - found.radius_mm) / 1.96

    def values(shared: Array, own: Array) -> Array:
        spots = plane.to_mm_spread(shared, across[None], (height + std_mm * own[:, 1])[:, None])
        one, other = spots[:, 1] - spots[:, 0], spots[:, 3] - spots[:, 2]
        scale = np.sqrt(np.abs(one[:, 0] * other[:, 1] - one[:, 1] * other[:, 0])) / 10.0
        nominal = plane.scale_mm_per_px(found.vertex_px, height)
        return np.asarray(found.radius_mm * scale / nominal + own_mm * own[:, 0])

    own = [OwnInput("rounding", EDGE), OwnInput("standoff", STANDOFF)]
    return propagated(plane, values, own, photo_id=names[0], name=names[1])
