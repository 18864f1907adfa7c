"""Corners of a rectangle to a fraction of a pixel, as intersections of its four fitted sides."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from calibration.cards.geometry import intersect, is_convex
from calibration.cards.proposals import Pixels
from calibration.edges import EdgeFit, fit_edge
from calibration.image import Pyramid
from calibration.objects import ReferenceObject

Array = NDArray[np.float64]

# Per corner coordinate: what the model of a cut edge leaves (own simulation, see `line_fit.INFLATION`).
CORNER_FLOOR_PX = 0.05
# Of a whole side: tone curve, sharpening, a shadow at its foot; they act in proportion to the blur.
_SHIFT_FLOOR_PX = 0.04
_SHIFT_PER_BLUR = 0.08
_CORNER_MARGIN_MM = 1.2
_SCATTERED_PX, _CLOSE_PX, _MOST_OF_A_SIDE = 0.4, 2.0, 0.7


@dataclass(frozen=True, slots=True, eq=False)
class RefinedQuad:
    """Four fitted sides and their intersections, full-resolution px.

    Attributes
    ----------
    corners_px : (4, 2) array
        (x, y), clockwise in the picture.
    cov_px2 : (8, 8) array
        Covariance of x0, y0, x1, y1, ...
    sides : tuple of EdgeFit
        Side i runs from corner i to corner i + 1.
    """

    corners_px: Array
    cov_px2: Array
    sides: tuple[EdgeFit, ...]


def refine_through(
    pyramid: Pyramid, corners_px: Array, kind: ReferenceObject, *, level: int, search_px: float
) -> RefinedQuad | None:
    """Refine on a reduced level, then on the full photo, where the reduced level is much coarser.

    Parameters
    ----------
    pyramid : Pyramid
        The photo.
    corners_px : (4, 2) array
        Full-resolution px; side 0->1 is the object's width.
    kind : ReferenceObject
        For the share of each side that its rounded corners take.
    level : int
        Level to begin on.
    search_px : float
        How far off a corner may be, px of that level.

    Returns
    -------
    RefinedQuad or None
        None where a side is not seen, or where the sides form no outline near the corners given.
    """
    scale = pyramid.scales[level]
    start = refine_quad(pyramid.levels[level], pyramid.to_level(corners_px, level), kind, search_px=search_px)
    if start is None or scale == 1.0:
        return start
    corners = pyramid.to_full(start.corners_px, level)
    # A shadow's edge less than a hundredth of the diagonal from the card's may merge with it there.
    unit_px = float(np.linalg.norm(corners[2] - corners[0])) / 100.0
    narrow_px = max(2.0, 0.8 * scale)
    for reach_px in (max(narrow_px, 0.9 * unit_px), narrow_px):
        fine = refine_quad(pyramid.levels[0], corners, kind, search_px=reach_px)
        # On a patterned ground a wide search may end on a line of the pattern instead of the card's edge.
        if fine is not None:
            return fine
    return None


def refine_quad(
    pixels: Pixels, corners_px: Array, kind: ReferenceObject, *, search_px: float
) -> RefinedQuad | None:
    """Fit the four sides of a rough quadrilateral; None where one of them is not seen, or they do not fit."""
    sides = []
    for index, length_mm in enumerate((kind.width_mm, kind.height_mm) * 2):
        margin = corner_margin(kind, length_mm)
        fit = _fit_side(pixels, corners_px[index], corners_px[(index + 1) % 4], search_px, margin)
        if fit is None:
            return None
        sides.append(fit)
    return assemble(tuple(sides), corners_px)


def _fit_side(pixels: Pixels, start: Array, end: Array, search_px: float, margin: float) -> EdgeFit | None:
    """Fit a side; if the points scatter, look again close by.

    Along one part of it the strongest edge may be the face's, along another the foot's or a shadow's: a line
    through both lies on neither.
    """
    fit = fit_edge(pixels, start, end, search_px=search_px, margins=(margin, margin))
    if fit is None or fit.residual_px < _SCATTERED_PX or search_px <= _CLOSE_PX:
        return fit
    again = fit_edge(pixels, start, end, search_px=_CLOSE_PX, margins=(margin, margin))
    better = again is not None and again.residual_px < 0.5 * fit.residual_px and again.share > _MOST_OF_A_SIDE
    return again if better else fit


def corner_margin(kind: ReferenceObject, length_mm: float) -> float:
    """Return the share of a side at either end that is left out of its fit.

    Parameters
    ----------
    kind : ReferenceObject
        For the radius of its corners.
    length_mm : float
        Length of the side.

    Returns
    -------
    float
        From 0.04 to 0.25.
    """
    return float(np.clip((kind.corner_radius_mm + _CORNER_MARGIN_MM) / length_mm, 0.04, 0.25))


def assemble(sides: tuple[EdgeFit, ...], corners_px: Array) -> RefinedQuad | None:
    """Intersect fitted sides.

    Parameters
    ----------
    sides : tuple of EdgeFit
        Four, in order around the outline.
    corners_px : (4, 2) array
        Rough corners; side i runs from corner i.

    Returns
    -------
    RefinedQuad or None
        Corners with their covariance; None where the sides form no convex quadrilateral, clockwise in the
        picture, near the rough corners.
    """
    starts, ends = np.array([side.start for side in sides]), np.array([side.end for side in sides])
    vectors = ends - starts
    corners = intersect(np.roll(starts, 1, axis=0), np.roll(vectors, 1, axis=0), starts, vectors)
    span = float(np.linalg.norm(vectors, axis=1).max())
    if not is_convex(corners[None])[0] or np.abs(corners - corners_px).max() > 0.2 * span:
        return None
    return RefinedQuad(corners, corner_covariance(sides, corners), sides)


def corner_covariance(sides: tuple[EdgeFit, ...], corners: Array) -> Array:
    """Propagate the sides' covariances to the corners, (8, 8) in px²."""
    jacobian = np.zeros((8, 8))
    full = np.zeros((8, 8))
    normals, directions, lengths = [], [], []
    for index, side in enumerate(sides):
        vector = side.end - side.start
        lengths.append(float(np.linalg.norm(vector)))
        directions.append(vector / lengths[-1])
        normals.append(np.array([directions[-1][1], -directions[-1][0]]))
        shift_px = _SHIFT_FLOOR_PX + _SHIFT_PER_BLUR * side.blur_px
        full[2 * index : 2 * index + 2, 2 * index : 2 * index + 2] = side.offset_cov + shift_px**2
    for index in range(4):
        pair = (index - 1) % 4, index
        inverse = np.linalg.inv(np.stack([normals[pair[0]], normals[pair[1]]]))
        for row, side_index in enumerate(pair):
            side = sides[side_index]
            t = float((corners[index] - side.start) @ directions[side_index]) / lengths[side_index]
            columns = slice(2 * side_index, 2 * side_index + 2)
            jacobian[2 * index : 2 * index + 2, columns] = np.outer(inverse[:, row], [1.0 - t, t])
    return jacobian @ full @ jacobian.T + CORNER_FLOOR_PX**2 * np.eye(8)
