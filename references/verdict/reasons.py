"""The reasons of a verdict, the strongest first."""

import math
from collections.abc import Hashable, Iterator, Sequence, Set
from dataclasses import dataclass

import numpy as np

from references.inference import (
    Belief,
    EvidenceChain,
    FeatureFindings,
    JudgeOptions,
    PartFindings,
    Reading,
    length_model,
    point_density,
)
from references.release_sheet import (
    Feature,
    Part,
    Sheet,
)
from references.verdict.conformity import conformance_probability
from references.verdict.doubts import Doubt
from references.verdict.part_verdict import FITS_WITHIN, INSIDE_AT, OUTSIDE_AT, FindingVerdict, PartVerdict
from references.verdict.reason import Bearing, Place, PlacedLength, Reason, Side, Standing

Key = tuple[str, str]

LEAST_RATIO = 1.05
"""Odds below which a finding tells nothing: they are rounded to 1.0 to 1."""
MOST_LOG_ODDS = 500.0


@dataclass(frozen=True, slots=True)
class WeightedReason:
    """A reason and how strongly it speaks for the leading release: natural logarithm, negative against it."""

    weight: float
    name: str
    reason: Reason


class Explainer:
    """Finds the reasons of one verdict."""

    def __init__(
        self,
        sheet: Sheet,
        parts: Sequence[PartFindings],
        inferred: tuple[Belief, EvidenceChain],
        options: JudgeOptions,
        *,
        doubts: Sequence[Doubt] = (),
        listed: bool = True,
    ) -> None:
        belief, chain = inferred
        self.sheet, self.parts, self.belief, self.options = sheet, parts, belief, options
        self.likeliest = int(belief.posterior.argmax())
        self.doubts = doubts
        self.speaks_for = sheet.release_ids[self.likeliest] if listed else None
        self.log_odds = chain.log_odds(self.likeliest if listed else -1)
        self.weights = dict(zip(chain.places, np.diff(self.log_odds).tolist(), strict=True))
        self.doubted = {(length.part, length.feature) for doubt in doubts for length in doubt.lengths}

    def headline(
        self, outcome: str, release: str | None, candidates: Sequence[str], parts: Sequence[PartVerdict]
    ) -> Reason:
        """Return the reason that states the verdict."""
        if outcome == "recast":
            return Reason.of(
                "recast",
                releases=(release,) if release else tuple(candidates),
                probability=self.belief.recast,
                shrink_percent=100 * self.belief.shrink,
                expanded_uncertainty_percent=100 * self.options.coverage_factor * self.belief.shrink_std,
            )
        if outcome == "not listed":
            return self._not_listed(parts)
        if outcome == "mixed":
            foreign = tuple(part.part for part in parts if part.foreign)
            return Reason.of("mixed", releases=tuple(candidates), foreign=foreign)
        if release is not None:
            best = self.sheet.releases[self.likeliest]
            probability = float(self.belief.releases[self.likeliest])
            return Reason.of("named", release=best.id, probability=probability)
        return self._open(candidates)

    def _not_listed(self, parts: Sequence[PartVerdict]) -> Reason:
        releases = self.sheet.release_ids
        found = [(part.part, each) for part in parts for each in part.findings]
        unknown = tuple((part, each.feature) for part, each in found if not each.is_known_of(releases))
        return Reason.of("not listed", probability=self.belief.unlisted_probability, unknown=unknown)

    def _open(self, candidates: Sequence[str]) -> Reason:
        if not any(part.features for part in self.parts):
            return Reason.of("nothing found")
        if len(candidates) == 1 and self.belief.recast > 1 - self.options.name_at:
            return Reason.of("release or copy", releases=tuple(candidates), probability=self.belief.recast)
        chances = dict(zip(self.sheet.release_ids, self.belief.releases.tolist(), strict=True))
        return Reason.of("open", shares=tuple((name, chances[name]) for name in candidates))

    def part_reasons(self, parts: Sequence[PartVerdict]) -> list[Reason]:
        """Return which parts do not belong, fit none, are missing, or were measured wrong."""
        reasons = []
        for part in parts:
            reasons += [*self._foreign_reason(part), *self._slip_reasons(part)]
        if not self.doubts and 1 - self.options.name_at < self.belief.recast < self.options.name_at:
            reasons.append(Reason.of("recast possible", probability=self.belief.recast))
        if (
            not self.doubts
            and 1 - self.options.name_at < self.belief.unlisted_probability < self.options.name_at
        ):
            reasons.append(Reason.of("unlisted possible", probability=self.belief.unlisted_probability))
        return reasons

    def _foreign_reason(self, part: PartVerdict) -> list[Reason]:
        if not part.present:
            others = tuple(release for release in self.sheet.release_ids if release not in part.releases)
            speaks = self._bearing(self.weights.get((part.part, None), 0.0))
            return [Reason.of("not present", part=part.part, without=part.releases, others=others, **speaks)]
        copy, unlisted = part.posterior["recast"], part.posterior["none"]
        if part.outcome == "fits none" and copy > unlisted and self.belief.recast < self.options.name_at:
            return [Reason.of("part recast", part=part.part, probability=copy)]
        if part.outcome == "fits none":
            measured = any(each.standard_uncertainty_mm is not None for each in part.findings)
            chance, like_recast = unlisted + (copy if measured else 0.0), copy > unlisted
            return [Reason.of("fits none", part=part.part, probability=chance, like_recast=like_recast)]
        chance = part.foreign_probability
        if part.foreign:
            fits = part.outcome == "fits"
            facts = {"part": part.part, "probability": chance, "releases": part.releases, "fits": fits}
            return [Reason.of("foreign", **facts)]
        if part.findings and chance > 0.5 and not self.doubts:
            return [Reason.of("part in doubt", part=part.part, probability=chance)]
        return []

    def _slip_reasons(self, part: PartVerdict) -> list[Reason]:
        return [
            Reason.of(
                "slip",
                part=part.part,
                feature=finding.feature,
                value_mm=float(finding.value),
                probability=finding.gross_error,
            )
            for finding in part.findings
            if self._dismissed(part, finding)
        ]

    def _dismissed(self, part: PartVerdict, finding: FindingVerdict) -> bool:
        """Tell whether a length was left without weight as a slip and is in none of the doubts."""
        return finding.dismissed and (part.part, finding.feature) not in self.doubted

    def finding_reasons(self, parts: Sequence[PartVerdict]) -> list[Reason]:
        """Return what each finding adds for or against the leading release, in order of weight."""
        found = [(part, each) for part in parts for each in part.findings]
        dismissed = {(part.part, each.feature) for part, each in found if each.dismissed}
        releases = self.sheet.release_ids
        known = {(part.part, each.feature) for part, each in found if each.is_known_of(releases)}
        reasons = [
            self._reason(part, findings, dismissed, known)
            for part in self.parts
            for findings in part.features
        ]
        reasons += self._present_reasons()
        reasons.sort(key=lambda each: (-abs(each.weight), each.name))
        return [each.reason for each in reasons]

    def _reason(
        self, part: PartFindings, findings: FeatureFindings, dismissed: Set[Key], known: Set[Key]
    ) -> WeightedReason:
        key = part.part.id, findings.feature.id
        standing: Standing = "dismissed" if key in dismissed else "known" if key in known else "unknown"
        # A length in doubt supports nothing.
        weight = self.weights.get(key, 0.0)
        speaks = {"bearing": "none"} if key in self.doubted else self._bearing(weight)
        facts = {"standing": standing, **speaks}
        name = findings.feature.name
        read_as = f"{part.part.name}, {name[:1].lower()}{name[1:]}"
        return WeightedReason(weight, read_as, self._found(part.part, findings, facts))

    def _present_reasons(self) -> Iterator[WeightedReason]:
        """Tell what the presence of each part says that some release lacks, and of all others together."""
        everywhere: list[Part] = []
        for part in (findings.part for findings in self.parts if findings.present):
            without = tuple(key for key in self.sheet.release_ids if part.absent_from(key))
            if without:
                yield from self._present([part], without)
            else:
                everywhere.append(part)
        yield from self._present(everywhere, ())

    def _present(self, parts: Sequence[Part], without: tuple[str, ...]) -> Iterator[WeightedReason]:
        weight = sum(self.weights.get((part.id, None), 0.0) for part in parts)
        speaks = self._bearing(weight)
        if speaks["bearing"] != "nothing":
            reason = Reason.of("present", parts=tuple(part.id for part in parts), without=without, **speaks)
            yield WeightedReason(weight, parts[0].name, reason)

    def _bearing(self, weight: float) -> dict[str, Hashable]:
        """Return what a weight says, as facts."""
        if abs(weight) < math.log(LEAST_RATIO):
            return {"bearing": "nothing"}
        bearing: Bearing = "for" if weight > 0 else "against"
        return {"bearing": bearing, "ratio": _exp(abs(weight)), "release": self.speaks_for}

    def sum_reasons(self) -> list[Reason]:
        """Return from what to what all findings together move the leading release."""
        if not self.weights:
            return []
        first, last = float(self.log_odds[0]), float(self.log_odds[-1])
        return [
            Reason.of(
                "together",
                release=self.speaks_for,
                prior_odds=_exp(first),
                ratio=_exp(last - first),
                posterior_odds=_exp(last),
            )
        ]

    def _found(self, part: Part, findings: FeatureFindings, facts: dict[str, Hashable]) -> Reason:
        """Return the reason that tells a finding, with these further facts."""
        feature, count = findings.feature, len(findings.readings)
        facts = {"part": part.id, "feature": feature.id, **facts}
        if not findings.readings:
            return Reason.of("noted", found=(*findings.counts, *findings.words), **facts)
        if count > 1 and (part.id, feature.id) in self.doubted:
            # There is no mean of readings that may not be of one length.
            lengths = tuple(self._placed(feature, each, 1) for each in findings.readings)
        else:
            lengths = (self._placed(feature, _together(findings.readings), count),)
        return Reason.of("length", readings=lengths, **facts)

    def _placed(self, feature: Feature, reading: Reading, count: int) -> PlacedLength:
        groups: dict[tuple[float, float], list[str]] = {}
        for release in self.sheet.release_ids:
            limits = feature.limits_mm(release)
            if limits is not None:
                groups.setdefault(limits, []).append(release)
        places = tuple(_place(limits, releases, reading) for limits, releases in groups.items())
        expanded_mm = self.options.coverage_factor * reading.std_mm
        return PlacedLength(reading.value_mm, expanded_mm, count, places)

    def uncertainty_reasons(self, candidates: Sequence[str]) -> list[Reason]:
        """Return for each length that leaves releases open what uncertainty would separate them."""
        reasons: list[Reason] = []
        for part in self.parts if len(candidates) > 1 else ():
            for findings in part.features:
                if findings.readings:
                    reasons += self._uncertainty_reason(part.part, findings, candidates)
        return reasons

    def _uncertainty_reason(
        self, part: Part, findings: FeatureFindings, candidates: Sequence[str]
    ) -> list[Reason]:
        reading = _together(findings.readings)
        expanded = self.options.coverage_factor * reading.std_mm
        model = length_model(findings.feature, self.sheet.release_ids)
        density = point_density(model, reading.value_mm, reading.std_mm)
        best = max(float(density[:-1].max()), float(density[-1]))
        open_releases = [
            release
            for release, value in zip(self.sheet.release_ids, density, strict=False)
            if release in candidates and value >= FITS_WITHIN * best
        ]
        gap = smallest_gap(findings.feature, open_releases)
        if gap is None or expanded <= gap / 2:
            return []
        facts = {"part": part.id, "feature": findings.feature.id}
        return [Reason.of("wide uncertainty", **facts, expanded_uncertainty_mm=expanded, gap_mm=gap)]


def _exp(log: float) -> float:
    """Return odds of a logarithm, bounded so that they stay numbers."""
    return math.exp(max(-MOST_LOG_ODDS, min(MOST_LOG_ODDS, log)))


def _place(limits_mm: tuple[float, float], releases: Sequence[str], reading: Reading) -> Place:
    low, high = limits_mm
    chance = conformance_probability(reading.value_mm, reading.std_mm, low, high)
    apart = max(low - reading.value_mm, reading.value_mm - high)
    side: Side = "undecided"
    if chance >= INSIDE_AT:
        side = "inside"
    elif chance <= OUTSIDE_AT and apart > 0:
        side = "below" if reading.value_mm < low else "above"
    return Place(limits_mm, tuple(releases), side, max(apart, 0.0), chance)


def smallest_gap(feature: Feature, releases: Sequence[str]) -> float | None:
    """Return the smallest distance in mm between two ranges that do not touch, or None."""
    limits = [found for release in releases if (found := feature.limits_mm(release)) is not None]
    gaps = [max(first[0] - second[1], second[0] - first[1]) for first in limits for second in limits]
    return min((gap for gap in gaps if gap > 0), default=None)


def _together(readings: Sequence[Reading]) -> Reading:
    """Return the weighted mean of several readings; errors that photos share are kept in full, to be safe."""
    if len(readings) == 1:
        return readings[0]
    weights = np.array([reading.std_mm**-2 for reading in readings])
    weights /= weights.sum()
    value = float(weights @ [reading.value_mm for reading in readings])
    own = float(np.sqrt(weights**2 @ [reading.own_std_mm**2 for reading in readings]))
    standoff = float(weights @ [reading.standoff_std_mm for reading in readings])
    by_photo: dict[str | None, float] = {}
    for weight, reading in zip(weights, readings, strict=True):
        by_photo[reading.photo] = by_photo.get(reading.photo, 0.0) + float(weight) * reading.shared_std_mm
    return Reading(value, own, math.sqrt(sum(part**2 for part in by_photo.values())), None, standoff)
