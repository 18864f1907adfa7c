"""Draws specimens and findings from a sheet, exactly as the verdict assumes them."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from references.inference.finding import OTHER, Finding
from references.inference.likelihood import GROSS_ERROR_SPAN, unlisted_spread
from references.inference.options import JudgeOptions
from references.inference.origins import origin_shares
from references.release_sheet.sheet import Feature, Part, Sheet
from references.release_sheet.values import Counts, Normal, Range, Traits, Value

UNLISTED = -1
"""Origin of a part that comes from none of the releases."""


@dataclass(frozen=True, slots=True)
class PartTruth:
    """Where a part really comes from.

    Attributes
    ----------
    origin : int
        Position of the release, or `UNLISTED`.
    shrink : float
        Share by which it is smaller than the part it was cast from; 0 for a genuine part.
    """

    origin: int
    shrink: float


@dataclass(frozen=True, slots=True)
class Truth:
    """What a simulated specimen really is.

    Attributes
    ----------
    release : int
        Position of its release in the sheet.
    shrink : float
        Share by which the whole specimen is smaller; 0 for a genuine one.
    parts : mapping of str to PartTruth
        The parts that are there.
    """

    release: int
    shrink: float
    parts: Mapping[str, PartTruth]

    def is_foreign(self, part: str) -> bool:
        """Tell whether a part does not belong to the specimen's release."""
        truth = self.parts[part]
        return truth.origin != self.release or truth.shrink != self.shrink


@dataclass(frozen=True, slots=True)
class Circumstances:
    """How the specimen is examined.

    Attributes
    ----------
    looked_at : float
        Share of the parts that are looked at.
    checked : float
        Share of the features that are checked on them.
    std_mm : (float, float)
        Standard uncertainties of lengths, drawn uniformly in their logarithm between these.
    shared : (float, float)
        Share of that variance that the lengths of a photo share, drawn uniformly between these.
    photos : int
        Number of photos that the parts are spread over.
    """

    looked_at: float = 0.8
    checked: float = 0.8
    std_mm: tuple[float, float] = (0.2, 2.0)
    shared: tuple[float, float] = (0.1, 0.9)
    photos: int = 2


def draw_truth(sheet: Sheet, options: JudgeOptions, rng: np.random.Generator) -> Truth:
    """Draw a specimen: its release, whether it is a recast, and where each part comes from."""
    count = len(sheet.releases)
    release = int(rng.choice(count, p=[each.prior for each in sheet.releases]))
    shrink = _shrink(options, rng) if rng.random() < sheet.recast_rate else 0.0
    parts = {}
    for part in sheet.parts:
        shares = origin_shares(sheet, part, options)[release]
        drawn = int(rng.choice(len(shares) + 1, p=[*shares, max(0.0, 1 - shares.sum())]))
        if drawn == len(shares):
            continue  # lost, or never present
        if drawn == 2 * count:
            parts[part.id] = PartTruth(UNLISTED, shrink)
        elif drawn >= count:
            parts[part.id] = PartTruth(drawn - count, _shrink(options, rng))
        else:
            parts[part.id] = PartTruth(drawn, shrink)
    return Truth(release, shrink, parts)


def _shrink(options: JudgeOptions, rng: np.random.Generator) -> float:
    return float(rng.uniform(options.shrink_low, options.shrink_high))


def draw_findings(
    sheet: Sheet, truth: Truth, how: Circumstances, options: JudgeOptions, rng: np.random.Generator
) -> list[Finding]:
    """Examine a specimen: measure, count and look, with errors and slips; absent parts are noted."""
    scale_errors = rng.standard_normal(how.photos)
    findings = []
    for part in sheet.parts:
        if rng.random() > how.looked_at:
            continue
        if part.id not in truth.parts:
            findings.append(Finding(part.id, state="not present"))
            continue
        # Anyone who looks at a part sees that it is present: what stays unknown must not depend on the truth.
        findings.append(Finding(part.id))
        photo = int(rng.integers(how.photos))
        draw = _Draw(sheet, truth.parts[part.id], how, options, rng)
        for feature in part.features:
            if rng.random() < how.checked:
                findings.append(draw.finding(part, feature, photo, float(scale_errors[photo])))
    return findings


@dataclass(frozen=True, slots=True)
class _Draw:
    """Draws findings on one part."""

    sheet: Sheet
    truth: PartTruth
    how: Circumstances
    options: JudgeOptions
    rng: np.random.Generator

    def finding(self, part: Part, feature: Feature, photo: int, scale_error: float) -> Finding:
        origin = self.truth.origin
        value = None if origin == UNLISTED else feature.by_release[self.sheet.release_ids[origin]]
        if feature.kind == "count":
            return Finding(part.id, feature.id, _draw_count(feature, value, self.options, self.rng))
        if feature.kind == "trait":
            return Finding(part.id, feature.id, _draw_word(feature, value, self.options, self.rng))
        std = float(np.exp(self.rng.uniform(*np.log(self.how.std_mm))))
        shared = std * float(np.sqrt(self.rng.uniform(*self.how.shared)))
        error = float(np.sqrt(std**2 - shared**2)) * self.rng.standard_normal() + shared * scale_error
        unlisted = unlisted_spread([feature.by_release[release] for release in self.sheet.release_ids])
        spread = value if isinstance(value, Range | Normal) else unlisted
        length = draw_length(spread, self.rng) * (1 - self.truth.shrink) + error
        if self.rng.random() < self.options.misplaced_rate:
            length += self.options.misplaced_std_mm(unlisted.mean_mm) * self.rng.standard_normal()
        elif self.rng.random() < self.options.gross_error_rate:
            reach = float(np.log(GROSS_ERROR_SPAN))
            length = unlisted.mean_mm * float(np.exp(self.rng.uniform(-reach, reach)))
        return Finding(part.id, feature.id, max(length, 0.01), std, shared, f"photo-{photo + 1}")


def draw_length(spread: Range | Normal, rng: np.random.Generator) -> float:
    """Draw a part's true length from a release's spread, as the verdict models it."""
    if isinstance(spread, Range):
        return float(rng.uniform(spread.low_mm, spread.high_mm) + spread.soft_std_mm * rng.standard_normal())
    if spread.examples is None:
        return float(rng.normal(spread.mean_mm, spread.sd_mm))
    scale = spread.sd_mm * float(np.sqrt(1 + 1 / spread.examples))
    return float(spread.mean_mm + scale * rng.standard_t(spread.examples - 1))


def _draw_count(
    feature: Feature, value: Value | None, options: JudgeOptions, rng: np.random.Generator
) -> int:
    values = feature.by_release.values()
    known = sorted({count for each in values if isinstance(each, Counts) for count in each.frequencies})
    if isinstance(value, Counts):
        count = int(rng.choice(list(value.frequencies), p=list(value.frequencies.values())))
    else:
        count = int(rng.integers(max(0, known[0] - 2), known[-1] + 3))
    if rng.random() < options.miscount_rate:
        count += int(rng.choice([-1, 1])) * (1 if rng.random() < 0.8 else 1 + int(rng.geometric(0.5)))
    return max(count, 0)


def _draw_word(feature: Feature, value: Value | None, options: JudgeOptions, rng: np.random.Generator) -> str:
    words: Sequence[str] = (*feature.alternatives, OTHER)
    if isinstance(value, Traits):
        word = str(rng.choice(list(value.frequencies), p=list(value.frequencies.values())))
    else:
        word = str(rng.choice(list(words)))
    if rng.random() < options.misread_rate:
        word = str(rng.choice([other for other in words if other != word]))
    return word
