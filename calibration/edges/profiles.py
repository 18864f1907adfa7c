"""Profiles across an edge: linear-light colours, their derivative, and the sub-pixel position of the step."""

from dataclasses import dataclass
from math import ceil, floor, hypot
from typing import Any, TypeVar

import cv2
import numpy as np
from numpy.typing import NDArray

from calibration.edges import srgb
from calibration.edges.sub_pixel import REACH, derivative, log_peak, slope_kernel

Array = NDArray[np.float64]
Pixels = NDArray[np.uint8]
Floats = NDArray[np.float32]
Real = TypeVar("Real", bound=np.floating[Any])

KERNEL_SIGMA = 1.0
HALF_WIDTH = 4
# A lens blurs light, not the encoded values of the file: there, the steepest point of a step lies toward
# the dark side, by up to half the blur. So profiles are converted to linear light.
_LINEAR = srgb.decode(np.arange(256.0))
_RISE = np.append(np.diff(_LINEAR), 0.0)
_KERNEL = slope_kernel(KERNEL_SIGMA)
_LARGEST_CROP_PX = 60_000
_LONGEST_ROW = 32_767  # OpenCV's limit
_SORTED_SOONER = 400  # than parted
_NO_SECOND_MAP = np.empty((0, 0), np.float32)


@dataclass(frozen=True, slots=True, eq=False)
class Path:
    """A slightly bent segment.

    Attributes
    ----------
    start, end : (2,) arrays
        px.
    sag_px : float
        How far the middle lies to the left of the chord, seen in the picture walking from start to end.
    """

    start: Array
    end: Array
    sag_px: float = 0.0

    @property
    def length_px(self) -> float:
        """Length of the chord."""
        return hypot(*(self.end - self.start).tolist())

    @property
    def normal(self) -> Array:
        """Unit vector to the left of the walk, seen in the picture (y is down)."""
        x, y = (self.end - self.start).tolist()
        length_px = max(hypot(x, y), 1e-9)
        return np.array([y / length_px, -x / length_px])

    def points(self, along: Array) -> Array:
        """Return points of the path.

        Parameters
        ----------
        along : (N,) array
            Fractions of the path: 0 at the start, 1 at the end; others lie on its prolongation.

        Returns
        -------
        (N, 2) array
            Points (x, y), px.
        """
        chord = self.start + along[:, None] * (self.end - self.start)
        bend_px = 4.0 * self.sag_px * along * (1.0 - along)
        return np.asarray(chord + bend_px[:, None] * self.normal)

    def moved(self, start_px: float, end_px: float, sag_px: float = 0.0) -> "Path":
        """Return the path moved sideways.

        Parameters
        ----------
        start_px, end_px : float
            By how much to move each end to the left.
        sag_px : float
            By how much to increase the sag.

        Returns
        -------
        Path
            The moved path; the left is that of the path before the move.
        """
        normal = self.normal
        return Path(self.start + start_px * normal, self.end + end_px * normal, self.sag_px + sag_px)


def across(path: Path, along: Array, offsets: Array) -> Array:
    """Return a grid of points along a path and across it.

    Parameters
    ----------
    path : Path
        Where the grid lies.
    along : (N,) array
        Fractions of the path, 0 at its start and 1 at its end.
    offsets : (M,) array
        Distances to the left of the path, px.

    Returns
    -------
    (N, M, 2) array
        Points (x, y), px.
    """
    return np.asarray(path.points(along)[:, None] + offsets[None, :, None] * path.normal)


def sample_across(pixels: Pixels, path: Path, along: Array, offsets: Array) -> Array:
    """Return colours, in linear light, at the points `across` a path.

    Parameters
    ----------
    pixels : (H, W, 3) uint8 array
        The photo.
    path : Path
        Where the profiles lie.
    along : (N,) array
        Fractions of the path, 0 at its start and 1 at its end.
    offsets : (M,) array
        Distances to the left of the path, px.

    Returns
    -------
    (N, M, 3) array
        As of `sample`.
    """
    return sample(pixels, across(path, along, offsets))


def encoded_across(pixels: Pixels, path: Path, along: Array, offsets: Array) -> Array:
    """Return the same as `sample_across` in the file's own grey levels.

    In linear light, the soft shadow on a bright table is stronger than the sharp edge of a dark card; in the
    encoded levels, which are closer to what the eye sees, it isn't. So edges are sought in those.

    Parameters
    ----------
    pixels : (H, W, 3) uint8 array
        The photo.
    path : Path
        Where the profiles lie.
    along : (N,) array
        Fractions of the path, 0 at its start and 1 at its end.
    offsets : (M,) array
        Distances to the left of the path, px.

    Returns
    -------
    (N, M, 3) array
        Grey levels, 0 to 255 and slightly beyond, since cubics overshoot.
    """
    return np.asarray(interpolate(pixels, across(path, along, offsets)), dtype=np.float64)


def sample(pixels: Pixels, points: Array) -> Array:
    """Return the photo's colours at points, in linear light.

    Parameters
    ----------
    pixels : (H, W, 3) uint8 array
        The photo.
    points : (N, M, 2) array
        (x, y), px; (0, 0) is the centre of the top-left pixel.

    Returns
    -------
    (N, M, 3) array
        Values proportional to light, in the photo's order of channels, interpolated by cubics; the border is
        repeated outside. They are scaled so that a small step keeps its size in grey levels.
    """
    return np.asarray(to_light(interpolate(pixels, points)[None])[0])


def interpolate(pixels: Pixels, points: Array) -> Floats:
    """Return the photo's grey levels at points, as encoded in the file.

    They are taken from a crop around the points, cut in halves until each crop is small.

    Parameters
    ----------
    pixels : (H, W, 3) uint8 array
        The photo.
    points : (N, M, 2) array
        (x, y), px; (0, 0) is the centre of the top-left pixel.

    Returns
    -------
    (N, M, 3) float32 array
        Grey levels, interpolated by cubics, which may overshoot 0 and 255; the border is repeated outside.
    """
    x, y = points[..., 0], points[..., 1]
    left, top = max(floor(x.min()) - 3, 0), max(floor(y.min()) - 3, 0)
    right, bottom = ceil(x.max()) + 4, ceil(y.max()) + 4
    left, top = min(left, pixels.shape[1] - 1), min(top, pixels.shape[0] - 1)
    right, bottom = (
        min(max(right, left + 1), pixels.shape[1]),
        min(max(bottom, top + 1), pixels.shape[0]),
    )
    half = len(points) // 2
    if (right - left) * (bottom - top) > _LARGEST_CROP_PX and half >= 4:
        return np.concatenate([interpolate(pixels, points[:half]), interpolate(pixels, points[half:])])
    crop = pixels[top:bottom, left:right].astype(np.float32)
    shifted = (points - (left, top)).astype(np.float32)
    # OpenCV splits rows among threads, which costs more than this little work takes: it gets only one row.
    row = (1, -1) if x.size < _LONGEST_ROW else x.shape
    values = cv2.remap(
        crop,
        shifted.reshape(*row, 2),
        _NO_SECOND_MAP,
        cv2.INTER_CUBIC,
        borderMode=cv2.BORDER_REPLICATE,
    )
    return np.asarray(values, dtype=np.float32).reshape(*x.shape, 3)


def to_light(levels: Floats) -> Array:
    """Convert profiles of encoded grey levels to linear light.

    Parameters
    ----------
    levels : (S, N, M, 3) float32 array
        Grey levels of S sets of profiles, as `interpolate` gives them; clipped to 0 to 255.

    Returns
    -------
    (S, N, M, 3) array
        Values proportional to light. Each set is scaled by the slope of the sRGB curve at its median, so that
        a small step there keeps its size in grey levels.
    """
    middle = np.clip(medians(levels[:, ::2, ::2].reshape(len(levels), -1)), 8, 247).astype(np.intp)
    slope = (_LINEAR[middle + 8] - _LINEAR[middle - 8]) / 16.0
    level = np.clip(levels, 0.0, 255.0).astype(np.float64)
    below = level.astype(np.intp)
    level -= below
    level *= _RISE[below]
    level += _LINEAR[below]
    level /= slope[:, None, None, None]
    return level


def medians(values: NDArray[Real]) -> NDArray[Real]:
    """Return the medians along the last axis, as numpy does but without its checks.

    Parameters
    ----------
    values : (..., N) array
        Finite values, N at least 1.

    Returns
    -------
    (...) array
        The medians, of the same type.
    """
    count, middle = values.shape[-1], values.shape[-1] // 2
    few = count < _SORTED_SOONER
    ordered = np.sort(values) if few else np.partition(values, (middle - 1, middle))
    if count % 2:
        return np.asarray(ordered[..., middle])
    return np.asarray((ordered[..., middle - 1] + ordered[..., middle]) / 2)


@dataclass(frozen=True, slots=True, eq=False)
class Places:
    """Where the step is in each profile.

    Attributes
    ----------
    offset : (N,) array
        To the left of the path, in steps of the profile; NaN where no step was found.
    height : (N,) array
        Slope there, grey levels per step.
    sigma : (N,) array
        Standard deviation of the smoothed edge, in steps.
    """

    offset: Array
    height: Array
    sigma: Array


def find_places(pixels: Pixels, path: Path, along: Array, step_px: float) -> Places | None:
    """Find the step near each point of a path; None if there is no colour step at all."""
    offsets = np.arange(-HALF_WIDTH - REACH, HALF_WIDTH + REACH + 1.0) * step_px
    gradient = signed_gradient(derivative(sample_across(pixels, path, along, offsets), _KERNEL))
    return None if gradient is None else _peaks(gradient)


def signed_gradient(slopes: Array) -> Array | None:
    """Project colour slopes, (N, M, 3), on the running mean direction of the step along the path.

    The direction keeps its sign, so that an opposite step beside the edge does not pull.
    """
    middle = slopes.shape[1] // 2
    step = slopes[:, middle - 1 : middle + 2].sum(axis=1)
    window = max(5, len(step) // 4) | 1
    half = window // 2
    padded = np.concatenate([step[half:0:-1], step, step[-2 : -half - 2 : -1]])
    running = np.concatenate([np.zeros((1, 3)), np.cumsum(padded, axis=0)])
    mean = (running[window:] - running[:-window]) / window
    norm = np.linalg.norm(mean, axis=1)
    if float(norm.max()) < 0.3:
        return None
    return np.asarray(np.einsum("nmc,nc->nm", slopes, mean / np.maximum(norm, 1e-6)[:, None]))


def _peaks(gradient: Array) -> Places:
    """Find each row's highest value within three steps of the middle."""
    rows = np.arange(len(gradient))
    low, high = HALF_WIDTH - 3, HALF_WIDTH + 3
    # Of two steps take the one nearer the path: where to look is settled before.
    nearness = np.exp(-0.5 * (np.arange(-3, 4) / 2.0) ** 2)
    peak = (gradient[:, low : high + 1] * nearness).argmax(axis=1) + low
    before, at, after = (gradient[rows, peak + d] for d in (-1, 0, 1))
    rising = at < np.maximum(before, after)
    climbed = np.clip(np.where(after > before, peak + 1, peak - 1), 1, gradient.shape[1] - 2)
    peak = np.where(rising, climbed, peak)
    before, at, after = (gradient[rows, peak + d] for d in (-1, 0, 1))
    positive = (before > 1e-3) & (after > 1e-3)
    shift, bend = log_peak((before, at, after), positive, floor=1e-3, least_bend=1e-3)
    return Places(peak - HALF_WIDTH + shift, at, np.sqrt(-1.0 / bend))
