"""Long smooth edges of a reduced photo, each as one chain of points to a fraction of a pixel."""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.sparse.csgraph import connected_components

Array = NDArray[np.float64]
Whole = NDArray[np.intp]
Pixels = NDArray[np.uint8]
Derivatives = NDArray[np.int16]

# Steps of about 15 grey levels continue an edge, steps of about 40 begin one (3 x 3 Sobel after the blur).
_BLUR_PX, _LOW, _HIGH = 1.0, 40.0, 100.0
# Over so many steps along an edge, a turn by more is a corner.
_TURN_STEPS, _TURN_DEG = 4, 20.0
# Points so close to a corner or a crossing are drawn toward it.
_TRIM_STEPS = 3
# Shortest piece as a share of the picture's diagonal, and how many of the longest count.
_SHORTEST_PIECE, _MOST_PIECES = 0.02, 250
# Pieces of one edge follow one circle: so far off its tangent, and so much turned, at most.
_OFF_DEG, _OFF_PX, _TURNED_DEG = 1.0, 1.0, 15.0
# How much of the border is left out, as a share of the diagonal.
_RIM = 0.01
# The gap between them: in px, or as a share of their lengths together.
_GAP_PX, _GAP_SHARE = 12.0, 0.5


@dataclass(frozen=True, slots=True, eq=False)
class _Pieces:
    """Parts of edges between corners and crossings.

    `first` and `count` say where each one's points lie; the rest are its middle, direction and length.
    """

    points: Array
    first: Whole
    count: Whole
    middle: Array
    along: Array
    length: Array

    def __len__(self) -> int:
        return len(self.first)

    def of(self, index: int) -> Array:
        """Return the points of one."""
        first = self.first[index]
        return self.points[first : first + self.count[index]]


def edge_chains(bgr: Pixels) -> list[Array]:
    """Find the smooth edges of a picture, those interrupted by others joined.

    Parameters
    ----------
    bgr : (H, W, 3) array
        A reduced photo.

    Returns
    -------
    list of (N, 2) arrays
        (x, y) of each edge's points, in no order along it.

    References
    ----------
    Canny, A computational approach to edge detection, IEEE PAMI 8(6), 1986.
    """
    grey = cv2.GaussianBlur(cv2.cvtColor(bgr, cv2.COLOR_BGR2GRAY), (0, 0), _BLUR_PX)
    dx = np.asarray(cv2.Sobel(grey, cv2.CV_16S, 1, 0), dtype=np.int16)
    dy = np.asarray(cv2.Sobel(grey, cv2.CV_16S, 0, 1), dtype=np.int16)
    edges = cv2.Canny(dx, dy, _LOW, _HIGH, L2gradient=True)
    diagonal_px = float(np.hypot(*edges.shape))
    # The picture's own border is no edge of the scene.
    rim = int(np.ceil(_RIM * diagonal_px))
    edges[:rim] = edges[-rim:] = edges[:, :rim] = edges[:, -rim:] = 0
    shortest_px = _SHORTEST_PIECE * diagonal_px
    pixels, runs = _runs(np.asarray(edges, dtype=np.uint8), dx, dy, shortest_px)
    if not len(runs):
        return []
    pieces = _pieces(pixels, runs, dx, dy, shortest_px)
    return _joined(pieces)


def _runs(edges: Pixels, dx: Derivatives, dy: Derivatives, shortest_px: float) -> tuple[Whole, Whole]:
    """Return the pixels (N, 2) of edges in order along them, and first and count of each smooth run."""
    contours = [
        one
        for one in cv2.findContours(edges, cv2.RETR_LIST, cv2.CHAIN_APPROX_NONE)[0]
        if len(one) > shortest_px
    ]
    if not contours:
        return np.zeros((0, 2), dtype=np.intp), np.zeros((0, 2), dtype=np.intp)
    path = np.concatenate(contours)[:, 0].astype(np.intp)
    # A contour passes an open edge on both sides: each pixel counts once.
    once = np.zeros(len(path), dtype=bool)
    once[np.unique(path[:, 1] * edges.shape[1] + path[:, 0], return_index=True)[1]] = True
    path = path[once]
    gradient = dx[path[:, 1], path[:, 0]] + 1j * dy[path[:, 1], path[:, 0]].astype(np.float64)
    doubled = gradient**2
    doubled /= np.maximum(np.abs(doubled), 1e-9)
    turn = np.zeros(len(path))
    reach = _TURN_STEPS
    if len(path) > 2 * reach:
        turn[reach:-reach] = np.abs(np.angle(doubled[2 * reach :] * np.conj(doubled[: -2 * reach])))
    jump = np.abs(np.diff(path, axis=0)).max(axis=1) > 2
    smooth = turn < np.radians(2.0 * _TURN_DEG)
    starts = np.flatnonzero(smooth & np.r_[True, ~smooth[:-1] | jump])
    ends = np.flatnonzero(smooth & np.r_[~smooth[1:] | jump, True]) + 1
    first, count = starts + _TRIM_STEPS, ends - starts - 2 * _TRIM_STEPS
    long = count >= 0.7 * shortest_px
    return path, np.column_stack([first, count])[long]


def _pieces(path: Whole, runs: Whole, dx: Derivatives, dy: Derivatives, shortest_px: float) -> _Pieces:
    """Keep the longest runs, their points refined."""
    longest = np.sort(np.argsort(-runs[:, 1], kind="stable")[:_MOST_PIECES])
    runs = runs[longest]
    picked = np.concatenate([np.arange(first, first + count) for first, count in runs])
    points = _refined(path[picked], dx, dy)
    count = runs[:, 1]
    first = np.cumsum(count) - count
    middle = np.add.reduceat(points, first) / count[:, None]
    off = points - np.repeat(middle, count, axis=0)
    xx, xy, yy = (np.add.reduceat(off[:, i] * off[:, j], first) / count for i, j in ((0, 0), (0, 1), (1, 1)))
    angle = 0.5 * np.arctan2(2.0 * xy, xx - yy)
    along = np.column_stack([np.cos(angle), np.sin(angle)])
    # Of points evenly spread along a line.
    spread = 0.5 * (xx + yy) + np.hypot(0.5 * (xx - yy), xy)
    length = np.sqrt(12.0 * spread)
    kept = length > shortest_px
    return _Pieces(points, first[kept], count[kept], middle[kept], along[kept], length[kept])


def _refined(pixels: Whole, dx: Derivatives, dy: Derivatives) -> Array:
    """Move pixels of edges onto the peak of the slope, along the axis that is more nearly across."""
    x, y = pixels[:, 0], pixels[:, 1]
    height, width = dx.shape
    level = np.abs(dx[y, x]) > np.abs(dy[y, x])
    step_x, step_y = level.astype(np.intp), (~level).astype(np.intp)

    def slope(sign: int) -> Array:
        at_x, at_y = np.clip(x + sign * step_x, 0, width - 1), np.clip(y + sign * step_y, 0, height - 1)
        return np.asarray(np.hypot(dx[at_y, at_x].astype(np.float64), dy[at_y, at_x].astype(np.float64)))

    before, at, after = slope(-1), slope(0), slope(1)
    bend = np.minimum(before - 2.0 * at + after, -1e-6)
    shift = np.clip(0.5 * (before - after) / bend, -0.6, 0.6)
    return np.asarray(pixels + np.column_stack([shift * step_x, shift * step_y]), dtype=np.float64)


def _joined(pieces: _Pieces) -> list[Array]:
    """Join pieces that continue each other along a circle."""
    size = len(pieces)
    if not size:
        return []
    apart = pieces.middle[None] - pieces.middle[:, None]
    ahead = np.einsum("ijk,ik->ij", apart, pieces.along)
    aside = apart[..., 1] * pieces.along[:, None, 0] - apart[..., 0] * pieces.along[:, None, 1]
    cross = (
        pieces.along[:, None, 0] * pieces.along[None, :, 1]
        - pieces.along[:, None, 1] * pieces.along[None, :, 0]
    )
    dot = pieces.along @ pieces.along.T
    turned = np.arctan(cross / np.where(np.abs(dot) < 1e-9, 1e-9, dot))
    chord = np.arctan(aside / np.where(np.abs(ahead) < 1e-9, 1e-9, ahead))
    together = pieces.length[:, None] + pieces.length[None]
    gap = np.abs(ahead) - 0.5 * together
    shorter = np.minimum(pieces.length[:, None], pieces.length[None])
    allowed = np.radians(_OFF_DEG) + _OFF_PX / shorter
    joins = (
        (np.abs(turned) < np.radians(_TURNED_DEG))
        & (np.abs(chord - 0.5 * turned) < allowed)
        & (gap < np.maximum(_GAP_PX, _GAP_SHARE * together))
        & (gap > -0.1 * together)
    )
    groups = connected_components(joins & joins.T)[1]
    return [
        np.concatenate([pieces.of(int(index)) for index in np.flatnonzero(groups == group)])
        for group in np.unique(groups)
    ]
