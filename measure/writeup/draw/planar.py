"""Flat geometry of the drawings: hulls, boxes and whether two convex shapes overlap; all in pixels."""

import numpy as np
from numpy.typing import NDArray

Points = NDArray[np.float64]


def hull(points_px: Points) -> Points:
    """Return the convex hull of points.

    Parameters
    ----------
    points_px : (N, 2) array, px
        At least one point.

    Returns
    -------
    (M, 2) array, px
        In order around the hull; one or two points if they have no area.
    """
    unique = np.unique(np.asarray(points_px, float).reshape(-1, 2), axis=0)
    if len(unique) < 3:
        return unique
    lower, upper = _chain(unique), _chain(unique[::-1])
    return np.array(lower[:-1] + upper[:-1])


def _chain(points: Points) -> list[Points]:
    # Andrew's monotone chain.
    kept: list[Points] = []
    for point in points:
        while len(kept) > 1 and _cross(kept[-2], kept[-1], point) <= 0.0:
            kept.pop()
        kept.append(point)
    return kept


def _cross(a: Points, b: Points, c: Points) -> float:
    return float((b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0]))


def grown(shape_px: Points, by_px: float) -> Points:
    """Return the hull of a convex shape widened by `by_px` on every side."""
    turn = np.linspace(0.0, 2.0 * np.pi, 8, endpoint=False) + np.pi / 8
    ring = by_px / np.cos(np.pi / 8) * np.column_stack([np.cos(turn), np.sin(turn)])
    return hull((np.asarray(shape_px, float)[:, None, :] + ring[None, :, :]).reshape(-1, 2))


def box(centre_px: Points, width_px: float, height_px: float) -> Points:
    """Return the corners of an upright rectangle about a centre, (4, 2), px."""
    half = np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]]) * [width_px / 2.0, height_px / 2.0]
    return np.asarray(np.asarray(centre_px, float) + half)


def strip(start_px: Points, end_px: Points, width_px: float) -> Points:
    """Return the rectangle of a line of some width, (4, 2), px."""
    return grown(np.array([start_px, end_px]), width_px / 2.0)


def overlap(first_px: Points, second_px: Points) -> bool:
    """Tell whether two convex shapes overlap; touching doesn't count.

    Notes
    -----
    Separating axes: two convex shapes are apart exactly where some edge normal tells them apart.
    """
    for shape in (first_px, second_px):
        edges = np.roll(shape, -1, axis=0) - shape
        normals = np.column_stack([-edges[:, 1], edges[:, 0]])
        one, two = first_px @ normals.T, second_px @ normals.T
        apart = (one.max(axis=0) <= two.min(axis=0) + 1e-9) | (two.max(axis=0) <= one.min(axis=0) + 1e-9)
        lengths = np.hypot(normals[:, 0], normals[:, 1])
        if bool(np.any(apart & (lengths > 1e-9))):
            return False
    return True


def inside(shape_px: Points, width_px: float, height_px: float, margin_px: float = 0.0) -> bool:
    """Tell whether a shape lies within the frame of a picture, at least `margin_px` from its border."""
    low, high = shape_px.min(axis=0), shape_px.max(axis=0)
    return bool(
        low.min() >= margin_px and high[0] <= width_px - margin_px and high[1] <= height_px - margin_px
    )
