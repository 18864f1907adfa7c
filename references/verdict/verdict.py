"""The verdict: all findings turned into the release, the parts that do not belong, and the reasons."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import asdict, dataclass
from typing import Any, Literal

import numpy as np

from references.inference import (
    DEFAULT_OPTIONS,
    Belief,
    Finding,
    JudgeOptions,
    PartFindings,
    check_probabilities,
    infer_with_chain,
    sort_findings,
)
from references.release_sheet import Sheet
from references.verdict.checked import Checked, checked_of
from references.verdict.doubts import Doubt
from references.verdict.gate import doubted_outcome, find_doubts, undoubted, withhold
from references.verdict.next_check import NextCheck, rank_checks, separations
from references.verdict.part_verdict import PartVerdict, judge_parts
from references.verdict.reason import Reason
from references.verdict.reasons import Explainer
from references.verdict.rule import DecisionRule, decision_rule

Outcome = Literal["release", "mixed", "recast", "not listed", "scale in doubt", "cannot tell"]

FORMAT = "cardspan-verdict/1"
COPY_AT = 0.5
"""A copy likelier than not explains lengths that lie outside all limits."""


@dataclass(frozen=True, slots=True)
class Recast:
    """How likely the specimen is a uniformly smaller copy, and by how much smaller if it is one."""

    probability: float
    shrink_percent: float
    u_percent: float


@dataclass(frozen=True, slots=True)
class Verdict:
    """The verdict on a specimen.

    Attributes
    ----------
    subject, sheet : str
        The toy, and the key of its sheet.
    outcome : str
        ``"release"``, ``"mixed"`` (parts of different releases), ``"recast"``, ``"not listed"`` (a
        release that it does not list), ``"scale in doubt"`` (all lengths off by one factor) or
        ``"cannot tell"``.
    release : str or None
        The release named; of a recast, the one that was copied.
    candidates : tuple of str
        The fewest releases that together reach the naming probability, likeliest first.
    posterior : mapping of str to float
        Probability of each release; while there are doubts, only as far as the sheet's model goes.
    unlisted_probability : float
        Of a release that the sheet does not list; with the posterior it adds up to 1.
    recast : Recast or None
        None where nothing was measured.
    parts : tuple of PartVerdict
        The parts with findings.
    doubts : tuple of Doubt
        What keeps a release from being named, as codes and numbers.
    reasons : tuple of Reason
        The weightiest first. The doubts are not among them. Empty in a verdict read from a record, which
        holds them in words.
    next_checks : tuple of NextCheck
        What to check next, the most informative first.
    decision_rule : DecisionRule or None
        When the verdict commits to an answer; None in a verdict read from a record, which holds it in words.
    checked : Checked or None
        How much of the sheet it rests on; None in a verdict of an older record.
    """

    subject: str
    sheet: str
    outcome: Outcome
    release: str | None
    candidates: tuple[str, ...]
    posterior: Mapping[str, float]
    unlisted_probability: float
    recast: Recast | None
    parts: tuple[PartVerdict, ...]
    doubts: tuple[Doubt, ...]
    reasons: tuple[Reason, ...]
    next_checks: tuple[NextCheck, ...]
    decision_rule: DecisionRule | None
    checked: Checked | None = None

    def __post_init__(self) -> None:
        found = [finding for part in self.parts for finding in part.findings]
        fits = [fit.conformance_probability for each in found for fit in each.by_release.values()]
        given = [*self.posterior.values(), self.unlisted_probability, *(each.gross_error for each in found)]
        given += [share for part in self.parts for share in part.posterior.values()]
        check_probabilities(np.array([*given, *(chance for chance in fits if chance is not None)]))

    def to_json(self) -> dict[str, Any]:
        """Return the verdict as plain values for a JSON file."""
        recast = self.recast
        return {
            "format": FORMAT,
            "subject": self.subject,
            "sheet": self.sheet,
            "outcome": self.outcome,
            "release": self.release,
            "candidates": list(self.candidates),
            "posterior": dict(self.posterior),
            "unlisted_probability": self.unlisted_probability,
            "recast": recast
            and {
                "probability": recast.probability,
                "shrink_percent": recast.shrink_percent,
                "u_percent": recast.u_percent,
            },
            "parts": [part.to_json() for part in self.parts],
            "doubts": [doubt.to_json() for doubt in self.doubts],
            "reasons": [asdict(reason) for reason in self.reasons],
            "next_checks": [check.to_json() for check in self.next_checks],
            "decision_rule": self.decision_rule and asdict(self.decision_rule),
            "checked": self.checked and asdict(self.checked),
        }


def judge(sheet: Sheet, findings: Iterable[Finding], *, options: JudgeOptions = DEFAULT_OPTIONS) -> Verdict:
    """Say which release a specimen is, which parts do not belong to it, why, and what to check next.

    Parameters
    ----------
    sheet : Sheet
        The release sheet.
    findings : iterable of Finding
        What was measured, counted and seen, in any order.
    options : JudgeOptions
        Stated rates and thresholds.

    Returns
    -------
    Verdict
        With doubts it names no release.

    Raises
    ------
    FindingError
        Where a finding does not match the sheet.
    VerdictError
        The numbers of sheet and findings give no probabilities.
    """
    by_part = sort_findings(sheet, findings)
    belief, chain = infer_with_chain(sheet, by_part, options)
    parts = judge_parts(sheet, by_part, belief, options)
    posterior = dict(zip(sheet.release_ids, belief.releases.tolist(), strict=True))
    outcome, release = outcome_of(sheet, belief, parts, options)
    genuine = outcome != "not listed" and belief.recast < COPY_AT
    doubts = find_doubts(sheet, by_part, belief, parts, options, genuine=genuine)
    if doubts:
        outcome, release, parts = doubted_outcome(doubts), None, withhold(parts, doubts)
    candidates = () if outcome == "not listed" else _candidates(posterior, options.name_at)
    checks = rank_checks(sheet, by_part, belief, options, settled=max(posterior.values()) >= options.name_at)
    if doubts:  # what else was found says what it would say without the lengths in doubt
        chain = infer_with_chain(sheet, undoubted(by_part, doubts), options)[1]
    listed = outcome != "not listed"
    explainer = Explainer(sheet, by_part, (belief, chain), options, doubts=doubts, listed=listed)
    if doubts:
        reasons = (*explainer.part_reasons(parts), *explainer.finding_reasons(parts))
    else:
        reasons = (
            explainer.headline(outcome, release, candidates, parts),
            *explainer.part_reasons(parts),
            *explainer.finding_reasons(parts),
            *explainer.sum_reasons(),
            *explainer.uncertainty_reasons(candidates),
            *(separations(sheet, by_part, candidates) if release is None else ()),
        )
    return Verdict(
        subject=sheet.subject,
        sheet=sheet.key,
        outcome=outcome,
        release=release,
        candidates=candidates,
        posterior=posterior,
        unlisted_probability=belief.unlisted_probability,
        recast=_recast(by_part, belief),
        parts=parts,
        doubts=doubts,
        reasons=reasons,
        next_checks=checks,
        decision_rule=decision_rule(sheet, options),
        checked=checked_of(sheet, parts),
    )


def outcome_of(
    sheet: Sheet, belief: Belief, parts: Sequence[PartVerdict], options: JudgeOptions
) -> tuple[Outcome, str | None]:
    """Return the outcome and the release named, if any."""
    if belief.unlisted_probability >= options.name_at:
        return "not listed", None
    release = _named(sheet, belief, options)
    listed = 1 - belief.unlisted_probability
    if belief.recast * listed >= options.name_at:
        return "recast", release
    found = [part for part in parts if part.findings]
    foreign = [part for part in found if part.foreign]
    if foreign and len(foreign) < len(found):
        return "mixed", release
    if release is None:
        several = len(found) > 1 and (1 - belief.own_parts) * listed >= options.name_at
        return ("mixed" if several else "cannot tell"), None
    if belief.recast > 1 - options.name_at:  # the release is known, but not whether the specimen is its copy
        return "cannot tell", None
    return "release", release


def _named(sheet: Sheet, belief: Belief, options: JudgeOptions) -> str | None:
    """Return the release that probability and evidence both name, or None."""
    best = int(belief.posterior.argmax())
    if belief.releases[best] < options.name_at:
        return None
    support = [
        float(posterior) / max(release.prior, 1e-12)
        for posterior, release in zip(belief.releases, sheet.releases, strict=True)
    ]
    rivals = [value for index, value in enumerate(support) if index != best]
    if rivals and support[best] < options.evidence_ratio * max(rivals):
        return None
    return sheet.release_ids[best]


def _candidates(posterior: Mapping[str, float], share: float) -> tuple[str, ...]:
    chosen: list[str] = []
    total = 0.0
    for release, probability in sorted(posterior.items(), key=lambda item: -item[1]):
        if total >= share:
            break
        chosen.append(release)
        total += probability
    return tuple(chosen)


def _recast(parts: Sequence[PartFindings], belief: Belief) -> Recast | None:
    if not any(part.readings for part in parts):
        return None
    return Recast(belief.recast, 100 * belief.shrink, 100 * belief.shrink_std)
