"""Looks for what keeps a release from being named, however likely the sheet's model makes it."""

import itertools
from collections.abc import Iterator, Sequence
from dataclasses import replace
from typing import Literal

from scipy.special import bdtrc

from references.inference import (
    Belief,
    FeatureFindings,
    JudgeOptions,
    PartFindings,
    Reading,
    chance_of_scatter,
    common_factor,
)
from references.release_sheet import Part, Sheet
from references.verdict.doubts import Doubt, DoubtedLength
from references.verdict.part_verdict import FindingVerdict, PartVerdict

FEWEST_DISMISSED = 2
"""One slip is no reason to withhold a release; see `JudgeOptions.astray_rate`."""
FEW_READINGS = 20
"""Among so few lengths two that are dismissed always keep a release from being named. A choice, no source."""

EXPLAINED_AT = 0.5
"""A common factor likelier than not explains the dismissed lengths as well."""


def find_doubts(
    sheet: Sheet,
    parts: Sequence[PartFindings],
    belief: Belief,
    verdicts: Sequence[PartVerdict],
    options: JudgeOptions,
    *,
    genuine: bool,
) -> tuple[Doubt, ...]:
    """Return what keeps a release from being named, the weightiest first.

    Parameters
    ----------
    sheet, parts, belief, options
        As judged.
    verdicts : sequence of PartVerdict
        The verdict on each part, as the sheet's model has it.
    genuine : bool
        By that model it is of a listed release, and no copy.

    Returns
    -------
    tuple of Doubt
        Empty where the sheet's model is not in doubt.

    Notes
    -----
    The verdict's probabilities hold among the hypotheses that it knows. Each doubt is a sign that none of
    them is true: readings of one feature that no true length explains (chi-squared), lengths that one common
    factor explains better, more dismissed lengths than slips at their stated rate would give
    (binomial), and lengths that all lie outside every release's range.
    """
    contradictions = tuple(_contradictions(parts, options))
    factor = tuple(_factor(sheet, parts, belief, options))
    if any((doubt.probability or 0.0) > EXPLAINED_AT for doubt in factor):
        return (*factor, *contradictions)
    apart = {(length.part, length.feature) for doubt in contradictions for length in doubt.lengths}
    slips = tuple(_slips(parts, verdicts, apart, options))
    # Where nothing fits, that says more than that each length looks like a slip.
    outside = tuple(_nothing_fits(verdicts, options)) if genuine and not factor else ()
    return (*contradictions, *(() if outside else slips), *factor, *outside)


def undoubted(parts: Sequence[PartFindings], doubts: Sequence[Doubt]) -> tuple[PartFindings, ...]:
    """Return the findings without the lengths that are in doubt."""
    doubted = {(length.part, length.feature) for doubt in doubts for length in doubt.lengths}
    return tuple(
        replace(part, features=tuple(f for f in part.features if (part.part.id, f.feature.id) not in doubted))
        for part in parts
    )


def withhold(verdicts: Sequence[PartVerdict], doubts: Sequence[Doubt]) -> tuple[PartVerdict, ...]:
    """Return the verdicts on parts, less what the doubts forbid.

    A part in doubt cannot tell; and while no release is named, no part is foreign.
    """
    doubted = frozenset[str]().union(*(doubt.parts for doubt in doubts))
    return tuple(
        replace(part, outcome="cannot tell", releases=(), foreign=False)
        if part.part in doubted
        else replace(part, foreign=False)
        for part in verdicts
    )


def doubted_outcome(doubts: Sequence[Doubt]) -> Literal["scale in doubt", "cannot tell"]:
    """Return what a verdict with doubts says: "scale in doubt" where that explains the findings."""
    explained = doubts[0].code == "common factor" and (doubts[0].probability or 0.0) > EXPLAINED_AT
    return "scale in doubt" if explained else "cannot tell"


def _factor(
    sheet: Sheet, parts: Sequence[PartFindings], belief: Belief, options: JudgeOptions
) -> Iterator[Doubt]:
    found = common_factor(sheet, parts, belief, options)
    if found is not None:
        lengths = [
            _doubted(part.part, each, options)
            for part in parts
            for each in part.features
            if found.photo is None or {one.photo for one in each.readings} == {found.photo}
        ]
        expanded = options.coverage_factor * found.factor_std
        together = tuple(itertools.chain.from_iterable(lengths))
        yield Doubt("common factor", together, found.probability, found.factor, expanded, found.photo)


def _doubted(part: Part, findings: FeatureFindings, options: JudgeOptions) -> tuple[DoubtedLength, ...]:
    return tuple(_length(part.id, findings.feature.id, each, options) for each in findings.readings)


def _length(part: str, feature: str, reading: Reading, options: JudgeOptions) -> DoubtedLength:
    return DoubtedLength(part, feature, reading.value_mm, options.coverage_factor * reading.std_mm)


def _contradictions(parts: Sequence[PartFindings], options: JudgeOptions) -> Iterator[Doubt]:
    repeated = [(part.part, each) for part in parts for each in part.features if len(each.readings) > 1]
    for part, each in repeated:
        chance = chance_of_scatter(
            [reading.value_mm for reading in each.readings], [reading.std_mm for reading in each.readings]
        )
        # Bonferroni: many repeated features together raise no more false alarms than one.
        if chance < options.chance_at / len(repeated):
            yield Doubt("contradiction", _doubted(part, each, options), chance)


def _slips(
    parts: Sequence[PartFindings],
    verdicts: Sequence[PartVerdict],
    apart: set[tuple[str, str]],
    options: JudgeOptions,
) -> Iterator[Doubt]:
    readings = sum(len(part.readings) for part in parts)
    dismissed = tuple(
        _judged_length(part, each, options)
        for part in verdicts
        for each in part.findings
        if each.dismissed and (part.part, each.feature) not in apart
    )
    if len(dismissed) < FEWEST_DISMISSED:
        return
    chance = float(bdtrc(len(dismissed) - 1, readings, options.astray_rate))
    if readings <= FEW_READINGS or chance < options.chance_at:
        yield Doubt("slips", dismissed, chance)


def _nothing_fits(verdicts: Sequence[PartVerdict], options: JudgeOptions) -> Iterator[Doubt]:
    found = [(part, each) for part in verdicts for each in part.findings if isinstance(each.value, float)]
    several = len({part.part for part, _ in found}) > 1  # a single one is just a part that fits none
    if several and not any(each.is_known_of(_giving(each)) for _, each in found):
        yield Doubt("nothing fits", tuple(_judged_length(part, each, options) for part, each in found))


def _giving(finding: FindingVerdict) -> list[str]:
    """Return the releases for which the sheet gives the feature."""
    return [key for key, fit in finding.by_release.items() if fit.conformance_probability is not None]


def _judged_length(part: PartVerdict, finding: FindingVerdict, options: JudgeOptions) -> DoubtedLength:
    u_mm = finding.standard_uncertainty_mm or 0.0
    return DoubtedLength(part.part, finding.feature, float(finding.value), options.coverage_factor * u_mm)
