"""A candidate seen from straight above: parallel edges beside its sides, and the shape of its corners."""

from dataclasses import dataclass
from functools import lru_cache

import cv2
import numpy as np
from numpy.typing import NDArray

from calibration.cards.geometry import apply_homography, homography, intersect, rectangle_corners
from calibration.cards.proposals import strongest_gradient
from calibration.edges import median
from calibration.image import Pyramid
from calibration.objects import CARD_OBJECTS, ReferenceObject

Array = NDArray[np.float64]
Floats = NDArray[np.float32]

# Lengths on the patch are in units of a hundredth of the object's diagonal: about 1 mm on a bank card.
PX_PER_UNIT = 4.0
MARGIN_UNITS = 8.0
_OUTSIDE_UNITS, _INSIDE_UNITS = 7.0, 4.0
_SHEARS_UNITS = np.linspace(-1.0, 1.0, 9)
_OFFSETS_PX = np.arange(-_OUTSIDE_UNITS * PX_PER_UNIT, _INSIDE_UNITS * PX_PER_UNIT + 1.0)
_SHARP_TEST_RADIUS_UNITS = 3.2


@dataclass(frozen=True, slots=True, eq=False)
class Patch:
    """Gradient of the rectified surroundings of a candidate.

    Attributes
    ----------
    gx, gy : (H, W) arrays
        Slope of the strongest colour channel, grey levels per patch px.
    threshold : float
        Least slope taken as an edge.
    to_photo : (3, 3) array
        Homography from patch px to full-resolution px.
    kind : ReferenceObject
        What the candidate is taken for.
    cut : (4,) array of bool
        Corners of which only the sharp tip lies outside the photo: their shape can't be judged.
    """

    gx: Floats
    gy: Floats
    threshold: float
    to_photo: Array
    kind: ReferenceObject
    cut: NDArray[np.bool_]

    @property
    def unit_mm(self) -> float:
        """Length of one unit."""
        return self.kind.diagonal_mm / 100.0


@dataclass(frozen=True, slots=True, eq=False)
class SideLines:
    """Parallel edges found near one side.

    Attributes
    ----------
    ends : (K, 2, 2) array
        Start and end of each on the patch, px, at the rectangle's ends.
    share : (K,) array
        Part of each along which an edge is seen.
    outward_units : (K,) array
        How far each lies outside the candidate's side, at its middle.
    """

    ends: Array
    share: Array
    outward_units: Array


def rectify(pyramid: Pyramid, corners_px: Array, kind: ReferenceObject) -> Patch:
    """Rectify a candidate and its surroundings, and take the gradient there.

    Parameters
    ----------
    pyramid : Pyramid
        The photo.
    corners_px : (4, 2) array
        Full-resolution px, clockwise in the picture, side 0->1 the object's width.
    kind : ReferenceObject
        What the candidate is taken for.

    Returns
    -------
    Patch
        The candidate seen from straight above, with `MARGIN_UNITS` around it, at `PX_PER_UNIT`.
    """
    unit = kind.diagonal_mm / 100.0
    width, height = kind.width_mm / unit, kind.height_mm / unit
    on_patch = (rectangle_corners(width, height) + MARGIN_UNITS) * PX_PER_UNIT
    size = np.rint((np.array([width, height]) + 2.0 * MARGIN_UNITS) * PX_PER_UNIT).astype(int) + 1
    diagonal_px = float(np.linalg.norm(corners_px[2] - corners_px[0]))
    level = pyramid.level_for(diagonal_px / 100.0 / (0.75 * PX_PER_UNIT))
    matrix = homography(on_patch, pyramid.to_level(corners_px, level))
    picture = cv2.warpPerspective(
        pyramid.levels[level],
        matrix,
        (int(size[0]), int(size[1])),
        flags=cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP,
        borderMode=cv2.BORDER_REPLICATE,
    )
    soft = cv2.GaussianBlur(np.asarray(picture, dtype=np.uint8), (0, 0), 0.7)
    gx, gy = strongest_gradient(np.asarray(soft, dtype=np.uint8))
    usual = median(np.hypot(gx[::3, ::3], gy[::3, ::3]).ravel())
    threshold = min(max(1.6 * usual, 1.5), 20.0)
    size_px = np.array(pyramid.levels[0].shape[1::-1])
    outside_px = np.maximum(-corners_px, corners_px - size_px + 1.0).max(axis=1)
    # The material of a rounded corner ends three tenths of its radius short of the sharp one.
    rounding_px = 0.3 * kind.corner_radius_mm * diagonal_px / kind.diagonal_mm
    cut = np.asarray((outside_px > 0.0) & (outside_px < rounding_px))
    return Patch(gx, gy, threshold, homography(on_patch, corners_px), kind, cut)


def side_lines(patch: Patch, side: int, *, most: int = 4) -> SideLines:
    """Find edges parallel to a side.

    Parameters
    ----------
    patch : Patch
        The rectified candidate.
    side : int
        0 top, 1 right, 2 bottom, 3 left.
    most : int
        Upper limit of the edges returned.

    Returns
    -------
    SideLines
        Strongest first, but for the edge nearest the candidate's own side, which comes first of all.
    """
    across, along = (patch.gy, patch.gx) if side % 2 == 0 else (patch.gx, patch.gy)
    depth = int((MARGIN_UNITS + _INSIDE_UNITS + 2.0) * PX_PER_UNIT)
    strip, beside = (np.abs(np.rot90(slope, side)[:depth]) for slope in (across, along))
    turned = np.where(strip > 1.73 * beside, strip, np.float32(0.0))
    length = (turned.shape[1] - 1) / PX_PER_UNIT - 2.0 * MARGIN_UNITS
    radius = patch.kind.corner_radius_mm / patch.unit_mm
    inset = max(radius + 1.0, 0.06 * length)
    values = turned.ravel().take(_probes(length, inset, turned.shape))
    share = np.count_nonzero(values > patch.threshold, axis=2) / values.shape[2]
    response = _smooth(np.minimum(values, 4.0 * patch.threshold).mean(axis=2))
    picked = _local_maxima(response, share, _OFFSETS_PX, most)
    found = [(float(_OFFSETS_PX[i]), float(_SHEARS_UNITS[k]), float(share[i].max())) for i, k in picked]
    return _as_lines(patch, side, turned.shape[1], found)


@lru_cache(maxsize=16)
def _probes(length_units: float, inset_units: float, shape: tuple[int, int]) -> NDArray[np.intp]:
    """Return flat indices, (offsets, shears, places), into a strip beside a side; few shapes come again."""
    places = np.linspace(inset_units, length_units - inset_units, 72)
    columns = np.clip(np.rint((places + MARGIN_UNITS) * PX_PER_UNIT).astype(np.intp), 0, shape[1] - 1)
    shear = _SHEARS_UNITS[:, None] * PX_PER_UNIT * (places / length_units - 0.5)[None, :] * 2.0
    rows = np.rint(MARGIN_UNITS * PX_PER_UNIT + _OFFSETS_PX[:, None, None] + shear[None]).astype(np.intp)
    indices = np.clip(rows, 0, shape[0] - 1) * shape[1] + columns
    indices.setflags(write=False)
    return np.asarray(indices)


def _smooth(response: Array) -> Array:
    """Smooth over offset and shear, so that the middle of an edge wider than a pixel is its maximum."""
    soft = cv2.sepFilter2D(
        response, -1, np.array([1.0, 2.0, 1.0]) / 4.0, np.array([1.0, 2.0, 3.0, 2.0, 1.0]) / 9.0
    )
    return np.asarray(soft, dtype=np.float64)


def _local_maxima(response: Array, share: Array, offsets: Array, most: int) -> list[tuple[int, int]]:
    """Pick separate maxima (offset, shear); the one nearest the candidate's own side is always among them."""
    score = response.max(axis=1)
    near = np.abs(offsets) <= 3.0
    own = int(np.flatnonzero(near)[score[near].argmax()])
    chosen = [own]
    # The flank of a wide edge isn't an edge of its own: a line must be the strongest within half a unit.
    highest = cv2.dilate(score.reshape(-1, 1), np.ones((5, 1), np.uint8)).ravel()
    peaks = np.flatnonzero((score >= highest) & (share.max(axis=1) > 0.3))
    for index in peaks[np.argsort(-score[peaks])]:
        if len(chosen) >= most:
            break
        if all(abs(index - other) >= 3 for other in chosen):
            chosen.append(int(index))
    return [(index, int(response[index].argmax())) for index in chosen]


def _as_lines(patch: Patch, side: int, across_px: int, found: list[tuple[float, float, float]]) -> SideLines:
    """Turn lines (offset px, shear units, share) found with a side laid on top back to where the side is."""
    base = MARGIN_UNITS * PX_PER_UNIT
    ends = []
    for offset, shear_units, _ in found:
        row, shear = base + offset, shear_units * PX_PER_UNIT
        ends.append([[base, row - shear], [across_px - 1 - base, row + shear]])
    points = np.array(ends)
    height, width = patch.gx.shape
    x, y = points[..., 0].copy(), points[..., 1].copy()
    if side == 1:
        points = np.stack([width - 1 - y, x], axis=-1)
    elif side == 2:
        points = np.stack([width - 1 - x, height - 1 - y], axis=-1)
    elif side == 3:
        points = np.stack([y, height - 1 - x], axis=-1)
    outward = np.array([-offset / PX_PER_UNIT for offset, _, _ in found])
    return SideLines(points, np.array([share for *_, share in found]), outward)


@dataclass(frozen=True, slots=True, eq=False)
class OwnSupport:
    """What is seen of a candidate's outline on its patch.

    Attributes
    ----------
    edge_support, shapes : (4,) arrays
        Share of each side that has an edge on it; likeness of each corner to the object's (`corner_shapes`).
    beyond : float
        Share of the sides' continuations past the corners that has an edge too: true corners end both sides.
    """

    edge_support: Array
    shapes: Array
    beyond: float


def own_support(patch: Patch) -> OwnSupport:
    """Look along the candidate's own sides, past their ends, and at its corners.

    Parameters
    ----------
    patch : Patch
        The rectified candidate.

    Returns
    -------
    OwnSupport
        What is seen there, in the order of the patch's sides and corners.
    """
    unit = patch.unit_mm
    flat = rectangle_corners(patch.kind.width_mm / unit, patch.kind.height_mm / unit)
    corners = (flat + MARGIN_UNITS) * PX_PER_UNIT
    following = np.roll(corners, -1, axis=0)
    length = np.linalg.norm(following - corners, axis=1, keepdims=True) / PX_PER_UNIT
    inset = np.maximum(patch.kind.corner_radius_mm / unit + 1.0, 0.06 * length) / length
    at = inset + (1.0 - 2.0 * inset) * np.linspace(0.0, 1.0, 60)
    past = np.linspace(1.5, 6.5, 11) / length
    normals = np.array([[0.0, -1.0], [1.0, 0.0], [0.0, 1.0], [-1.0, 0.0]])[:, None]

    def share_with_edge(places: Array) -> Array:
        points = corners[:, None] + places[..., None] * (following - corners)[:, None]
        return _edge_support(patch, points, np.broadcast_to(normals, points.shape), 1.2)

    sides = np.stack([corners, following], axis=1)
    shapes = corner_shapes(patch, np.roll(sides, 1, axis=0), sides)
    if patch.cut.any() and not patch.cut.all():
        shapes[patch.cut] = shapes[~patch.cut].mean()
    return OwnSupport(
        share_with_edge(at),
        shapes,
        float(share_with_edge(np.concatenate([-past, 1.0 + past], axis=1)).mean()),
    )


def corner_shapes(patch: Patch, before: Array, after: Array) -> Array:
    """Judge corners between sides as the object's own shape: 1 like it, -1 its opposite.

    Parameters
    ----------
    patch : Patch
        The surroundings.
    before, after : (N, 2, 2) arrays
        Start and end, patch px, of the sides that end and begin at each corner.

    Returns
    -------
    (N,) array
        Share of the object's corner seen as an edge minus that of the opposite shape: for a rounded corner,
        its arc minus the straight sides prolonged into the corner; for a sharp one the reverse. Where the
        object's radius is unknown, the greater of both.
    """
    radius = patch.kind.corner_radius_mm / patch.unit_mm
    arc, straight = _corner_edges(patch, before, after, radius or _SHARP_TEST_RADIUS_UNITS)
    if radius > 0.0:
        return arc - straight
    if patch.kind in CARD_OBJECTS:
        return straight - arc
    return np.abs(straight - arc)


def _corner_edges(patch: Patch, before: Array, after: Array, radius_units: float) -> tuple[Array, Array]:
    back = before[:, 0] - before[:, 1]
    ahead = after[:, 1] - after[:, 0]
    corner = intersect(before[:, 0], back, after[:, 0], ahead)[:, None]
    back = (back / np.linalg.norm(back, axis=1, keepdims=True))[:, None]
    ahead = (ahead / np.linalg.norm(ahead, axis=1, keepdims=True))[:, None]
    radius = radius_units * PX_PER_UNIT
    angle = np.radians(np.linspace(12.0, 78.0, 12))[None, :, None]
    outward = -(np.cos(angle) * back + np.sin(angle) * ahead)
    arc = corner + radius * (back + ahead + outward)
    # Where the object's own corner is sharp, a longer stretch of it is examined: sheets bow and fold.
    near, far, reach_px = (0.15, 1.1, 0.9) if patch.kind.corner_radius_mm > 0.0 else (0.3, 1.8, 1.4)
    steps = (np.linspace(near, far, 6) * PX_PER_UNIT)[None, :, None]
    on_sides = np.concatenate([corner + steps * back, corner + steps * ahead], axis=1)
    across = np.concatenate(
        [np.broadcast_to(ahead, (len(corner), 6, 2)), np.broadcast_to(back, (len(corner), 6, 2))], axis=1
    )
    return _edge_support(patch, arc, outward, 1.3), _edge_support(patch, on_sides, across, reach_px)


def _edge_support(patch: Patch, points: Array, normals: Array, reach_px: float) -> Array:
    """Share of points, (N, M, 2), with an edge across their normal within the reach."""
    shifted = points[..., None, :] + np.array([-1.0, 0.0, 1.0])[:, None] * reach_px * normals[..., None, :]
    column = np.rint(shifted[..., 0]).astype(np.intp)
    row = np.rint(shifted[..., 1]).astype(np.intp)
    height, width = patch.gx.shape
    inside = (column >= 0) & (row >= 0) & (column < width) & (row < height)
    column, row = np.where(inside, column, 0), np.where(inside, row, 0)
    gx, gy = patch.gx[row, column], patch.gy[row, column]
    along_normal = np.abs(gx * normals[..., None, 0] + gy * normals[..., None, 1])
    edge = inside & (along_normal > patch.threshold) & (along_normal > 0.85 * np.hypot(gx, gy))
    return np.asarray(edge.any(axis=2).mean(axis=1))


def corners_in_photo(patch: Patch, corners: Array) -> Array:
    """Return points of a patch in the photo.

    Parameters
    ----------
    patch : Patch
        The rectified candidate.
    corners : (..., 2) array
        Points (x, y), patch px.

    Returns
    -------
    (..., 2) array
        The same points, full-resolution px.
    """
    return apply_homography(patch.to_photo, corners)
