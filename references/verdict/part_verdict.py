"""The verdict on each part: which releases it fits, and whether it belongs."""

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np

from references.inference import (
    Belief,
    FeatureFindings,
    Given,
    JudgeOptions,
    PartBelief,
    PartFindings,
    Reading,
    count_likelihood,
    length_model,
    point_density,
    slip_density,
    trait_likelihood,
)
from references.release_sheet import ABSENT, Counts, Feature, Part, Sheet, Traits
from references.verdict.conformity import conformance_probability

PartOutcome = Literal["fits", "fits none", "cannot tell"]

FITS_WITHIN = 1 / 20
"""A release is not excluded if it explains a part at least this share as well as the best one."""
TELLING_CONFORMANCE = 0.5
"""A length tells releases with different limits apart if it more likely than not conforms to one of them."""
DISMISSED_AT = 0.5
"""A length is dismissed as a slip where that is likelier than that it was measured."""
INSIDE_AT = 0.95
"""A length fits a release whose limits hold it with at least this probability."""
OUTSIDE_AT = 0.05
"""A length does not fit a release whose limits hold it with no more than this probability."""


@dataclass(frozen=True, slots=True)
class ReleaseFit:
    """How one finding fits one release.

    Attributes
    ----------
    conformance_probability : float or None
        For a length, the chance that the true length is within the limits; for a count or trait, how often
        the release shows this value; None where the sheet gives nothing.
    likelihood : float
        Probability of the finding, per mm for a length, measurement uncertainty and slips included.
    """

    conformance_probability: float | None
    likelihood: float


@dataclass(frozen=True, slots=True)
class FindingVerdict:
    """One finding beside every release.

    Attributes
    ----------
    feature, name : str
    value : float, int or str
        A length in mm, a count or a trait.
    standard_uncertainty_mm : float or None
    by_release : mapping of str to ReleaseFit
    gross_error : float
        Probability that a length was measured in the wrong place, on another edge, or typed wrong.
    """

    feature: str
    name: str
    value: float | int | str
    standard_uncertainty_mm: float | None
    by_release: Mapping[str, ReleaseFit]
    gross_error: float = 0.0

    @property
    def dismissed(self) -> bool:
        """Whether a length was left without weight, as more likely a slip than measured."""
        return self.gross_error > DISMISSED_AT

    def is_known_of(self, releases: Iterable[str]) -> bool:
        """Tell whether any of these releases has such a value, or may have for all the sheet says.

        Parameters
        ----------
        releases : iterable of str
            Keys of `by_release`.

        Returns
        -------
        bool
        """
        chances = [self.by_release[release].conformance_probability for release in releases]
        least = OUTSIDE_AT if self.standard_uncertainty_mm is not None else 0.0
        return any(chance is None or chance > least for chance in chances)

    def to_json(self) -> dict[str, Any]:
        """Return plain values for a JSON file."""
        return {
            "feature": self.feature,
            "name": self.name,
            "value": self.value,
            "u": self.standard_uncertainty_mm,
            "blunder_probability": self.gross_error,
            "by_release": {
                release: {
                    "conformance_probability": fit.conformance_probability,
                    "likelihood": fit.likelihood,
                }
                for release, fit in self.by_release.items()
            },
        }


@dataclass(frozen=True, slots=True)
class PartVerdict:
    """The verdict on one part.

    Attributes
    ----------
    part, name : str
    present : bool
    outcome : str
        ``"fits"``, ``"fits none"`` or ``"cannot tell"``.
    releases : tuple of str
        The releases that the part's findings do not exclude.
    posterior : mapping of str to float
        Probability of each origin: the releases, ``"recast"`` and ``"none"``.
    foreign : bool
        The part does not belong to the specimen's release.
    foreign_probability : float
    findings : tuple of FindingVerdict
    """

    part: str
    name: str
    present: bool
    outcome: PartOutcome
    releases: tuple[str, ...]
    posterior: Mapping[str, float]
    foreign: bool
    foreign_probability: float
    findings: tuple[FindingVerdict, ...]

    def to_json(self) -> dict[str, Any]:
        """Return plain values for a JSON file."""
        return {
            "part": self.part,
            "name": self.name,
            "present": self.present,
            "outcome": self.outcome,
            "releases": list(self.releases),
            "posterior": dict(self.posterior),
            "foreign": self.foreign,
            "foreign_probability": self.foreign_probability,
            "findings": [finding.to_json() for finding in self.findings],
        }


def judge_parts(
    sheet: Sheet, parts: Sequence[PartFindings], belief: Belief, options: JudgeOptions
) -> tuple[PartVerdict, ...]:
    """Return the verdict on every part with a finding, in the sheet's order."""
    found = []
    for findings, part_belief in zip(parts, belief.parts, strict=True):
        if part_belief is not None:
            foreign = part_belief.foreign * (
                1 - belief.unlisted_probability
            )  # of what is not listed, nothing is foreign
            found.append(_judge_part(sheet, findings, part_belief, foreign, options))
        elif findings.present is False:
            found.append(_missing_part(sheet, findings.part))
    return tuple(found)


def _missing_part(sheet: Sheet, part: Part) -> PartVerdict:
    without = tuple(release for release in sheet.release_ids if part.absent_from(release))
    outcome: PartOutcome = "fits" if without else "cannot tell"
    return PartVerdict(part.id, part.name, False, outcome, without, {}, False, 0.0, ())


def _judge_part(
    sheet: Sheet, findings: PartFindings, belief: PartBelief, foreign: float, options: JudgeOptions
) -> PartVerdict:
    releases = sheet.release_ids
    origin = belief.origin
    count = len(releases)
    posterior = dict(zip(releases, origin[:count].tolist(), strict=True))
    posterior["recast"] = float(origin[count : 2 * count].sum())
    posterior["none"] = float(origin[-1])
    verdicts = tuple(
        verdict
        for each in findings.features
        for verdict in _finding_verdicts(each, releases, origin, options)
    )
    likelihood = belief.likelihood[:count]
    best = max(float(likelihood.max()), 1e-300)
    fitting = tuple(
        release for release, value in zip(releases, likelihood, strict=True) if value >= FITS_WITHIN * best
    )
    outcome = _part_outcome(findings, fitting, posterior, verdicts, options)
    return PartVerdict(
        part=findings.part.id,
        name=findings.part.name,
        present=True,
        outcome=outcome,
        releases=() if outcome == "fits none" else fitting,
        posterior=posterior,
        foreign=bool(findings.features) and foreign >= options.foreign_at,
        foreign_probability=foreign,
        findings=verdicts,
    )


def _part_outcome(
    findings: PartFindings,
    fitting: Sequence[str],
    posterior: Mapping[str, float],
    verdicts: Sequence[FindingVerdict],
    options: JudgeOptions,
) -> PartOutcome:
    # Without a length of its own, a part shows nothing of a copy, whatever the rest suggests.
    not_genuine = posterior["none"] + (posterior["recast"] if findings.readings else 0.0)
    if not_genuine >= options.foreign_at:
        return "fits none"
    if not findings.features or not_genuine > 0.5 or all(verdict.dismissed for verdict in verdicts):
        return "cannot tell"
    if not all(verdict.dismissed or verdict.is_known_of(fitting) for verdict in verdicts):
        return "cannot tell"
    blurred = any(_is_blurred(findings.part, verdict, fitting) for verdict in verdicts)
    return "cannot tell" if blurred else "fits"


def _is_blurred(part: Part, verdict: FindingVerdict, fitting: Sequence[str]) -> bool:
    """Tell whether a length leaves releases with different limits open and is likely within none of them."""
    feature = part.feature(verdict.feature)
    if feature is None or verdict.standard_uncertainty_mm is None or verdict.dismissed:
        return False
    limits = {feature.limits_mm(release) for release in fitting}
    chances = [verdict.by_release[release].conformance_probability or 0.0 for release in fitting]
    return len(limits) > 1 and max(chances, default=0.0) < TELLING_CONFORMANCE


def _finding_verdicts(
    findings: FeatureFindings, releases: Sequence[str], origin: np.ndarray, options: JudgeOptions
) -> list[FindingVerdict]:
    if findings.readings:
        return [
            _length_verdict(findings.feature, reading, releases, origin, options)
            for reading in findings.readings
        ]
    feature, given = findings.feature, Given(tuple(releases), options)
    verdicts = []
    for count in findings.counts:
        verdicts.append(_plain_verdict(feature, count, releases, count_likelihood(feature, [count], given)))
    for word in findings.words:
        verdicts.append(_plain_verdict(feature, word, releases, trait_likelihood(feature, [word], given)))
    return verdicts


def _plain_verdict(
    feature: Feature, value: int | str, releases: Sequence[str], likelihood: np.ndarray
) -> FindingVerdict:
    fits = {
        release: ReleaseFit(
            _frequency(feature, release, value),
            float(chance) if feature.by_release[release] is not ABSENT else 0.0,
        )
        for release, chance in zip(releases, likelihood, strict=False)
    }
    return FindingVerdict(feature.id, feature.name, value, None, fits)


def _frequency(feature: Feature, release: str, value: int | str) -> float | None:
    given = feature.by_release[release]
    if isinstance(given, Counts) and isinstance(value, int):
        return given.frequencies.get(value, 0.0)
    if isinstance(given, Traits) and isinstance(value, str):
        return given.frequencies.get(value, 0.0)
    return None


def _length_verdict(
    feature: Feature, reading: Reading, releases: Sequence[str], origin: np.ndarray, options: JudgeOptions
) -> FindingVerdict:
    model = length_model(feature, releases)
    value, std, count = reading.value_mm, reading.std_mm, len(releases)
    measured = (1 - options.misplaced_rate) * (1 - options.gross_error_rate)
    density = measured * point_density(model, value, std)
    # A length is not of this feature where it is a slip, or of another edge.
    astray = slip_density(model, reading, options)
    # Only mean and spread of a copy's shrinkage are known: enough to tell a slip from a copy.
    copy = 1 - (options.shrink_low + options.shrink_high) / 2
    unsure = (options.shrink_high - options.shrink_low) / math.sqrt(12) * value
    copies = measured * point_density(model, value / copy, math.hypot(std / copy, unsure))[:count]
    each = np.concatenate([density[:count], copies, density[count:]])
    fits = {}
    for index, release in enumerate(releases):
        limits = feature.limits_mm(release)
        chance = (
            None if limits is None else conformance_probability(reading.value_mm, reading.std_mm, *limits)
        )
        has_one = feature.by_release[release] is not ABSENT
        fits[release] = ReleaseFit(chance, float(density[index] + astray[index]) if has_one else 0.0)
    lost = np.concatenate([astray[:count], astray])
    share = float((origin * lost / (lost + each)).sum())
    return FindingVerdict(feature.id, feature.name, reading.value_mm, reading.std_mm, fits, share)
