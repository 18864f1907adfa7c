"""The two edges of a gap, found in the photo beside rough clicks."""

from dataclasses import replace
from math import hypot
from typing import TYPE_CHECKING

import numpy as np

from calibration.camera import Array
from calibration.edges import edge_direction, fit_edge, hidden_px, softness_px
from measure.errors import SpanError
from measure.kinds.gap import MarkedEdge, clicked_edge

if TYPE_CHECKING:
    from calibration.image import Photo

# A fit must see the edge along this share of the section between the clicks.
_LEAST_SHARE = 0.5
# Neighbouring edges, shadows and halos: no fit is trusted further than this per end.
_FLOOR_PX = 0.1


def edges_of_gap(
    photo: "Photo", points_px: Array, *, snap: bool, click_std_px: float, px_per_mm: float = 0.0
) -> tuple[MarkedEdge, MarkedEdge]:
    """Return the edges that two or four points mark.

    Parameters
    ----------
    photo : Photo
        The photo.
    points_px : (2, 2) or (4, 2) array
        One point on each edge, or two on the first and two on the second.
    snap : bool
        Whether to look for the edges; with one point on each it is needed.
    click_std_px : float
        Standard uncertainty of each coordinate of a point.
    px_per_mm : float
        Scale there, by which a rounded edge's shade counts; 0 for edges that are cut sharp.

    Raises
    ------
    SpanError
        Three points, or one on each edge without a clear edge there.
    """
    if len(points_px) == 3:
        raise SpanError("a gap needs one point on each edge, or two on each; three given")
    if len(points_px) == 4:
        one, other = (_edge(photo, pair, snap, click_std_px) for pair in (points_px[:2], points_px[2:]))
        return _shaped(photo, one, px_per_mm), _shaped(photo, other, px_per_mm)
    if not snap:
        raise SpanError("a gap without looking for edges needs four points, two on each edge")
    found = [_through(photo, point, other) for point, other in (points_px, points_px[::-1])]
    return _shaped(photo, found[0], px_per_mm), _shaped(photo, found[1], px_per_mm)


def _shaped(photo: "Photo", edge: MarkedEdge, px_per_mm: float) -> MarkedEdge:
    """Return the edge with the uncertainty, shared by both ends, of where the outline is beside it."""
    if not edge.fitted or px_per_mm <= 0.0:
        return edge
    std_px = hypot(softness_px(photo.pixels_bgr, *edge.ends_px), hidden_px(px_per_mm))
    return replace(edge, across_cov_px2=edge.across_cov_px2 + std_px**2 * np.ones((2, 2)))


def _edge(photo: "Photo", ends: Array, snap: bool, click_std_px: float) -> MarkedEdge:
    if not snap:
        return clicked_edge(ends, click_std_px)
    fit = fit_edge(photo.pixels_bgr, ends[0], ends[1], search_px=max(3.0, 3.0 * click_std_px))
    if fit is None or fit.share < _LEAST_SHARE:
        return clicked_edge(ends, click_std_px)
    return MarkedEdge(np.stack([fit.start, fit.end]), fit.offset_cov + _FLOOR_PX**2 * np.eye(2), fitted=True)


def _through(photo: "Photo", point: Array, other: Array) -> MarkedEdge:
    """Return the edge beside a point, roughly across the line to the other point."""
    reach_px = float(np.clip(0.15 * np.linalg.norm(other - point), 10.0, 60.0))
    direction = edge_direction(photo.pixels_bgr, point, other - point, reach_px=min(reach_px, 16.0))
    if direction is not None:
        ends = np.stack([point - reach_px * direction, point + reach_px * direction])
        fit = fit_edge(photo.pixels_bgr, ends[0], ends[1], search_px=5.0)
        if fit is not None and fit.share >= _LEAST_SHARE:
            cov = fit.offset_cov + _FLOOR_PX**2 * np.eye(2)
            return MarkedEdge(np.stack([fit.start, fit.end]), cov, fitted=True)
    x, y = point
    raise SpanError(
        f"no clear straight edge beside ({x:.0f}, {y:.0f}) px: mark two points on each edge instead"
    )
