"""Straight edges to a fraction of a pixel, with their uncertainty.

An edge is sampled across in many places; in each, the colour step is projected on the direction that it has
along the side (with its sign, so that an opposite step nearby does not pull), and its place is the peak of
the smoothed derivative. A robust line through those places is the edge.
"""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Pixels = NDArray[np.uint8]

_LEVELS = np.arange(256) / 255.0
# A lens blurs light, not the encoded values of the file: on those, the steepest place of a step lies toward the
# dark side, by up to half the blur. So profiles are taken back to linear light (IEC 61966-2-1).
_LINEAR = np.where(_LEVELS <= 0.04045, _LEVELS / 12.92, ((_LEVELS + 0.055) / 1.055) ** 2.4)
TUKEY = 4.685  # 95 % efficiency for normal residuals (Beaton and Tukey, Technometrics 16, 1974)
# Residual scatter understates a line's error: neighbouring profiles share paper, print and lens. Block means and
# this factor bring 95 % intervals of corners to 95.8 % coverage on simulated photos (own simulation).
INFLATION = 1.3
BLOCKS = 10
KERNEL_SIGMA = 1.0
_REACH = 3
_HALF_WIDTH = 4


@dataclass(frozen=True, slots=True, eq=False)
class EdgeFit:
    """One straight edge near a given segment.

    Attributes
    ----------
    start, end : (2,) arrays
        The segment's ends moved onto the edge, px.
    offset_cov : (2, 2) array
        Covariance of the two ends' places across the edge, px².
    share : float
        Part of the segment, 0 to 1, along which the edge was seen on the line.
    residual_px : float
        Robust standard deviation of single places about the line.
    blur_px : float
        Standard deviation of the blur across the edge.
    contrast : float
        Height of the step, grey levels of 255.
    profiles : int
        Number of places looked at.
    """

    start: Array
    end: Array
    offset_cov: Array
    share: float
    residual_px: float
    blur_px: float
    contrast: float
    profiles: int


def sample_across(pixels: Pixels, start: Array, end: Array, along: Array, offsets: Array) -> Array:
    """Return colours, (len(along), len(offsets), 3), at places along a segment and offsets across it.

    Parameters
    ----------
    pixels : (H, W, 3) array
    start, end : (2,) arrays
    along : (N,) array
        0 at the start, 1 at the end.
    offsets : (M,) array
        px to the left of the walk from start to end as seen in the picture (y is down).
    """
    direction = (end - start) / max(float(np.linalg.norm(end - start)), 1e-9)
    normal = np.array([direction[1], -direction[0]])
    points = (start + np.outer(along, end - start))[:, None] + offsets[None, :, None] * normal
    return sample(pixels, points)


def sample(pixels: Pixels, points: Array) -> Array:
    """Return colours at points, (N, M, 2) in px, interpolated by cubics; the border is repeated outside.

    The values are proportional to light, scaled so that a small step keeps its size in the file's grey levels.
    """
    low = np.floor(points.min(axis=(0, 1))).astype(int) - 3
    high = np.ceil(points.max(axis=(0, 1))).astype(int) + 4
    low = np.clip(low, 0, [pixels.shape[1] - 1, pixels.shape[0] - 1])
    high = np.clip(high, low + 1, [pixels.shape[1], pixels.shape[0]])
    crop = pixels[low[1] : high[1], low[0] : high[0]].astype(np.float32)
    map_x = (points[..., 0] - low[0]).astype(np.float32)
    map_y = (points[..., 1] - low[1]).astype(np.float32)
    values = cv2.remap(crop, map_x, map_y, cv2.INTER_CUBIC, borderMode=cv2.BORDER_REPLICATE)
    return _to_light(values)


def _to_light(values: NDArray[np.float32]) -> Array:
    middle = int(np.clip(np.median(values[::2, ::2]), 8, 247))
    slope = (_LINEAR[middle + 8] - _LINEAR[middle - 8]) / 16.0
    return np.asarray(np.interp(values, _LEVELS * 255.0, _LINEAR / slope))


def fit_edge(
    pixels: Pixels, start: Array, end: Array, *, search_px: float, margins: tuple[float, float] = (0.05, 0.05)
) -> EdgeFit | None:
    """Fit the edge near a segment.

    Parameters
    ----------
    pixels : (H, W, 3) array
    start, end : (2,) arrays
        Ends of the segment, px.
    search_px : float
        How far either end may lie from the edge.
    margins : tuple of float
        Shares of the segment left out at the start and at the end (rounded corners).

    Returns
    -------
    EdgeFit or None
        None where no edge is seen along enough of the segment.
    """
    length = float(np.linalg.norm(end - start))
    if not np.isfinite(length) or length < 8.0:
        return None
    along = np.linspace(margins[0], 1.0 - margins[1], int(np.clip(length / 1.5, 24, 240)))
    along = along[_inside(pixels, start + np.outer(along, end - start))]
    if len(along) < 12:
        return None
    moved = _coarse(pixels, start, end, along, search_px) if search_px > 0 else (start, end)
    fit, step = None, 1.0
    for _ in range(3):
        found = _places(pixels, *moved, along, step)
        if found is None:
            return None
        fit = _line(*moved, along, found, step)
        if fit is None:
            return None
        moved = (fit.start, fit.end)
        step = float(np.clip(0.8 * fit.blur_px, 1.0, 4.0))
    return fit


def _inside(pixels: Pixels, points: Array) -> NDArray[np.bool_]:
    height, width = pixels.shape[:2]
    x, y = points[:, 0], points[:, 1]
    return np.asarray((x > 1) & (y > 1) & (x < width - 2) & (y < height - 2))


def _moved(start: Array, end: Array, at_start: float, at_end: float) -> tuple[Array, Array]:
    direction = (end - start) / max(float(np.linalg.norm(end - start)), 1e-9)
    normal = np.array([direction[1], -direction[0]])
    return start + at_start * normal, end + at_end * normal


def _coarse(
    pixels: Pixels, start: Array, end: Array, along: Array, search_px: float
) -> tuple[Array, Array]:
    """Move a segment to the line, among all within the search, that has the most capped gradient on it."""
    step = max(0.5, search_px / 14.0)
    reach = int(np.ceil(search_px / step))
    offsets = np.arange(-reach - 2, reach + 3) * step
    places = along[:: max(1, len(along) // 60)]
    colours = sample_across(pixels, start, end, places, offsets)
    gradient = np.abs(colours[:, 3:] - colours[:, :-3]).max(axis=2)
    gradient = 0.5 * (gradient[:, 1:] + gradient[:, :-1])
    gradient = np.minimum(gradient, max(1.5 * float(np.median(gradient.max(axis=1))), 2.0))
    shifts = np.arange(-reach, reach + 1)
    a, b = np.meshgrid(shifts, shifts, indexing="ij")
    column = a[..., None] + (b - a)[..., None] * places + reach
    lower = np.clip(np.floor(column).astype(np.intp), 0, 2 * reach - 1)
    share = column - lower
    rows = np.arange(len(places))
    total = gradient[rows, lower] * (1.0 - share) + gradient[rows, lower + 1] * share
    # Of two equal lines the nearer one: the segment given is itself evidence.
    score = total.mean(axis=2) * (1.0 - 0.15 * (a**2 + b**2) / (2.0 * reach**2))
    best = np.unravel_index(int(score.argmax()), score.shape)
    return _moved(start, end, float(shifts[best[0]]) * step, float(shifts[best[1]]) * step)


@dataclass(frozen=True, slots=True, eq=False)
class _Places:
    offset: Array  # across the segment, in steps; NaN where no peak was found
    height: Array  # derivative at the peak, grey levels per step
    sigma: Array  # of the peak, in steps


def _places(pixels: Pixels, start: Array, end: Array, along: Array, step: float) -> _Places | None:
    offsets = np.arange(-_HALF_WIDTH - _REACH, _HALF_WIDTH + _REACH + 1) * step
    colours = sample_across(pixels, start, end, along, offsets)
    derivative = _derivative(colours)
    # The sum over the middle is the step's colour; its running mean along the side is the direction expected.
    middle = derivative[:, _HALF_WIDTH - 1 : _HALF_WIDTH + 2].sum(axis=1)
    window = max(5, len(along) // 4) | 1
    padded = np.pad(middle, ((window // 2, window // 2), (0, 0)), mode="reflect")
    kernel = np.ones(window) / window
    mean = np.stack([np.convolve(padded[:, c], kernel, mode="valid") for c in range(3)], axis=1)
    norm = np.linalg.norm(mean, axis=1)
    if float(norm.max()) < 0.3:
        return None
    direction = mean / np.maximum(norm, 1e-6)[:, None]
    return _peaks(np.einsum("nmc,nc->nm", derivative, direction))


def _derivative(colours: Array) -> Array:
    x = np.arange(-_REACH, _REACH + 1, dtype=np.float64)
    kernel = x * np.exp(-0.5 * (x / KERNEL_SIGMA) ** 2)
    kernel /= np.sum(kernel * x)
    count = colours.shape[1] - 2 * _REACH
    result = np.zeros((colours.shape[0], count, colours.shape[2]))
    for index, weight in enumerate(kernel):
        result += weight * colours[:, index : index + count]
    return result


def _peaks(gradient: Array) -> _Places:
    """Place of each row's highest value within 2.5 steps of the middle, by a parabola through the logarithm."""
    rows = np.arange(len(gradient))
    low, high = _HALF_WIDTH - 3, _HALF_WIDTH + 3
    peak = gradient[:, low : high + 1].argmax(axis=1) + low
    inner = np.clip(peak, 1, gradient.shape[1] - 2)
    before, at, after = (gradient[rows, inner + d] for d in (-1, 0, 1))
    positive = (before > 1e-3) & (at > 1e-3) & (after > 1e-3) & (at >= before) & (at >= after)
    logs = [np.log(np.maximum(value, 1e-3)) for value in (before, at, after)]
    bend = logs[0] - 2.0 * logs[1] + logs[2]
    usable = positive & (bend < -1e-3)
    safe = np.where(usable, bend, -1.0)
    shift = np.clip(0.5 * (logs[0] - logs[2]) / safe, -0.6, 0.6)
    offset = np.where(usable, inner - _HALF_WIDTH + shift, np.nan)
    return _Places(offset, at, np.sqrt(-1.0 / safe))


def _line(start: Array, end: Array, along: Array, places: _Places, step: float) -> EdgeFit | None:
    seen = np.isfinite(places.offset)
    if seen.sum() < 8:
        return None
    typical = float(np.median(places.height[seen]))
    seen &= places.height > max(0.25 * typical, 0.3)
    if seen.sum() < 8:
        return None
    t, offset, height = along[seen], places.offset[seen], places.height[seen]
    strength = np.minimum(height, 2.0 * typical) ** 2
    line, weight, residual = _robust_line(t, offset, strength)
    used = weight > 0.05 * strength
    if used.sum() < 6:
        return None
    sigma_steps = float(np.median(places.sigma[seen][used]))
    blur = float(np.sqrt(max(sigma_steps**2 - KERNEL_SIGMA**2, 0.0)))
    contrast = float(np.median(height[used])) * float(np.sqrt(2.0 * np.pi)) * sigma_steps
    moved = _moved(start, end, float(line[0]) * step, float(line[1]) * step)
    covariance = _line_covariance(t, offset, weight, line) * step**2
    share = float(used.sum()) / len(along)
    return EdgeFit(*moved, covariance, share, residual * step, blur * step, contrast, len(along))


def _robust_line(t: Array, offset: Array, strength: Array) -> tuple[Array, Array, float]:
    """Return offsets at t = 0 and 1, the final weights, and the robust standard deviation (Tukey's biweight)."""
    design = np.stack([1.0 - t, t], axis=1)
    weight = strength
    line = _weighted(design, offset, weight)
    sigma = 1.0
    centre = float(np.median(offset))
    residual = offset - centre
    for round_ in range(12):
        sigma = max(1.4826 * float(np.median(np.abs(residual))), 0.02)
        bounded = np.clip(residual / (TUKEY * sigma), -1.0, 1.0)
        weight = strength * (1.0 - bounded**2) ** 2 + 1e-12
        previous, line = line, _weighted(design, offset, weight)
        residual = offset - design @ line
        if round_ > 2 and np.abs(line - previous).max() < 1e-4:
            break
    return line, weight, sigma


def _weighted(design: Array, value: Array, weight: Array) -> Array:
    scaled = design * weight[:, None]
    normal = design.T @ scaled + 1e-12 * np.eye(2) * weight.sum()
    return np.linalg.solve(normal, scaled.T @ value)


def _line_covariance(t: Array, offset: Array, weight: Array, line: Array) -> Array:
    """Covariance of the offsets at both ends, from the scatter of block means about the line."""
    residual = offset - (1.0 - t) * line[0] - t * line[1]
    edges = np.linspace(t.min(), t.max() + 1e-9, BLOCKS + 1)
    block = np.clip(np.searchsorted(edges, t, side="right") - 1, 0, BLOCKS - 1)
    total = np.bincount(block, weight, BLOCKS)
    some = total > 0.02 * total.max()
    mean_t = np.bincount(block, weight * t, BLOCKS)[some] / total[some]
    mean_r = np.bincount(block, weight * residual, BLOCKS)[some] / total[some]
    weights = total[some] / total[some].sum()
    design = np.stack([1.0 - mean_t, mean_t], axis=1)
    if some.sum() < 3:
        return np.eye(2)
    correction = _weighted(design, mean_r, weights)
    scatter = mean_r - design @ correction
    variance = float(np.sum(weights * scatter**2)) / (some.sum() - 2)
    inverse = np.linalg.inv(design.T @ (design * weights[:, None]) + 1e-9 * np.eye(2))
    return np.asarray(INFLATION**2 * max(variance, 1e-6) * inverse)


@dataclass(frozen=True, slots=True)
class SnappedPoint:
    """A click moved onto the nearest clear edge.

    Attributes
    ----------
    point_px : tuple of float
        On the edge; as clicked where no edge is clear.
    std_px : float
        Standard uncertainty across the edge, that is, along the direction asked for.
    reason : str or None
        Why the click was left where it is; None where it was moved.
    """

    point_px: tuple[float, float]
    std_px: float
    reason: str | None
