"""Straight edges to a fraction of a pixel, with their uncertainty.

An edge is sampled across at many points; at each, the position of the colour step is found. A robust line
through those positions, with a slight bend, is the edge.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from calibration.cautions import NoAnswer, NoAnswerCode
from calibration.edges.line_fit import Line, fit_line, median
from calibration.edges.profiles import KERNEL_SIGMA, Path, encoded_across, find_places, sample

__all__ = ["EdgeFit", "SnappedPoint", "fit_edge", "sample", "snap_to_edge"]

Array = NDArray[np.float64]
Pixels = NDArray[np.uint8]

# How much an edge may bend, as sagitta over length: the lens (k1 = 0.02 bends one near the border by about
# 0.0005) and the card itself.
BEND_STD = 0.0006
_BEND_FLOOR_PX = 0.05


@dataclass(frozen=True, slots=True, eq=False)
class EdgeFit:
    """One edge near a given segment.

    Attributes
    ----------
    start, end : (2,) arrays
        The segment's ends moved onto the edge, px.
    sag_px : float
        How far the edge's middle lies to the left of the chord between them.
    offset_cov : (2, 2) array
        Covariance of the two ends' places across the edge, px².
    share : float
        Part of the segment, 0 to 1, along which the edge was seen.
    residual_px : float
        Robust standard deviation of single points about the edge.
    blur_px : float
        Standard deviation of the blur across the edge.
    contrast : float
        Height of the step, grey levels of 255.
    profiles : int
        Number of profiles examined.
    """

    start: Array
    end: Array
    sag_px: float
    offset_cov: Array
    share: float
    residual_px: float
    blur_px: float
    contrast: float
    profiles: int


def fit_edge(
    pixels: Pixels,
    start: Array,
    end: Array,
    *,
    search_px: float,
    margins: tuple[float, float] = (0.05, 0.05),
    bend_std: float = BEND_STD,
    most_profiles: int = 160,
) -> EdgeFit | None:
    """Fit the edge near a segment.

    Parameters
    ----------
    pixels : (H, W, 3) array
        The photo.
    start, end : (2,) arrays
        Ends of the segment, px.
    search_px : float
        How far either end may lie from the edge.
    margins : tuple of float
        Shares of the segment left out at the start and at the end (rounded corners).
    bend_std : float
        Standard uncertainty of the edge's sagitta as a share of its length.
    most_profiles : int
        Upper limit of the profiles examined.

    Returns
    -------
    EdgeFit or None
        None where no edge is seen along enough of the segment.
    """
    path = Path(np.asarray(start, dtype=np.float64), np.asarray(end, dtype=np.float64))
    if not np.isfinite(path.length_px) or path.length_px < 8.0:
        return None
    count = int(np.clip(path.length_px / 1.5, 24, most_profiles))
    along = np.linspace(margins[0], 1.0 - margins[1], count)
    along = along[_inside(pixels, path.points(along))]
    if len(along) < 12:
        return None
    if search_px > 0:
        path = _coarse(pixels, path, along[:: max(1, len(along) // 48)], search_px)
    return _converge(pixels, path, along, bend_std)


def _converge(pixels: Pixels, path: Path, along: Array, bend_std: float) -> EdgeFit | None:
    """Fit, then sample again along the fit, with steps that suit its blur."""
    sag_std_px = float(np.hypot(_BEND_FLOOR_PX, bend_std * path.length_px))
    rough = _lined(pixels, path, along[:: max(1, len(along) // 60)], 1.0, sag_std_px)
    if rough is None:
        return None
    step_px = float(np.clip(0.8 * rough.blur_px, 1.0, 4.0))
    fine = _lined(pixels, rough.path, along, step_px, sag_std_px)
    return None if fine is None else _edge(fine, len(along))


@dataclass(frozen=True, slots=True, eq=False)
class _Lined:
    """A line fitted to points across a path, in steps of this many pixels, and the path moved onto it."""

    path: Path
    line: Line
    step_px: float
    sigma_steps: float
    height: float

    @property
    def blur_px(self) -> float:
        return float(np.sqrt(max(self.sigma_steps**2 - KERNEL_SIGMA**2, 0.0))) * self.step_px


def _lined(pixels: Pixels, path: Path, along: Array, step_px: float, sag_std_px: float) -> _Lined | None:
    places = find_places(pixels, path, along, step_px)
    if places is None:
        return None
    line = fit_line(along, places, path.sag_px / step_px, sag_std_px / step_px)
    if line is None:
        return None
    moved = path.moved(line.start_steps * step_px, line.end_steps * step_px, line.sag_steps * step_px)
    sigma_steps, height = median(places.sigma[line.used]), median(places.height[line.used])
    return _Lined(moved, line, step_px, sigma_steps, height)


def _edge(found: _Lined, profiles: int) -> EdgeFit:
    path, line, step_px = found.path, found.line, found.step_px
    contrast = found.height * float(np.sqrt(2.0 * np.pi)) * found.sigma_steps
    return EdgeFit(
        path.start,
        path.end,
        path.sag_px,
        line.covariance * step_px**2,
        float(line.used.mean()),
        line.residual_steps * step_px,
        found.blur_px,
        contrast,
        profiles,
    )


def _inside(pixels: Pixels, points: Array) -> NDArray[np.bool_]:
    height, width = pixels.shape[:2]
    x, y = points[:, 0], points[:, 1]
    return np.asarray((x > 1) & (y > 1) & (x < width - 2) & (y < height - 2))


def _coarse(pixels: Pixels, path: Path, along: Array, search_px: float) -> Path:
    """Move a segment to the line, among all within the search, that has the most capped gradient on it."""
    step = max(0.5, search_px / 14.0)
    reach = int(np.ceil(search_px / step))
    baseline = max(1, round(0.75 / step))
    colours = encoded_across(pixels, path, along, np.arange(-reach - baseline, reach + baseline + 1.0) * step)
    gradient = np.abs(colours[:, 2 * baseline :] - colours[:, : -2 * baseline]).max(axis=2)
    gradient = np.minimum(gradient, max(1.5 * median(gradient.max(axis=1)), 2.0))
    shifts = np.arange(-reach, reach + 1)
    a, b = np.meshgrid(shifts, shifts, indexing="ij")
    column = a[..., None] + (b - a)[..., None] * along + reach
    lower = np.minimum(column.astype(np.intp), 2 * reach - 1)
    share = column - lower
    flat, at = gradient.ravel(), np.arange(len(along)) * gradient.shape[1] + lower
    total = flat.take(at) * (1.0 - share) + flat.take(at + 1) * share
    # Of two equal lines take the nearer one: the given segment is itself evidence.
    score = total.mean(axis=2) * (1.0 - 0.3 * (a**2 + b**2) / (2.0 * reach**2))
    best = np.unravel_index(int(score.argmax()), score.shape)
    return path.moved(float(shifts[best[0]]) * step, float(shifts[best[1]]) * step)


@dataclass(frozen=True, slots=True)
class SnappedPoint:
    """A click moved onto the clear edge nearest to it.

    Attributes
    ----------
    point_px : tuple of float
        On the edge; as clicked where no edge is clear.
    std_px : float
        Standard uncertainty across the edge; NaN where the click was left alone.
    reason : NoAnswer or None
        Why the click was left alone; None where it was moved.
    """

    point_px: tuple[float, float]
    std_px: float
    reason: NoAnswer | None


# What a fitted edge doesn't tell about a click: a worn or rounded edge, a highlight along it.
_SNAP_FLOOR_PX = 0.15
_CLEAR_SHARE = 0.7
_CLEAR_STEP = 6.0


def snap_to_edge(
    pixels: Pixels,
    point_px: ArrayLike,
    direction_px: ArrayLike,
    *,
    search_px: float = 6.0,
    length_px: float = 24.0,
) -> SnappedPoint:
    """Move a click along a direction onto the edge that crosses it, where there is one clear edge.

    Parameters
    ----------
    pixels : (H, W, 3) array
        The photo.
    point_px : (2,) array
        The click, (x, y).
    direction_px : (2,) array
        Direction of the span to be measured, of any length: the point moves along it only.
    search_px : float
        How far it may move.
    length_px : float
        Length of the edge looked at; it may be turned by up to about 25 degrees from square to the direction.

    Returns
    -------
    SnappedPoint
        The point on the edge with its standard uncertainty in px; where no edge is clear, the click as it was
        and the reason.
    """
    click, direction = np.asarray(point_px, dtype=np.float64), np.asarray(direction_px, dtype=np.float64)
    size = float(np.linalg.norm(direction))
    if click.shape != (2,) or size == 0.0 or not (np.isfinite(click).all() and np.isfinite(size)):
        return _left(click, NoAnswerCode.ONE_POINT)
    direction = direction / size
    half = 0.5 * length_px * np.array([-direction[1], direction[0]])
    fit = fit_edge(pixels, click - half, click + half, search_px=search_px, margins=(0.0, 0.0))
    if fit is None or fit.share < _CLEAR_SHARE or fit.contrast < _CLEAR_STEP or fit.residual_px > 1.0:
        return _left(click, NoAnswerCode.NO_EDGE)
    chord = fit.end - fit.start
    cross = float(direction[0] * chord[1] - direction[1] * chord[0])
    along = float((fit.start - click)[0] * chord[1] - (fit.start - click)[1] * chord[0]) / cross
    if abs(along) > search_px:
        return _left(click, NoAnswerCode.FAR_EDGE)
    slant = float(np.linalg.norm(chord)) / abs(cross)
    variance = float(np.array([0.5, 0.5]) @ fit.offset_cov @ np.array([0.5, 0.5])) * slant**2
    point = click + along * direction
    return SnappedPoint(
        (float(point[0]), float(point[1])), float(np.hypot(np.sqrt(variance), _SNAP_FLOOR_PX)), None
    )


def _left(click: Array, why: NoAnswerCode) -> SnappedPoint:
    return SnappedPoint((float(click.flat[0]), float(click.flat[-1])), float("nan"), NoAnswer.of(why))
