"""Plane geometry of four corners, and which known rectangle they can be a view of."""

from calibration.cards.geometry.quadrilateral import (
    apply_homography,
    clockwise,
    homography,
    intersect,
    is_convex,
    plane_axes,
    rectangle_corners,
    rectangle_shape,
)
from calibration.cards.geometry.rectangle_view import (
    ASSUMED_FROM,
    KindFit,
    aspect_errors,
    fit_kinds,
    shape_log_likelihoods,
)

__all__ = [
    "ASSUMED_FROM",
    "KindFit",
    "apply_homography",
    "aspect_errors",
    "clockwise",
    "fit_kinds",
    "homography",
    "intersect",
    "is_convex",
    "plane_axes",
    "rectangle_corners",
    "rectangle_shape",
    "shape_log_likelihoods",
]
