"""Proposes a range for a release from specimens whose release is known."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from references.errors import SampleError
from references.learning.examples import Example, Outlier, find_outliers, one_per_specimen
from references.learning.spread import Spread, estimate_spread
from references.learning.tolerance_limits import (
    examples_for_extremes,
    examples_to_separate,
    extremes_confidence,
    prediction_factor,
    tolerance_factor,
)
from references.release_sheet import Feature, Normal, Range, Sheet

LEAST_FREEDOM = 1.0
"""With fewer degrees of freedom left, the intervals include the measuring spread, to be safe."""
LEAST_SD_MM = 1e-6
UNRESOLVED_SHARE = 0.5
"""Where the parts' spread is not resolved, this share of its upper limit is proposed."""


@dataclass(frozen=True, slots=True)
class Learnt:
    """What measured examples tell about a feature of a release.

    Attributes
    ----------
    release, part, feature : str
    spread : Spread
    content, confidence : float
        Of the statistical tolerance interval.
    tolerance_mm, prediction_mm : (float, float)
        Statistical tolerance interval, and the interval that one more specimen falls into at 95 %.
    seen_mm : (float, float)
        Smallest and largest example.
    outliers : tuple of Outlier
        Named, and still counted in every number.
    left_out : tuple of Example
        Examples that the user chose to leave out.
    notes : tuple of str
        What to know about the numbers.
    """

    release: str
    part: str
    feature: str
    spread: Spread
    content: float
    confidence: float
    tolerance_mm: tuple[float, float]
    prediction_mm: tuple[float, float]
    seen_mm: tuple[float, float]
    outliers: tuple[Outlier, ...]
    left_out: tuple[Example, ...]
    notes: tuple[str, ...]

    def as_spread(self, source: str) -> Normal:
        """Return mean, spread and number of examples as the sheet writes them.

        Parameters
        ----------
        source : str
            Where the examples come from; names of those left out are added.

        Returns
        -------
        Normal
            Lengths in mm to three decimals. Where the parts' spread is not resolved, a share of its upper
            limit.

        Raises
        ------
        SampleError
            All examples are equal and say nothing of a spread.
        """
        sd = self.spread.sd_mm or UNRESOLVED_SHARE * self.spread.sd_upper_mm or self.spread.reading_std_mm
        if sd <= 0:
            raise SampleError(f"{self.part}, {self.feature}: all examples are equal; write a range instead")
        return Normal(_rounded(self.spread.mean_mm), _rounded(sd), self.spread.examples, self._source(source))

    def as_range(self, source: str) -> Range:
        """Return the smallest and the largest example as the sheet writes them.

        Parameters
        ----------
        source : str
            Where the examples come from; names of those left out are added.

        Returns
        -------
        Range
            Limits in mm, to three decimals, as measured: neither widened nor narrowed by uncertainties.
        """
        low, high = self.seen_mm
        return Range(_rounded(low), _rounded(high), self.spread.examples, self._source(source))

    def _source(self, source: str) -> str:
        if not self.left_out:
            return source
        return f"{source}; left out: {', '.join(example.name for example in self.left_out)}"


def _rounded(length_mm: float) -> float:
    return round(length_mm, 3)


def learn(
    sheet: Sheet,
    place: tuple[str, str, str],
    examples: Sequence[Example],
    *,
    content: float = 0.95,
    confidence: float = 0.95,
    leave_out: Sequence[str] = (),
) -> Learnt:
    """Propose a range for one feature of one release.

    Parameters
    ----------
    sheet : Sheet
        The sheet that the feature belongs to.
    place : (str, str, str)
        Release, part and feature.
    examples : sequence of Example
        Lengths of specimens of that release.
    content, confidence : float
        Of the statistical tolerance interval.
    leave_out : sequence of str
        Names of examples that the user leaves out; the source keeps their names.

    Returns
    -------
    Learnt
        In mm; outliers are named, and still counted.

    Raises
    ------
    SampleError
        Where the sheet has no such dimension, or fewer than two examples remain.
    """
    release, part_id, feature_id = place
    feature = _dimension(sheet, place)
    once = one_per_specimen(examples)
    kept = [example for example in once if example.name not in leave_out]
    out = tuple(example for example in once if example.name in leave_out)
    spread = _spread(kept, f"{part_id}, {feature_id}, {release}")
    tolerance, prediction, notes = _intervals(spread, content, confidence)
    seen = min(example.value_mm for example in kept), max(example.value_mm for example in kept)
    held = extremes_confidence(len(kept), content)
    notes = (
        *notes,
        f"Smallest to largest of {len(kept)} holds {_percent(content)} of all parts with {_percent(held)} "
        f"confidence; {_percent(confidence)} takes {examples_for_extremes(content, confidence)} examples.",
    )
    return Learnt(
        release=release,
        part=part_id,
        feature=feature_id,
        spread=spread,
        content=content,
        confidence=confidence,
        tolerance_mm=tolerance,
        prediction_mm=prediction,
        seen_mm=seen,
        outliers=find_outliers(kept, sheet, feature, release),
        left_out=out,
        notes=notes,
    )


def _dimension(sheet: Sheet, place: tuple[str, str, str]) -> Feature:
    release, part_id, feature_id = place
    part = sheet.part(part_id)
    feature = part.feature(feature_id) if part else None
    if sheet.release(release) is None:
        raise SampleError(
            f'release "{release}" is not in the sheet; expected one of {", ".join(sheet.release_ids)}'
        )
    if feature is None or feature.kind != "dimension":
        raise SampleError(f'part "{part_id}", feature "{feature_id}": the sheet has no such dimension')
    return feature


def _spread(examples: Sequence[Example], where: str) -> Spread:
    try:
        values = [example.value_mm for example in examples]
        return estimate_spread(values, [example.standard_uncertainty_mm for example in examples])
    except SampleError as error:
        raise SampleError(f"{where}: {error}") from None


def _intervals(
    spread: Spread, content: float, confidence: float
) -> tuple[tuple[float, float], tuple[float, float], tuple[str, ...]]:
    """Return tolerance interval, prediction interval and what to know about them."""
    notes: list[str] = []
    sd, freedom, examples = spread.sd_mm, spread.degrees_of_freedom, float(spread.examples)
    if sd > 0:
        examples = (sd / spread.mean_std_mm) ** 2
    if freedom < LEAST_FREEDOM:
        sd, freedom, examples = (
            max(spread.seen_sd_mm, spread.reading_std_mm),
            spread.examples - 1,
            spread.examples,
        )
        notes.append(
            "The examples scatter hardly more than their uncertainties explain, so the spread of the parts "
            f"is not resolved (at most {spread.sd_upper_mm:.2g} mm with 95 % confidence), and the "
            "intervals include the measuring spread."
        )
    k = tolerance_factor(round(examples, 6), content, confidence, degrees_of_freedom=round(freedom, 6))
    t = prediction_factor(examples, 0.95, degrees_of_freedom=freedom)
    mean = spread.mean_mm
    return (max(0.0, mean - k * sd), mean + k * sd), (max(0.0, mean - t * sd), mean + t * sd), tuple(notes)


def separation_notes(learnt: Learnt, sheet: Sheet, *, others: Sequence[Learnt] = ()) -> tuple[str, ...]:
    """Say how many examples of each release would keep the learnt release apart from every other one.

    Parameters
    ----------
    learnt : Learnt
        The release learnt.
    sheet : Sheet
        Gives mean and spread of releases not learnt along with it; of a range, those of an even spread.
    others : sequence of Learnt
        Releases learnt along with it, which count before the sheet.

    Returns
    -------
    tuple of str
        A sentence for each other release whose spread is known, in the sheet's order.

    Raises
    ------
    SampleError
        The sheet lacks the release, or has no such dimension.
    """
    feature = _dimension(sheet, (learnt.release, learnt.part, learnt.feature))
    known = {
        other.release: (other.spread.mean_mm, _cautious_sd(other.spread))
        for other in others
        if (other.part, other.feature) == (learnt.part, learnt.feature)
    }
    notes = []
    for release in sheet.releases:
        value = feature.by_release[release.id]
        if isinstance(value, Range):
            half = (value.high_mm - value.low_mm) / 2
            known.setdefault(release.id, (value.low_mm + half, half / math.sqrt(3)))
        elif isinstance(value, Normal):
            known.setdefault(release.id, (value.mean_mm, value.sd_mm))
        if release.id != learnt.release and release.id in known:
            notes.append(_separation_note(learnt, release.name, *known[release.id]))
    return tuple(notes)


def _separation_note(learnt: Learnt, other: str, mean_mm: float, sd_mm: float) -> str:
    gap = abs(learnt.spread.mean_mm - mean_mm)
    sds = _cautious_sd(learnt.spread), max(sd_mm, LEAST_SD_MM)
    needed = examples_to_separate(gap, *sds, content=learnt.content, confidence=learnt.confidence)
    if needed is None:
        return f"No number of examples keeps it apart from {other}: the releases themselves overlap."
    have = learnt.spread.examples
    enough = "there are enough" if have >= needed else f"{needed - have} more are needed"
    return f"{needed} examples of each keep it apart from {other}; {enough}."


def _cautious_sd(spread: Spread) -> float:
    return max(spread.sd_mm, UNRESOLVED_SHARE * spread.sd_upper_mm if spread.sd_mm == 0 else 0.0, LEAST_SD_MM)


def _percent(share: float) -> str:
    return f"{100 * share:.3g} %"
