"""What to check next: the features not yet checked, by how much they are expected to settle."""

import itertools
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from references.inference import (
    OTHER,
    Belief,
    Given,
    JudgeOptions,
    LengthModel,
    PartBelief,
    PartFindings,
    each_count_likelihood,
    length_model,
    origin_shares,
    trait_likelihood,
)
from references.release_sheet import Counts, Feature, Marker, Part, Sheet, Traits, shares_of
from references.verdict.leads import Lead, leads_of
from references.verdict.reason import Reason
from references.verdict.reasons import smallest_gap

Array = NDArray[np.float64]

OUTCOMES_OF_LENGTH = 240
WORTH_BITS = 0.001
BETTER_BY = 0.6
"""A length is worth measuring again if its uncertainty can shrink to this share."""
MOST_COMPARED = 4
SHARP_SHARE = 0.001
ALIKE = 0.1
"""Two releases differ in a feature where their distributions do not overlap by this share."""


@dataclass(frozen=True, slots=True)
class NextCheck:
    """One check worth making.

    Attributes
    ----------
    part, feature : str
        Keys in the sheet.
    again : bool
        The feature was measured, but too poorly.
    expected_gain_bits : float
        Expected drop in entropy of what is still open.
    needed_uncertainty_mm : float or None
        Expanded uncertainty that tells the nearest ranges apart; None for counts, traits and overlaps.
    leads : tuple of Lead
        What the likely outcomes would lead to; empty in a check read from a record.
    """

    part: str
    feature: str
    again: bool
    expected_gain_bits: float
    needed_uncertainty_mm: float | None
    leads: tuple[Lead, ...] = ()

    def to_json(self) -> dict[str, Any]:
        """Return plain values for a JSON file."""
        return {
            "part": self.part,
            "feature": self.feature,
            "again": self.again,
            "expected_gain_bits": self.expected_gain_bits,
            "needed_uncertainty_mm": self.needed_uncertainty_mm,
            "leads": [lead.to_json() for lead in self.leads],
        }


def rank_checks(
    sheet: Sheet, parts: Sequence[PartFindings], belief: Belief, options: JudgeOptions, *, settled: bool
) -> tuple[NextCheck, ...]:
    """Rank the open checks by their expected gain, the most informative first.

    Parameters
    ----------
    sheet, parts, belief, options
        As judged.
    settled : bool
        The release is already named: the gain then also counts what is open about each part.

    Notes
    -----
    The gain is the mutual information between the outcome of the check and the release (or release and
    origin of the part), given all findings so far. A check that needs a part taken off is never advised where
    the sheet says to leave that part in place, nor any of a part that could not be seen.
    """
    checks = []
    for findings, part_belief in zip(parts, belief.parts, strict=True):
        if findings.present is False or findings.out_of_sight:
            continue
        joint = _joint(sheet, findings.part, belief, part_belief, options)
        for feature, again in _open_features(findings, options):
            outcomes = _outcomes(sheet, feature, options)
            if joint.shape[1] > outcomes.shape[0]:  # the part may turn out to be absent
                outcomes = _with_absence(outcomes)
            gain = _information(joint if settled else None, joint, outcomes)
            if gain >= WORTH_BITS:
                needed = _needed_uncertainty_mm(sheet, feature, belief)
                leads = leads_of(sheet, findings.part, feature, joint, options)
                checks.append(NextCheck(findings.part.id, feature.id, again, gain, needed, leads))
    return tuple(sorted(checks, key=lambda check: (-check.expected_gain_bits, check.part, check.feature)))


def is_advisable(part: Part, feature: Feature) -> bool:
    """Tell whether a check can be made without removing a part that must stay in place."""
    return not (feature.part_off and part.keep_in_place)


def _open_features(findings: PartFindings, options: JudgeOptions) -> Iterator[tuple[Feature, bool]]:
    """Yield each feature that is worth checking, and whether it was measured before."""
    done = {found.feature.id: found for found in findings.features}
    for feature in findings.part.features:
        if not is_advisable(findings.part, feature):
            continue
        found = done.get(feature.id)
        if found is None:
            yield feature, False
        elif found.readings:
            best = min(found.readings, key=lambda reading: reading.std_mm)
            if options.likely_u(best.value_mm) < BETTER_BY * best.std_mm:
                yield feature, True


def _joint(
    sheet: Sheet, part: Part, belief: Belief, part_belief: PartBelief | None, options: JudgeOptions
) -> Array:
    """Return the probability of release and origin together; a part not yet seen may also be absent."""
    if part_belief is None:
        shares = origin_shares(sheet, part, options)
        absent = 1 - shares.sum(axis=1, keepdims=True)
        return np.asarray(belief.posterior[:, None] * np.hstack([shares, absent]))
    count = len(sheet.releases)
    joint = part_belief.genuine.copy()
    joint[:, count : 2 * count] += part_belief.recast[:, :count] + part_belief.recast[:, count : 2 * count]
    joint[:, -1] += part_belief.recast[:, -1]
    return joint


def _with_absence(outcomes: Array) -> Array:
    origins, values = outcomes.shape
    wider = np.zeros((origins + 1, values + 1))
    wider[:origins, :values] = outcomes
    wider[-1, -1] = 1.0
    return wider


def _outcomes(sheet: Sheet, feature: Feature, options: JudgeOptions) -> Array:
    """Return the probability of each outcome of a check under each origin: rows add up to 1."""
    releases = sheet.release_ids
    given = Given(releases, options)
    if feature.kind == "dimension":
        rows = _length_outcomes(length_model(feature, releases), len(releases), options)
    elif feature.kind == "count":
        each = _count_outcomes(feature, given)
        rows = np.concatenate([each[:-1], each[:-1], each[-1:]])
    else:
        each = np.stack(
            [trait_likelihood(feature, [word], given) for word in (*feature.alternatives, OTHER)], axis=1
        )
        rows = np.concatenate([each[:-1], each[:-1], each[-1:]])
    return np.asarray(rows / rows.sum(axis=1, keepdims=True))


def _count_outcomes(feature: Feature, given: Given) -> Array:
    """Return the probability of each count near one that a release has, and of all others together."""
    values = feature.by_release.values()
    known = {n for value in values if isinstance(value, Counts) for n in value.frequencies} or {0}
    seen = sorted({near for n in known for near in range(max(0, n - 2), n + 3)})
    each = each_count_likelihood(feature, seen, given)
    if len(seen) == seen[-1] - seen[0] + 1:
        return each
    # All other counts are one outcome: each of them says the same.
    return np.hstack([each, np.maximum(1 - each.sum(axis=1, keepdims=True), 1e-12)])


def _length_outcomes(model: LengthModel, count: int, options: JudgeOptions) -> Array:
    reach = 3 * model.normals[-1].sd_mm + 5 * options.likely_u(model.centre_mm)
    grid = np.linspace(max(model.centre_mm - reach, 1e-3), model.centre_mm + reach, OUTCOMES_OF_LENGTH)[
        None, :
    ]
    std = options.likely_u_mm + options.likely_u_share * grid
    genuine = model.densities(grid, std)[:, 0, :]
    shrinks = np.linspace(options.shrink_low, options.shrink_high, 5)
    copies = np.mean([model.densities(grid / (1 - s), std / (1 - s))[:count, 0, :] for s in shrinks], axis=0)
    return np.concatenate([genuine[:count], copies, genuine[count:]]) + 1e-12


def _information(settled: Array | None, joint: Array, outcomes: Array) -> float:
    """Return the mutual information in bits between the outcome and the release, or release and origin."""
    if settled is None:
        together = joint @ outcomes
    else:
        together = (joint[:, :, None] * outcomes[None, :, :]).reshape(-1, outcomes.shape[1])
    total = together.sum()
    together = together / total
    apart = together.sum(axis=1, keepdims=True) * together.sum(axis=0, keepdims=True)
    filled = together > 1e-150  # below, the product of two sums would underflow
    return float(max(0.0, (together[filled] * np.log2(together[filled] / apart[filled])).sum()))


def _needed_uncertainty_mm(sheet: Sheet, feature: Feature, belief: Belief) -> float | None:
    """Return the expanded uncertainty that tells the nearest ranges of likely releases apart, or None."""
    order = sorted(range(len(sheet.releases)), key=lambda index: -belief.posterior[index])
    ranked = [sheet.release_ids[index] for index in order]
    gap = smallest_gap(feature, ranked[:2]) or smallest_gap(feature, ranked)
    return None if gap is None else round(gap / 2, 3)


def separations(sheet: Sheet, parts: Sequence[PartFindings], candidates: Sequence[str]) -> list[Reason]:
    """Return for each pair of releases still open which checks, if any, can separate them."""
    open_pairs = itertools.combinations(candidates[:MOST_COMPARED], 2)
    return [reason for first, second in open_pairs for reason in _separation(sheet, parts, first, second)]


def _separation(sheet: Sheet, parts: Sequence[PartFindings], first: str, second: str) -> list[Reason]:
    telling = list(_telling(sheet, parts, first, second))
    if not telling:
        return [Reason.of("inseparable", first=first, second=second)]
    still = [check for check in telling if not check.done]
    allowed = [check.key for check in still if check.advisable]
    if len(allowed) == 1:
        return [Reason.of("one check left", first=first, second=second, checks=tuple(allowed))]
    if allowed:
        return []
    if still:
        forbidden = tuple(check.key for check in still)
        return [Reason.of("checks forbidden", first=first, second=second, checks=forbidden)]
    return [Reason.of("all checks made", first=first, second=second)]


@dataclass(frozen=True, slots=True)
class _Telling:
    """A check that tells two releases apart: of a feature, or without one of whether the part is there."""

    key: tuple[str, str | None]
    done: bool
    advisable: bool


def _telling(sheet: Sheet, parts: Sequence[PartFindings], first: str, second: str) -> Iterator[_Telling]:
    for findings in parts:
        part = findings.part
        if part.absent_from(first) != part.absent_from(second):
            yield _Telling((part.id, None), findings.present is not None, True)
            continue
        done = {found.feature.id for found in findings.features}
        for feature in part.features:
            if differ(feature, first, second):
                made = feature.id in done or findings.present is False
                yield _Telling((part.id, feature.id), made, is_advisable(part, feature))


def differ(feature: Feature, first: str, second: str) -> bool:
    """Tell whether two releases differ in a feature enough to be told apart by it.

    Parameters
    ----------
    feature : Feature
        Of any kind.
    first, second : str
        Keys of two of the sheet's releases.

    Returns
    -------
    bool
        Whether more than `ALIKE` of the distributions lies apart, for a sharp measurement of a length;
        False where either is absent or unknown.
    """
    one, two = feature.by_release[first], feature.by_release[second]
    if one == two or isinstance(one, Marker) or isinstance(two, Marker):
        return False
    if isinstance(one, Counts | Traits) and isinstance(two, Counts | Traits):
        shares, others = shares_of(one), shares_of(two)
        apart = sum(abs(shares.get(key, 0.0) - others.get(key, 0.0)) for key in {*shares, *others}) / 2
        return apart > ALIKE
    model = length_model(feature, (first, second))
    std = np.full((1, 1), SHARP_SHARE * model.centre_mm)
    grid = np.linspace(0.5 * model.centre_mm, 1.5 * model.centre_mm, 4001)[None, :]
    densities = model.densities(grid, std)[:2, 0, :]
    step = float(grid[0, 1] - grid[0, 0])
    return float(np.abs(densities[0] - densities[1]).sum() * step / 2) > ALIKE
