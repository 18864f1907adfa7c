"""The graduations of a rule or tape along a line, found and counted."""

from dataclasses import dataclass

import numpy as np
import scipy  # loads its parts, each a good part of a second, when they are used
from numpy.typing import ArrayLike, NDArray

from calibration.camera import Array
from calibration.edges import sample
from calibration.errors import GeometryError

_LEAST_TICKS = 8
_LEAST_PERIOD_PX = 3.0
_STEP_PX = 0.25


@dataclass(frozen=True, slots=True, eq=False)
class Graduations:
    """Graduations found along a line.

    Attributes
    ----------
    numbers : (N,) int array
        Count of each from the first.
    points_px : (N, 2) array
        Their places.
    std_px : float
        Standard uncertainty of each along the line.
    """

    numbers: NDArray[np.int64]
    points_px: Array
    std_px: float


def find_graduations(pixels: NDArray[np.uint8], line_px: ArrayLike) -> Graduations:
    """Find the graduations of a rule along a line across them.

    Parameters
    ----------
    pixels : (H, W, 3) array
        The photo.
    line_px : (2, 2) array
        Two points far apart; the line between crosses every graduation, the shortest ones as well.

    Raises
    ------
    GeometryError
        The line is too short, or no regular graduations are seen along it.

    Notes
    -----
    The profile along the line, averaged a little across it, minus its running mean; its period from the
    autocorrelation in overlapping windows; graduations as dark or light extremes; counts from adding up
    neighbouring distances; then the projective map of counts to places, (a n + b)/(c n + 1), by least squares
    with Tukey's biweight, which renumbers and refines until nothing changes.
    """
    ends = np.asarray(line_px, dtype=float)
    length = float(np.linalg.norm(ends[1] - ends[0])) if ends.shape == (2, 2) else 0.0
    if not length > 40.0:
        raise GeometryError("a rule needs two points far apart along its graduations")
    profile = _profile(pixels, ends, length)
    period = _period(profile)
    if period is None:
        raise GeometryError(
            "no regular graduations along the line: let it cross all of them, the shortest ones too,"
            " where they are in focus"
        )
    best: tuple[Array, NDArray[np.int64], float] | None = None
    for sign in (1.0, -1.0):
        found = _numbered(sign * profile, period)
        if found is not None and (best is None or found[2] < best[2]):
            best = found
    if best is None:
        raise GeometryError(
            "the graduations along the line are not regular: choose a cleaner stretch of the rule"
        )
    places, numbers, scatter = best
    points = ends[0] + np.outer(places / length, ends[1] - ends[0])
    return Graduations(numbers - numbers[0], points, max(scatter, 0.05))


def _profile(pixels: NDArray[np.uint8], ends: Array, length: float) -> Array:
    along = np.arange(0.0, length, _STEP_PX) / length
    direction = (ends[1] - ends[0]) / length
    across = np.array([-direction[1], direction[0]])
    offsets = np.arange(-2.0, 2.5, 1.0)
    points = (ends[0] + np.outer(along, ends[1] - ends[0]))[:, None] + offsets[None, :, None] * across
    return np.asarray(sample(pixels, points).mean(axis=(1, 2)))


def _flattened(profile: Array, window_px: float) -> Array:
    smooth = scipy.ndimage.uniform_filter1d(profile, max(3, round(window_px / _STEP_PX)), mode="nearest")
    return np.asarray(profile - smooth)


def _period(profile: Array) -> float | None:
    """Typical period in px: the first strong peak of the autocorrelation, summed over windows."""
    count = len(profile)
    size = int(min(count, max(240, count // 4)))
    total = np.zeros(size)
    for start in range(0, count - size + 1, max(size // 2, 1)):
        part = _flattened(profile[start : start + size], size * _STEP_PX / 4.0)
        full = np.correlate(part, part, "full")[size - 1 :]
        total += full / max(float(full[0]), 1e-9)
    total /= max(float(total[0]), 1e-9)
    lag = np.arange(size) * _STEP_PX
    peaks, _ = scipy.signal.find_peaks(total, distance=max(1, round(_LEAST_PERIOD_PX / _STEP_PX) // 2))
    peaks = peaks[(lag[peaks] >= _LEAST_PERIOD_PX) & (lag[peaks] < 0.35 * size * _STEP_PX)]
    if len(peaks) == 0 or float(total[peaks].max()) < 0.15:
        return None
    # Longer strokes every five or ten make higher peaks farther out: the first of a fair height is taken.
    fair = peaks[total[peaks] > 0.45 * total[peaks].max()]
    return float(lag[fair[0]])


def _numbered(profile: Array, period: float) -> tuple[Array, NDArray[np.int64], float] | None:
    """Return places (px along the line), counts and scatter of strokes brighter than the rest."""
    smooth = scipy.ndimage.gaussian_filter1d(_flattened(profile, 1.5 * period), 0.12 * period / _STEP_PX)
    height = float(np.quantile(smooth, 0.9) - np.median(smooth))
    peaks, _ = scipy.signal.find_peaks(
        smooth, distance=max(1, int(0.6 * period / _STEP_PX)), prominence=0.35 * height
    )
    if len(peaks) < _LEAST_TICKS or height <= 0.0:
        return None
    before, at, after = smooth[peaks - 1], smooth[peaks], smooth[peaks + 1]
    bend = before - 2.0 * at + after
    shift = np.where(bend < 0.0, 0.5 * (before - after) / np.where(bend < 0.0, bend, -1.0), 0.0)
    places = (peaks + shift) * _STEP_PX
    numbers = _counted(places, period)
    return None if numbers is None else _settled(places, numbers)


def _counted(places: Array, period: float) -> NDArray[np.int64] | None:
    gaps = np.diff(places)
    local = np.full(len(gaps), period)
    for _ in range(4):
        steps = np.maximum(np.rint(gaps / local), 1)
        single = gaps / steps
        weight = (np.abs(single / local - 1.0) < 0.25).astype(float)
        if weight.sum() < 0.5 * len(gaps):
            return None
        middle = 0.5 * (places[1:] + places[:-1])
        fit = np.polyfit(middle - places.mean(), single, 1, w=weight + 1e-6)
        local = np.maximum(np.polyval(fit, middle - places.mean()), 0.3 * period)
    return np.concatenate([[0], np.cumsum(steps)]).astype(np.int64)


def _settled(places: Array, numbers: NDArray[np.int64]) -> tuple[Array, NDArray[np.int64], float] | None:
    keep = np.ones(len(places), bool)
    for _ in range(6):
        if keep.sum() < _LEAST_TICKS:
            return None
        a, b, c, scatter = projective(numbers[keep].astype(float), places[keep])
        expected = (a * numbers + b) / (c * numbers + 1.0)
        pitch = np.abs((a - b * c) / (c * numbers + 1.0) ** 2)
        # A speck between two strokes, or a stroke counted twice, is off by a large part of the pitch.
        keep = np.abs(places - expected) < np.maximum(0.12 * pitch, 3.0 * scatter)
    if scatter > 0.12 * float(np.median(pitch)) or keep.sum() < 0.6 * len(places):
        return None
    _, once = np.unique(numbers[keep], return_index=True)
    return places[keep][once], numbers[keep][once], scatter


def projective(numbers: Array, places: Array) -> tuple[float, float, float, float]:
    """Fit x = (a n + b)/(c n + 1) with Tukey's biweight; return a, b, c and the scatter."""
    weight = np.ones(len(numbers))
    a, b, c, scatter = 0.0, 0.0, 0.0, 1.0
    for _ in range(12):
        # Linear in a, b, c after multiplying out; dividing by the last denominator makes it least squares.
        below = c * numbers + 1.0
        design = np.column_stack([numbers, np.ones_like(numbers), -numbers * places]) / below[:, None]
        root = np.sqrt(weight)
        size = np.array([1.0, 1.0, max(float(np.abs(places).max()), 1.0)])
        solved = np.linalg.lstsq(design / size * root[:, None], places / below * root, rcond=None)[0] / size
        a, b, c = (float(value) for value in solved)
        residual = places - (a * numbers + b) / (c * numbers + 1.0)
        scatter = max(1.4826 * float(np.median(np.abs(residual))), 0.01)
        weight = (1.0 - np.clip(residual / (4.685 * scatter), -1.0, 1.0) ** 2) ** 2 + 1e-9
    return a, b, c, scatter
