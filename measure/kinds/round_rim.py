"""The rim of a round object, found in the photo beside rough clicks."""

from typing import TYPE_CHECKING

import numpy as np

from calibration.camera import Array
from calibration.edges import Rim, find_rim, fit_ellipse
from calibration.errors import GeometryError
from calibration.plane import Plane
from measure.kinds.round import fit_circle

if TYPE_CHECKING:
    from calibration.image import Photo


def rim_of_round(photo: "Photo", plane: Plane, points_px: Array, standoff_mm: float) -> Rim | None:
    """Return the rim beside the points, or None if none is clear.

    Parameters
    ----------
    photo : Photo
        The photo.
    plane : Plane
        Of the reference: three points suffice because the circle is a circle there.
    points_px : (N, 2) array
        At least three points near the rim.
    standoff_mm : float
        Height of the rim.

    Raises
    ------
    SpanError
        The points lie on one line.
    """
    circle = fit_circle(plane.to_mm(points_px, standoff_mm))
    phases = np.linspace(0.0, 2.0 * np.pi, 48, endpoint=False)
    outline = circle.centre_mm + circle.radius_mm * np.column_stack([np.cos(phases), np.sin(phases)])
    try:
        rim = find_rim(photo.pixels_bgr, fit_ellipse(plane.to_px(outline, standoff_mm)))
    except GeometryError:
        return None
    if rim is None:
        return None
    # A neighbouring rim, such as an inner ring or a shadow, was not meant.
    off_px = np.abs(rim.ellipse.distances(points_px))
    return rim if float(np.median(off_px)) < max(4.0, 0.03 * rim.ellipse.semi_axes_px[0]) else None
