"""Measured examples of a release, and the outliers among them."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from scipy.special import stdtr

from references.learning.spread import estimate_spread
from references.release_sheet import Feature, Sheet, format_pair

OUTLIER_LEVEL = 0.05
FEWEST_FOR_OUTLIERS = 4


@dataclass(frozen=True, slots=True)
class Example:
    """One measured length of a specimen whose release is known.

    Attributes
    ----------
    name : str
        The specimen.
    value_mm, standard_uncertainty_mm : float
    """

    name: str
    value_mm: float
    standard_uncertainty_mm: float


@dataclass(frozen=True, slots=True)
class Outlier:
    """An example that does not fit the others.

    Attributes
    ----------
    example : Example
    chance : float
        Probability that the farthest of this many lies this far off, if all are alike.
    reason : str
        The same in words, with what it may be instead.
    """

    example: Example
    chance: float
    reason: str


def one_per_specimen(examples: Sequence[Example]) -> list[Example]:
    """Combine repeated measurements of one specimen, so that it counts once.

    The weighted mean keeps the smallest of the uncertainties: repeats on one photo share most of theirs.
    """
    by_name: dict[str, list[Example]] = {}
    for example in examples:
        by_name.setdefault(example.name, []).append(example)
    return [_together(name, repeats) for name, repeats in by_name.items()]


def _together(name: str, repeats: Sequence[Example]) -> Example:
    stds = [max(repeat.standard_uncertainty_mm, 1e-6) for repeat in repeats]
    weights = [std**-2 for std in stds]
    mean = sum(w * repeat.value_mm for w, repeat in zip(weights, repeats, strict=True)) / sum(weights)
    return Example(name, mean, min(repeat.standard_uncertainty_mm for repeat in repeats))


def find_outliers(
    examples: Sequence[Example], sheet: Sheet, feature: Feature, release: str
) -> tuple[Outlier, ...]:
    """Name the outliers among the examples, the farthest first.

    Notes
    -----
    Each example is compared with mean and spread of all others; the probability is that of the farthest of n
    (Bonferroni). With no measurement uncertainty this is Grubbs' test at 5 %. It is repeated on the rest
    while it finds one, so that a second outlier does not hide behind the first.
    """
    rest, found = list(examples), []
    while len(rest) >= FEWEST_FOR_OUTLIERS:
        worst = min((_against_others(rest, index) for index in range(len(rest))), key=lambda item: item[2])
        index, _, chance, _ = worst
        if chance >= OUTLIER_LEVEL:
            break
        example = rest.pop(index)
        found.append(Outlier(example, chance, _reason(example, worst, sheet, feature, release)))
    return tuple(found)


def _against_others(examples: Sequence[Example], index: int) -> tuple[int, float, float, float]:
    others = [example for position, example in enumerate(examples) if position != index]
    spread = estimate_spread(
        [other.value_mm for other in others], [other.standard_uncertainty_mm for other in others]
    )
    example = examples[index]
    std = math.sqrt(spread.sd_mm**2 + example.standard_uncertainty_mm**2 + spread.mean_std_mm**2)
    offset = example.value_mm - spread.mean_mm
    distance = offset / std if std > 0 else math.copysign(math.inf, offset) if offset else 0.0
    chance = min(1.0, 2 * len(examples) * float(stdtr(len(examples) - 2, -abs(distance))))
    return index, distance, chance, spread.mean_mm


def _reason(
    example: Example, found: tuple[int, float, float, float], sheet: Sheet, feature: Feature, release: str
) -> str:
    _, distance, chance, mean = found
    shown = format_pair(example.value_mm, 1.96 * example.standard_uncertainty_mm, sheet.unit)
    side = "above" if distance > 0 else "below"
    odds = "under 0.1 %" if chance < 0.001 else f"{100 * chance:.1f} %"
    text = (
        f"{example.name}: {shown} lies {abs(distance):.1f} standard deviations {side} the mean of the others "
        f"({format_pair(mean, 0, sheet.unit)}); chance {odds} if all are alike."
    )
    fits = [
        other.name
        for other in sheet.releases
        if other.id != release
        and (limits := feature.limits_mm(other.id))
        and limits[0] <= example.value_mm <= limits[1]
    ]
    if fits:
        others = " and ".join(fits)
        return f"{text} It lies in the range of {others}: is its release noted wrongly, or the part swapped?"
    return f"{text} Check the measurement and the specimen; it stays in unless you leave it out."
