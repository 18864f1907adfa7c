"""Reasons in plain sentences, with numbers and units, the strongest first."""

import math
from collections.abc import Sequence, Set
from dataclasses import dataclass

import numpy as np

from references.inference import (
    Belief,
    FeatureFindings,
    Given,
    JudgeOptions,
    PartFindings,
    Reading,
    count_likelihood,
    length_model,
    origin_shares,
    point_density,
    trait_likelihood,
)
from references.release_sheet import (
    Counts,
    Feature,
    Part,
    Sheet,
    Traits,
    Value,
    format_pair,
    format_value,
    shares_of,
)
from references.verdict.conformity import conformance_probability
from references.verdict.doubts import Doubt
from references.verdict.part_verdict import FITS_WITHIN, OUTSIDE_AT, FindingVerdict, PartVerdict
from references.verdict.words import feature_name, join, names, percent, span_text

Key = tuple[str, str]

INSIDE_AT = 0.95
LEAST_WEIGHT = 0.05
"""Powers of ten below which a finding is called uninformative."""


@dataclass(frozen=True, slots=True)
class WeightedReason:
    """A sentence and how strongly it speaks for the leading release: powers of ten, negative against it."""

    weight: float
    text: str


class Explainer:
    """Writes the reasons of one verdict."""

    def __init__(
        self,
        sheet: Sheet,
        parts: Sequence[PartFindings],
        belief: Belief,
        options: JudgeOptions,
        doubts: Sequence[Doubt] = (),
    ) -> None:
        self.sheet, self.parts, self.belief, self.options = sheet, parts, belief, options
        self.likeliest = int(belief.posterior.argmax())
        self.doubts = doubts
        self.doubted = {(length.part, length.feature) for doubt in doubts for length in doubt.lengths}

    def headline(
        self, outcome: str, release: str | None, candidates: Sequence[str], parts: Sequence[PartVerdict]
    ) -> str:
        """State the verdict in one sentence."""
        best = self.sheet.releases[self.likeliest]
        if outcome == "recast":
            of = names(self.sheet, [release] if release else candidates, "or")
            chance = percent(self.belief.recast)
            size = format_pair(100 * self.belief.shrink, 196 * self.belief.shrink_std, "mm").removesuffix(
                " mm"
            )
            return (
                f"A recast copy of {of} (probability {chance}): the lengths are {size} % too small all over."
            )
        if outcome == "mixed":
            foreign = join(part.name for part in parts if part.foreign) or "some part, but not which one,"
            base = names(self.sheet, candidates, "or")
            return f"Mixed: the specimen is {base}, and not from it: {foreign.rstrip(',')}."
        if release is not None:
            return f"{best.name} (probability {percent(float(self.belief.posterior[self.likeliest]))})."
        if not any(part.features for part in self.parts):
            return "Cannot tell: nothing has been measured or noted yet."
        if len(candidates) == 1 and self.belief.recast > 1 - self.options.name_at:
            name, chance = names(self.sheet, candidates), percent(self.belief.recast)
            return (
                f"Cannot tell whether it is {name} or a recast copy of it (probability of a copy {chance})."
            )
        chances = dict(zip(self.sheet.release_ids, self.belief.posterior.tolist(), strict=True))
        each = (f"{names(self.sheet, [name])} {percent(chances[name])}" for name in candidates)
        return f"Cannot tell which release: {join(each, 'or')}."

    def part_reasons(self, parts: Sequence[PartVerdict]) -> list[str]:
        """Say which parts do not belong, fit none, are missing, or were measured wrong."""
        reasons = []
        for part in parts:
            reasons += [*self._foreign_reason(part), *self._slip_reasons(part)]
        if not self.doubts and 1 - self.options.name_at < self.belief.recast < self.options.name_at:
            chance = percent(self.belief.recast)
            reasons.append(
                f"A recast copy is possible (probability {chance}): it is smaller all over, so measure "
                "more of its lengths, the longest ones first."
            )
        return reasons

    def _foreign_reason(self, part: PartVerdict) -> list[str]:
        if not part.present:
            kept = [release for release in self.sheet.release_ids if release not in part.releases]
            note = f"; {names(self.sheet, part.releases)} never had a separate one" if part.releases else ""
            return [f"{part.name}: not present{note}; on {names(self.sheet, kept)} it would be a lost part."]
        copy, unlisted = part.posterior["recast"], part.posterior["none"]
        if part.outcome == "fits none" and copy > unlisted and self.belief.recast < self.options.name_at:
            return [f"{part.name}: a recast copy, smaller all over (probability {percent(copy)})."]
        if part.outcome == "fits none":
            small = ", being smaller all over like a recast copy" if copy > unlisted else ""
            chance = percent(copy + unlisted)
            return [f"{part.name}: fits none of the releases{small} (probability {chance})."]
        if part.foreign:
            fits = names(self.sheet, part.releases, "and" if part.outcome == "fits" else "or")
            verb = "fits" if part.outcome == "fits" else "could be"
            chance = percent(part.foreign_probability)
            return [f"{part.name}: does not belong to the rest (probability {chance}); it {verb} {fits}."]
        if part.findings and part.foreign_probability > 0.5 and not self.doubts:
            chance = percent(part.foreign_probability)
            return [f"{part.name}: in doubt; it does not belong to the rest with a probability of {chance}."]
        return []

    def _slip_reasons(self, part: PartVerdict) -> list[str]:
        reasons = []
        for finding in part.findings:
            if self._dismissed(part, finding):
                assert isinstance(finding.value, float)
                shown = format_value(finding.value, self.sheet.unit)
                reasons.append(
                    f"{part.name}, {finding.name.lower()} {shown}: so far from every release that a wrong "
                    f"click or a typing slip is likelier ({percent(finding.gross_error)}); it was left with "
                    "no weight. Measure it again."
                )
        return reasons

    def _dismissed(self, part: PartVerdict, finding: FindingVerdict) -> bool:
        """Tell whether a length was left without weight as a slip and is in none of the doubts."""
        return finding.dismissed and (part.part, finding.feature) not in self.doubted

    def finding_reasons(self, parts: Sequence[PartVerdict]) -> list[str]:
        """Say what each finding supports or contradicts, in order of weight."""
        found = [(part, each) for part in parts for each in part.findings]
        silent = self.doubted | {(part.part, each.feature) for part, each in found if each.dismissed}
        releases = self.sheet.release_ids
        known = {(part.part, each.feature) for part, each in found if each.is_known_of(releases)}
        reasons = [
            self._reason(part, findings, silent, known) for part in self.parts for findings in part.features
        ]
        reasons.sort(key=lambda reason: (-abs(reason.weight), reason.text))
        return [reason.text for reason in reasons]

    def _reason(
        self, part: PartFindings, findings: FeatureFindings, silent: Set[Key], known: Set[Key]
    ) -> WeightedReason:
        key = part.part.id, findings.feature.id
        text = self._sentence(part.part, findings)
        if key in silent:  # a length without weight, or in doubt, supports nothing
            return WeightedReason(0.0, text)
        weight = self._weight(part, findings)
        if key not in known:
            return WeightedReason(weight, f"{text} No release is known to have this.")
        likeliest = self.sheet.releases[self.likeliest].name
        if abs(weight) < LEAST_WEIGHT:
            return WeightedReason(weight, f"{text} It tells nothing about the release.")
        ratio = 10 ** abs(weight)
        shown = f"{ratio:.1f}" if ratio < 10 else f"{ratio:.0f}" if ratio < 1000 else "over 1000"
        side = "for" if weight > 0 else "against"
        return WeightedReason(weight, f"{text} By itself it speaks {shown} to 1 {side} {likeliest}.")

    def _weight(self, part: PartFindings, findings: FeatureFindings) -> float:
        """Return log10 of how much better the likeliest release explains the finding than all others do."""
        likelihood = self._marginal(findings)
        shares = origin_shares(self.sheet, part.part, self.options)
        count = len(self.sheet.releases)
        by_origin = np.concatenate([likelihood[:count], likelihood[:count], likelihood[count:]])
        by_release = shares @ by_origin / np.maximum(shares.sum(axis=1), 1e-12)
        others = np.array([release.prior for release in self.sheet.releases])
        others[self.likeliest] = 0.0
        if others.sum() <= 0:
            return 0.0
        rest = float(others @ by_release / others.sum())
        return math.log10(max(float(by_release[self.likeliest]), 1e-300) / max(rest, 1e-300))

    def _marginal(self, findings: FeatureFindings) -> np.ndarray:
        given = Given(self.sheet.release_ids, self.options)
        if findings.counts:
            return count_likelihood(findings.feature, findings.counts, given)
        if findings.words:
            return trait_likelihood(findings.feature, findings.words, given)
        model = length_model(findings.feature, self.sheet.release_ids)
        reading = _together(findings.readings)
        density = point_density(model, reading.value_mm, reading.std_mm)
        rate = self.options.gross_error_rate
        return np.asarray((1 - rate) * density + rate * model.gross_error_density(reading.value_mm))

    def _sentence(self, part: Part, findings: FeatureFindings) -> str:
        feature = findings.feature
        apart = len(findings.readings) > 1 and (part.id, feature.id) in self.doubted
        if apart:  # no mean of readings that may not be of one length
            lines = (f"{self._pair(each)}: {self._places(feature, each)}" for each in findings.readings)
            return f"{feature_name(part, feature)} {'. '.join(lines)}."
        if findings.readings:
            reading = _together(findings.readings)
            several = f" (mean of {len(findings.readings)})" if len(findings.readings) > 1 else ""
            places = self._places(feature, reading)
            return f"{feature_name(part, feature)} {self._pair(reading)}{several}: {places}."
        seen = join(str(word) for word in (*findings.counts, *findings.words))
        return f"{feature_name(part, feature)} {seen}: {self._shares(feature)}."

    def _pair(self, reading: Reading) -> str:
        expanded = self.options.coverage_factor * reading.std_mm
        return format_pair(reading.value_mm, expanded, self.sheet.unit)

    def _places(self, feature: Feature, reading: Reading) -> str:
        groups: dict[tuple[float, float], list[str]] = {}
        for release in self.sheet.release_ids:
            limits = feature.limits_mm(release)
            if limits is not None:
                groups.setdefault(limits, []).append(release)
        return (
            "; ".join(
                f"{self._place(limits, reading)} ({names(self.sheet, releases)})"
                for limits, releases in groups.items()
            )
            or "the sheet gives no limits"
        )

    def _place(self, limits: tuple[float, float], reading: Reading) -> str:
        low, high = limits
        chance = conformance_probability(reading.value_mm, reading.std_mm, low, high)
        shown = span_text(limits, self.sheet.unit)
        if chance >= INSIDE_AT:
            return f"inside {shown}"
        away = max(low - reading.value_mm, reading.value_mm - high)
        if chance <= OUTSIDE_AT and away > 0:
            side = "below" if reading.value_mm < low else "above"
            return f"{format_value(round(away, 1 if away >= 1 else 2), self.sheet.unit)} {side} {shown}"
        return f"within {shown} with a probability of {percent(chance)}"

    def _shares(self, feature: Feature) -> str:
        groups: dict[str, list[str]] = {}
        for release in self.sheet.release_ids:
            groups.setdefault(_value_text(feature.by_release[release]), []).append(release)
        return "; ".join(f"{text} on {names(self.sheet, releases)}" for text, releases in groups.items())

    def uncertainty_reasons(self, candidates: Sequence[str]) -> list[str]:
        """Say for each length that leaves releases open what uncertainty would separate them."""
        reasons: list[str] = []
        for part in self.parts if len(candidates) > 1 else ():
            for findings in part.features:
                if findings.readings:
                    reasons += self._uncertainty_reason(part.part, findings, candidates)
        return reasons

    def _uncertainty_reason(
        self, part: Part, findings: FeatureFindings, candidates: Sequence[str]
    ) -> list[str]:
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
        unit = self.sheet.unit
        return [
            f"{feature_name(part, findings.feature)}: this measurement gives ± {_short(expanded, unit)} and "
            f"the ranges lie {_short(gap, unit)} apart: ± {_short(gap / 2, unit)} would settle it. Take the "
            "photo closer and from straight above."
        ]


def smallest_gap(feature: Feature, releases: Sequence[str]) -> float | None:
    """Return the smallest distance in mm between two ranges that do not touch, or None."""
    limits = [found for release in releases if (found := feature.limits_mm(release)) is not None]
    gaps = [max(first[0] - second[1], second[0] - first[1]) for first in limits for second in limits]
    return min((gap for gap in gaps if gap > 0), default=None)


def _short(length_mm: float, unit: str) -> str:
    scale = 25.4 if unit == "in" else 1.0
    return f"{float(f'{length_mm / scale:.2g}'):g} {unit}"


def _together(readings: Sequence[Reading]) -> Reading:
    """Return the weighted mean of several readings; errors that photos share are kept in full, to be safe."""
    if len(readings) == 1:
        return readings[0]
    weights = np.array([reading.std_mm**-2 for reading in readings])
    weights /= weights.sum()
    value = float(weights @ [reading.value_mm for reading in readings])
    own = float(np.sqrt(weights**2 @ [reading.own_std_mm**2 for reading in readings]))
    by_photo: dict[str | None, float] = {}
    for weight, reading in zip(weights, readings, strict=True):
        by_photo[reading.photo] = by_photo.get(reading.photo, 0.0) + float(weight) * reading.shared_std_mm
    return Reading(value, own, math.sqrt(sum(part**2 for part in by_photo.values())), None)


def _value_text(value: Value) -> str:
    if not isinstance(value, Counts | Traits):
        return {"absent": "no separate part", "unknown": "not known"}[str(getattr(value, "value", "unknown"))]
    frequencies = shares_of(value)
    if len(frequencies) == 1:
        return str(next(iter(frequencies)))
    ordered = sorted(frequencies.items(), key=lambda item: -item[1])
    return join(f"{key} in {share:.0%}" for key, share in ordered).replace("%", " %")
