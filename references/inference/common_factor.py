"""Whether all lengths are off by one factor: a wrong reference, a forgotten stand-off, a copy of odd size."""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from references.inference.counts_traits import Given
from references.inference.finding import FeatureFindings, PartFindings
from references.inference.likelihood import GROSS_ERROR_SPAN, feature_likelihood, length_model
from references.inference.options import JudgeOptions
from references.inference.origins import origin_shares
from references.inference.posterior import Belief
from references.release_sheet import Normal, Range, Sheet

Array = NDArray[np.float64]

LEAST = 1e-300
FEWEST_LENGTHS = 2
"""One length that is off is off by itself; two or more can be off together."""
USUAL_LOG_STD, USUAL_SHARE = math.log(1.5), 0.9
"""Most factors are ratios of card and paper sizes and of heights to distances: within a half, either way.
The rest lie anywhere between a thirtieth and thirty, such as inches for millimetres. A choice, no source."""
FINE_STEP, FINE_REACH, COARSE_STEP = 0.01, 0.72, 0.03
"""Steps of the factor's logarithm: fine up to twice the size and half of it, coarse beyond."""
CLOSE_STEP, CLOSE_NODES = 0.001, 121
OUTLIER, SCREEN_EXCESS, SCREEN_PULL = 4.0, 2.5, 2.0
"""A length counts as at most this many standard deviations off. A factor is considered where their
squares exceed the expectation, or their mean 0, by so many standard deviations: one honest specimen in ten
(our own simulation), and every one whose lengths are all clearly off."""


@dataclass(frozen=True, slots=True)
class CommonFactor:
    """One factor on all lengths, or on all of one photo.

    Attributes
    ----------
    probability : float
        That there is one, against the findings taken as they are.
    factor, factor_std : float
        What the lengths read as a multiple of the true ones, and its standard uncertainty.
    photo : str or None
        The photo whose lengths are off; None for all lengths of the specimen.
    """

    probability: float
    factor: float
    factor_std: float
    photo: str | None = None


@dataclass(frozen=True, slots=True, eq=False)
class _Grid:
    """Evenly spaced logarithms of the factor, and the probability of each; `step` blurs the lengths."""

    logs: Array
    step: float
    weights: Array


def common_factor(
    sheet: Sheet, parts: Sequence[PartFindings], belief: Belief, options: JudgeOptions
) -> CommonFactor | None:
    """Weigh the hypothesis that every length of the specimen, or of one photo, is off by the same factor.

    Parameters
    ----------
    sheet, parts, options
        As judged.
    belief : Belief
        What the findings say as they are; its evidence is what the factor has to beat.

    Returns
    -------
    CommonFactor or None
        None where fewer than two features were measured, or a factor is too unlikely to keep a release from
        being named.

    Notes
    -----
    The factor's model is a proper density of the findings like that of the verdict: releases, swapped parts,
    parts of unlisted origin and slips at their stated rates, with the factor's logarithm from a broad prior.
    By Markov's inequality an honest specimen then reaches a probability p of a factor in at most a share
    r / (1 - r) (1 - p) / p of cases, where r is the stated rate. What lengths share within a photo counts as
    independent here, and each length is blurred by the step of the grid, which weakens the hypothesis and
    keeps it proper.
    """
    measured = [each for part in parts for each in part.features if each.readings]
    # The findings as they are may also be those of a release that is not listed.
    as_they_are = belief.log_evidence + math.log1p(-options.unlisted_rate)
    against = (
        as_they_are - math.log(max(1 - belief.unlisted_probability, LEAST)) + math.log(1 - options.scale_rate)
    )
    weighed = [
        (_log_odds(run, options, against), run)
        for photo in (None, *_photos_by_themselves(measured))
        if _lengths_deviate(sheet, _of_photo(measured, photo), belief)
        for run in [_Factored(sheet, parts, options, photo)]
    ]
    if not weighed:
        return None
    any_odds = float(np.logaddexp.reduce([odds for odds, _ in weighed]))
    probability = 1 / (1 + math.exp(min(-any_odds, 700.0)))
    if probability <= 1 - options.name_at:
        return None
    _, run = max(weighed, key=lambda each: each[0])
    found = [(grid, run.log_evidence(grid)) for grid in _grids()]
    best = max(found, key=lambda each: float((each[1] - np.log(each[0].weights)).max()))
    middle = best[0].logs[int((best[1] - np.log(best[0].weights)).argmax())]
    factor, std = _refined_factor(run, float(middle), best[0].step)
    return CommonFactor(probability, factor, std, run.photo)


def _log_odds(run: "_Factored", options: JudgeOptions, against: float) -> float:
    evidence = np.logaddexp.reduce([np.logaddexp.reduce(run.log_evidence(grid)) for grid in _grids()])
    return float(evidence) + math.log(options.scale_rate) - against


def _of_photo(measured: Sequence[FeatureFindings], photo: str | None) -> list[FeatureFindings]:
    """Return the features whose lengths are all of this photo; None stands for all photos."""
    return [each for each in measured if photo is None or {one.photo for one in each.readings} == {photo}]


def _photos_by_themselves(measured: Sequence[FeatureFindings]) -> list[str]:
    """Return the photos that hold several lengths, but not all."""
    photos = sorted({one.photo for each in measured for one in each.readings if one.photo is not None})
    return [photo for photo in photos if FEWEST_LENGTHS <= len(_of_photo(measured, photo)) < len(measured)]


def _lengths_deviate(sheet: Sheet, measured: Sequence[FeatureFindings], belief: Belief) -> bool:
    """Tell whether two lengths or more stray from the likeliest release, singly or together."""
    if len(measured) < FEWEST_LENGTHS:
        return False
    likeliest = sheet.release_ids[int(belief.posterior.argmax())]
    away, scale = [], []
    for each in measured:
        value = each.feature.by_release[likeliest]
        if not isinstance(value, Range | Normal):
            continue
        middle, spread = _middle_and_spread(value)
        for reading in each.readings:
            std = math.hypot(spread, reading.std_mm)
            away.append(max(-OUTLIER, min(OUTLIER, (reading.value_mm - middle) / std)))
            scale.append(middle / std)
    if len(away) < FEWEST_LENGTHS:
        return True  # the likeliest release gives hardly any of these lengths
    off, weight = np.array(away), np.array(scale)
    excess = float((off**2).sum()) - off.size
    pull = abs(float(off @ weight)) / math.sqrt(float(weight @ weight))
    return excess > SCREEN_EXCESS * math.sqrt(2 * off.size) or pull > SCREEN_PULL


def _middle_and_spread(value: Range | Normal) -> tuple[float, float]:
    if isinstance(value, Normal):
        return value.mean_mm, value.sd_mm
    half = (value.high_mm - value.low_mm) / 2
    return (value.low_mm + value.high_mm) / 2, math.hypot(half / math.sqrt(3), value.soft_std_mm)


def _grids() -> tuple[_Grid, _Grid]:
    reach = math.log(GROSS_ERROR_SPAN)
    fine = np.arange(-FINE_REACH, FINE_REACH + FINE_STEP / 2, FINE_STEP)
    beyond = np.arange(FINE_REACH + (FINE_STEP + COARSE_STEP) / 2, reach, COARSE_STEP)
    coarse = np.concatenate([-beyond[::-1], beyond])
    shares = [_prior(fine) * FINE_STEP, _prior(coarse) * COARSE_STEP]
    total = float(sum(each.sum() for each in shares))
    return _Grid(fine, FINE_STEP, shares[0] / total), _Grid(coarse, COARSE_STEP, shares[1] / total)


def _prior(logs: Array) -> Array:
    usual = np.exp(-0.5 * (logs / USUAL_LOG_STD) ** 2) / (math.sqrt(2 * math.pi) * USUAL_LOG_STD)
    return np.asarray(USUAL_SHARE * usual + (1 - USUAL_SHARE) / (2 * math.log(GROSS_ERROR_SPAN)))


def _refined_factor(run: "_Factored", middle: float, step: float) -> tuple[float, float]:
    """Return the factor and its standard uncertainty, with a flat prior on its logarithm."""
    spacing = max(CLOSE_STEP, 6 * step / CLOSE_NODES)
    logs = np.asarray(middle + spacing * (np.arange(CLOSE_NODES, dtype=np.float64) - CLOSE_NODES // 2))
    log_weights = run.log_evidence(_Grid(logs, spacing, np.ones(CLOSE_NODES)))
    weights = np.exp(log_weights - log_weights.max())
    weights /= weights.sum()
    mean = float(weights @ logs)
    std = math.sqrt(float(weights @ (logs - mean) ** 2))
    return math.exp(mean), math.exp(mean) * std


class _Factored:
    """The evidence where every length, or each of one photo, reads a stated multiple of the true one."""

    def __init__(
        self, sheet: Sheet, parts: Sequence[PartFindings], options: JudgeOptions, photo: str | None
    ) -> None:
        self.sheet, self.parts, self.photo = sheet, parts, photo
        self.given = Given(sheet.release_ids, options)
        self.as_read: dict[int, Array] = {}
        self.log_prior = np.log([max(release.prior, LEAST) for release in sheet.releases])

    def log_evidence(self, grid: _Grid) -> Array:
        """Return the logarithm of weight times evidence at each factor, releases summed over."""
        total = np.log(grid.weights) + self.log_prior[:, None]
        for part in self.parts:
            total = total + np.log(np.maximum(self._part(part, grid), LEAST))
        return np.asarray(np.logaddexp.reduce(total, axis=0))

    def _part(self, findings: PartFindings, grid: _Grid) -> Array:
        """Return the probability of a part's findings: (releases, 1 or factors)."""
        if findings.present is None:
            return np.ones((1, 1))
        count = len(self.given.releases)
        shares = origin_shares(self.sheet, findings.part, self.given.options)
        if not findings.present:
            return np.asarray(1 - shares.sum(axis=1, keepdims=True))
        by_origin = np.ones((count + 1, 1))
        for each in findings.features:
            by_origin = by_origin * self._feature(each, grid)
        absent = [index for index, key in enumerate(self.given.releases) if findings.part.absent_from(key)]
        by_origin[absent] = 0.0
        # Copies of single parts don't matter here, where all lengths are off.
        whole = np.hstack([shares[:, :count] + shares[:, count : 2 * count], shares[:, -1:]])
        return np.asarray(whole @ by_origin)

    def _feature(self, findings: FeatureFindings, grid: _Grid) -> Array:
        is_off = bool(_of_photo([findings], self.photo)) and bool(findings.readings)
        if not is_off:  # the same at each factor
            if id(findings) not in self.as_read:
                self.as_read[id(findings)] = self._likelihood(findings, 0.0, np.zeros(1))
            return self.as_read[id(findings)]
        return self._likelihood(findings, grid.step / math.sqrt(12), 1 - np.exp(grid.logs))

    def _likelihood(self, findings: FeatureFindings, blur: float, shrink: Array) -> Array:
        readings = tuple(
            replace(
                each,
                own_std_mm=math.hypot(each.std_mm, blur * each.value_mm),
                shared_std_mm=0.0,
                standoff_std_mm=0.0,
            )
            for each in findings.readings
        )
        model = length_model(findings.feature, self.given.releases) if readings else None
        blurred = replace(findings, readings=readings)
        shifts = np.zeros((len(readings), 1))
        found = feature_likelihood(blurred, model, shifts, shrink, given=self.given)
        return found[:, :, 0]
