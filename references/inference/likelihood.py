"""How likely a finding is under each release: production spread convolved with measurement uncertainty."""

import itertools
import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from references.inference.counts_traits import Given, count_likelihood, trait_likelihood
from references.inference.densities import OUT_OF_SIGHT, ROOT_TWO_PI, even_density, normal_density, t_mixture
from references.inference.finding import FeatureFindings, Reading
from references.inference.options import JudgeOptions
from references.release_sheet import DEFAULT_EXAMPLES, Feature, Normal, Range, Value

Array = NDArray[np.float64]

UNLISTED_STD_SHARE = 0.12
"""Spread in size of parts from no release of the sheet, as a share of the sheet's own size."""
GROSS_ERROR_SPAN = 30.0
"""A gross error reads from a thirtieth to thirty times the sheet's size, uniformly in its logarithm."""
NARROWEST_MM = 0.001
"""Least half-width of a range, so that a range of one value has a density."""
UNKNOWN_SIZE_MM = (50.0, 150.0)
"""Used as the size of a feature that no release gives."""
MOST_SUBSETS_OF = 5
"""Up to this many readings of one feature, any of them may be gross errors; beyond, at most two."""


@dataclass(frozen=True, slots=True, eq=False)
class LengthModel:
    """Densities of one dimension under each release, and for a part of none of them.

    Attributes
    ----------
    index : (releases + 1,) array of int
        Which distinct value belongs to each release, and last to unlisted origin; ranges come first.
    middle_mm, half_width_mm, soft_std_mm : arrays
        The distinct ranges.
    normals : tuple of Normal
        The distinct means and spreads.
    mean_mm, sd_mm : (releases + 1,) arrays
        Mean and standard deviation under each release and for unlisted origin.
    centre_mm : float
        Middle of all releases.
    edge_std_mm : float
        The least spread at the limits of any release: how sharp the densities can get.
    spread_std_mm : float
        The least standard deviation of any release.
    """

    index: NDArray[np.intp]
    middle_mm: Array
    half_width_mm: Array
    soft_std_mm: Array
    normals: tuple[Normal, ...]
    mean_mm: Array
    sd_mm: Array
    centre_mm: float
    edge_std_mm: float
    spread_std_mm: float

    def densities(self, x_mm: Array, std_mm: Array) -> Array:
        """Return the density of a reading under each release and for a part of unlisted origin.

        Parameters
        ----------
        x_mm : (S, N) array
            Readings.
        std_mm : (S, 1) array
            Standard uncertainty of the readings.

        Returns
        -------
        (releases + 1, S, N) array
            Per mm, the last row for unlisted origin.
        """
        each = np.zeros((self.middle_mm.size + len(self.normals), *x_mm.shape))
        reach = self.half_width_mm + OUT_OF_SIGHT * np.hypot(std_mm.max(), self.soft_std_mm)
        near = (x_mm.max() > self.middle_mm - reach) & (x_mm.min() < self.middle_mm + reach)
        wide = (near.nonzero()[0], None, None)
        spread = np.hypot(std_mm, self.soft_std_mm[wide])
        each[: near.size][near] = even_density(x_mm - self.middle_mm[wide], self.half_width_mm[wide], spread)
        for row, value in enumerate(self.normals, start=near.size):
            each[row] = _spread_density(value, x_mm, std_mm)
        return np.asarray(each[self.index])

    def gross_error_density(self, x_mm: float) -> float:
        """Return the density of a reading that is a gross error.

        Parameters
        ----------
        x_mm : float
            The reading, above 0.

        Returns
        -------
        float
            Per mm; a thousandth of it outside `GROSS_ERROR_SPAN` of the middle, and never 0.
        """
        inside = self.centre_mm / GROSS_ERROR_SPAN <= x_mm <= self.centre_mm * GROSS_ERROR_SPAN
        share = 1.0 if inside else 1e-3
        return float(share) / (2 * math.log(GROSS_ERROR_SPAN) * max(x_mm, self.centre_mm / GROSS_ERROR_SPAN))

    def misplaced_density(self, x_mm: float, std_mm: float, options: JudgeOptions) -> Array:
        """Return the density of a reading whose points were put on another edge than the sheet means.

        Parameters
        ----------
        x_mm, std_mm : float
            The reading and its whole standard uncertainty.
        options : JudgeOptions
            Gives how far off such a length is.

        Returns
        -------
        (releases + 1,) array
            Per mm, the last one for unlisted origin.
        """
        std = np.sqrt(self.sd_mm**2 + std_mm**2 + options.misplaced_std_mm(self.centre_mm) ** 2)
        return normal_density(x_mm - self.mean_mm, std)


def _spread_density(value: Normal, x_mm: Array, std_mm: Array) -> Array:
    offset = x_mm - value.mean_mm
    if value.examples is None:
        return normal_density(offset, np.hypot(std_mm, value.sd_mm))
    weights, variances = t_mixture(value.examples - 1)
    scale2 = value.sd_mm**2 * (1 + 1 / value.examples)
    total = np.zeros(np.broadcast_shapes(offset.shape, std_mm.shape))
    for weight, variance in zip(weights, variances, strict=True):
        total += weight * normal_density(offset, np.sqrt(variance * scale2 + std_mm**2))
    return total


@lru_cache(maxsize=4096)
def _length_model(values: tuple[Value, ...]) -> LengthModel:
    unlisted = unlisted_spread(values)
    values = _pooled(values)
    shapes = [value if isinstance(value, Range | Normal) else unlisted for value in (*values, unlisted)]
    ranges = list(dict.fromkeys(shape for shape in shapes if isinstance(shape, Range)))
    normals = list(dict.fromkeys(shape for shape in shapes if isinstance(shape, Normal)))
    order: list[Range | Normal] = [*ranges, *normals]
    half_width = np.array([max((value.high_mm - value.low_mm) / 2, NARROWEST_MM) for value in ranges])
    soft_std = np.array([value.soft_std_mm for value in ranges])
    sds = np.array([value.sd_mm for value in normals])
    means, spreads = zip(*(_mean_and_sd(shape) for shape in shapes), strict=True)
    return LengthModel(
        index=np.array([order.index(shape) for shape in shapes]),
        mean_mm=np.array(means),
        sd_mm=np.array(spreads),
        middle_mm=np.array([(value.low_mm + value.high_mm) / 2 for value in ranges]),
        half_width_mm=half_width,
        soft_std_mm=soft_std,
        normals=tuple(normals),
        centre_mm=unlisted.mean_mm,
        edge_std_mm=float(np.concatenate([soft_std, sds]).min()),
        spread_std_mm=float(np.concatenate([np.hypot(half_width / math.sqrt(3), soft_std), sds]).min()),
    )


def _pooled(values: tuple[Value, ...]) -> tuple[Value, ...]:
    """Give ranges with the same limits the same number of examples, the largest.

    Whoever writes the same limits for two releases takes their parts for the same; better knowledge of one
    then tells nothing about which of the two a part is.
    """
    most: dict[tuple[float, float], int] = {}
    for value in values:
        if isinstance(value, Range):
            most[value.limits_mm] = max(most.get(value.limits_mm, 0), value.examples or DEFAULT_EXAMPLES)
    return tuple(
        replace(value, examples=most[value.limits_mm]) if isinstance(value, Range) else value
        for value in values
    )


def _mean_and_sd(value: Range | Normal) -> tuple[float, float]:
    if isinstance(value, Normal):
        return value.mean_mm, value.sd_mm * math.sqrt(1 + 1 / (value.examples or math.inf))
    half = (value.high_mm - value.low_mm) / 2
    return (value.low_mm + value.high_mm) / 2, math.hypot(half / math.sqrt(3), value.soft_std_mm)


def unlisted_spread(values: Sequence[Value]) -> Normal:
    """Return the spread of lengths of parts that come from none of the releases."""
    hulls = [_hull(value) for value in values if isinstance(value, Range | Normal)] or [UNKNOWN_SIZE_MM]
    low, high = min(low for low, _ in hulls), max(high for _, high in hulls)
    centre = (low + high) / 2
    return Normal(centre, max(UNLISTED_STD_SHARE * centre, (high - low) / 2, NARROWEST_MM))


def _hull(value: Range | Normal) -> tuple[float, float]:
    if isinstance(value, Range):
        return value.low_mm, value.high_mm
    return value.mean_mm - 2 * value.sd_mm, value.mean_mm + 2 * value.sd_mm


def length_model(feature: Feature, releases: Sequence[str]) -> LengthModel:
    """Return the densities of a dimension; a release whose value is unknown is as wide as unlisted origin.

    Parameters
    ----------
    feature : Feature
        A dimension.
    releases : sequence of str
        Keys of releases, in the order that the densities are to have.

    Returns
    -------
    LengthModel
        Equal values give the same object, so that densities can be kept by it.
    """
    return _length_model(tuple(feature.by_release[release] for release in releases))


@lru_cache(maxsize=4096)
def point_density(model: LengthModel, value_mm: float, std_mm: float) -> Array:
    """Return the density of one reading under each release and for a part of unlisted origin.

    Parameters
    ----------
    model : LengthModel
        The densities of the dimension.
    value_mm : float
        The reading.
    std_mm : float
        Its standard uncertainty, above 0.

    Returns
    -------
    (releases + 1,) array
        Per mm, the last one for unlisted origin. The array is kept and read-only.
    """
    density = model.densities(np.array([[value_mm]]), np.array([[std_mm]]))[:, 0, 0]
    density.setflags(write=False)
    return np.asarray(density)


def slip_density(model: LengthModel, reading: Reading, options: JudgeOptions) -> Array:
    """Return the density of a reading that is no measurement of its feature: a slip, or of another edge.

    Parameters
    ----------
    model : LengthModel
        The densities of the dimension.
    reading : Reading
        The reading.
    options : JudgeOptions
        The rates of both.

    Returns
    -------
    (releases + 1,) array
        Per mm, the last one for unlisted origin; both rates are in it.
    """
    slips = (1 - options.misplaced_rate) * options.gross_error_rate
    misplaced = model.misplaced_density(reading.value_mm, reading.std_mm, options)
    return slips * model.gross_error_density(reading.value_mm) + options.misplaced_rate * misplaced


def length_likelihood(
    model: LengthModel, readings: Sequence[Reading], shifts_mm: Array, shrink: Array, options: JudgeOptions
) -> Array:
    """Return the likelihood of all readings of one feature.

    Parameters
    ----------
    model : LengthModel
        Densities of the feature.
    readings : sequence of Reading
        The readings; all are of the same part, so of the same true length.
    shifts_mm : (M, N) array
        Shared error of each reading at each node of the photos' scale errors.
    shrink : (S,) array
        Shares by which a copy is smaller than the part.
    options : JudgeOptions
        Gives the rate of gross errors.

    Returns
    -------
    (releases + 1, S, N) array
        The last row is for unlisted origin.

    Notes
    -----
    A true length x on a copy shrunk by s reads y = x (1 - s) + shared error + own error. Given which readings
    are gross errors, the rest combine into their weighted mean, which is sufficient for x. The readings of
    one photo may all be of another edge than the sheet means: they then agree on a length that lies somewhere
    around the right one, so that the same points placed again prove nothing.
    """
    stretch = 1 / (1 - shrink[:, None])
    misplaced_rate = options.misplaced_rate
    if len(readings) == 1:  # by far the most frequent, and the same as below
        reading = readings[0]
        density = model.densities((reading.value_mm - shifts_mm) * stretch, reading.own_std_mm * stretch)
        density *= (1 - misplaced_rate) * (1 - options.gross_error_rate) * stretch
        slips = options.gross_error_rate * model.gross_error_density(reading.value_mm)
        density += (1 - misplaced_rate) * slips
        misplaced = model.misplaced_density(reading.value_mm, reading.std_mm, options)
        density += misplaced_rate * misplaced[:, None, None]
        return density
    groups = _placed_together(readings)
    total = np.zeros((len(model.index), shrink.size, shifts_mm.shape[1]))
    for wrong in _wrong_groups(len(groups)):
        share = misplaced_rate ** len(wrong) * (1 - misplaced_rate) ** (len(groups) - len(wrong))
        factor = np.ones(len(model.index))
        for group in wrong:
            factor = factor * _misplaced_together(
                model, [readings[index] for index in groups[group]], options
            )
        rows = [index for number, group in enumerate(groups) if number not in wrong for index in group]
        well_placed = _well_placed(model, [readings[row] for row in rows], shifts_mm[rows], stretch, options)
        total += share * factor[:, None, None] * well_placed
    return total


def _placed_together(readings: Sequence[Reading]) -> list[list[int]]:
    """Return the readings whose points share a misunderstanding: those of one photo."""
    groups: dict[str, list[int]] = {}
    for index, reading in enumerate(readings):
        groups.setdefault(f"by hand {index}" if reading.photo is None else reading.photo, []).append(index)
    return list(groups.values())


def _wrong_groups(count: int) -> Iterator[tuple[int, ...]]:
    most = count if count <= MOST_SUBSETS_OF else 2
    for size in range(most + 1):
        yield from itertools.combinations(range(count), size)


def _misplaced_together(model: LengthModel, readings: Sequence[Reading], options: JudgeOptions) -> Array:
    mean, std, agreement = _combine(readings, np.zeros((len(readings), 1)))
    shared = max(math.hypot(reading.shared_std_mm, reading.standoff_std_mm) for reading in readings)
    density = model.misplaced_density(float(mean[0]), math.hypot(std, shared), options)
    return density * float(agreement[0])


def _well_placed(
    model: LengthModel, readings: Sequence[Reading], shifts_mm: Array, stretch: Array, options: JudgeOptions
) -> Array:
    """Return the likelihood of readings of the feature that the sheet means, some of them gross errors."""
    total = np.zeros((len(model.index), stretch.shape[0], shifts_mm.shape[1]))
    gross_errors = [model.gross_error_density(reading.value_mm) for reading in readings]
    for good in _good_subsets(len(readings)):
        bad = [index for index in range(len(readings)) if index not in good]
        share = (1 - options.gross_error_rate) ** len(good) * options.gross_error_rate ** len(bad)
        share *= math.prod(gross_errors[index] for index in bad)
        if not good:
            total += share
            continue
        mean, std, agreement = _combine([readings[index] for index in good], shifts_mm[list(good)])
        density = model.densities(mean[None, :] * stretch, std * stretch) * stretch
        total += share * agreement * density
    return total


def _good_subsets(size: int) -> Iterator[tuple[int, ...]]:
    least = 0 if size <= MOST_SUBSETS_OF else size - 2
    for count in range(size, least - 1, -1):
        yield from itertools.combinations(range(size), count)


def _combine(readings: Sequence[Reading], shifts_mm: Array) -> tuple[Array, float, Array]:
    """Return weighted mean at each node, its standard uncertainty, and how well the readings agree."""
    values = np.array([reading.value_mm for reading in readings])[:, None] - shifts_mm
    stds = np.array([reading.own_std_mm for reading in readings])[:, None]
    precision = stds**-2
    variance = 1 / precision.sum()
    mean = (values * precision).sum(axis=0) * variance
    std = float(np.sqrt(variance))
    misfit = (((values - mean) / stds) ** 2).sum(axis=0)
    scale = ROOT_TWO_PI * std / float(np.prod(ROOT_TWO_PI * stds))
    return mean, std, scale * np.exp(-0.5 * misfit)


def feature_likelihood(
    findings: FeatureFindings, model: LengthModel | None, shifts_mm: Array, shrink: Array, *, given: Given
) -> Array:
    """Return the likelihood of all findings on one feature: (releases + 1, 1 or S, 1 or N)."""
    if model is not None:
        return length_likelihood(model, findings.readings, shifts_mm, shrink, given.options)
    if findings.counts:
        return count_likelihood(findings.feature, findings.counts, given)[:, None, None]
    return trait_likelihood(findings.feature, findings.words, given)[:, None, None]
