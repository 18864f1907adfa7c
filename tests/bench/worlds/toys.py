"""What a factory really makes, and the sheet that somebody writes of a few examples of it.

Nothing here is drawn by the code that judges: lengths are normal, even, skewed or of two moulds, and the
sheet states the smallest and largest of the examples, as collectors write it, or their mean and spread.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from references import shipped_sheet
from references.release_sheet.sheet import Feature, Part, Release, Sheet
from references.release_sheet.values import ABSENT, Counts, Normal, Range, Traits, Value

Shape = Literal["normal", "even", "skewed", "two moulds"]
Key = tuple[str, str]

RANGE_IN_SDS = {2: 1.128, 3: 1.693, 4: 2.059, 5: 2.326, 6: 2.534, 7: 2.704, 8: 2.847, 9: 2.970, 10: 3.078}
"""Mean range of so many normal values in their standard deviations: d2 of ISO 7870-2, table 2."""
SAMPLE_EXAMPLES = {"first": 6, "second": 9, "third": 5, "export": 4}
"""As the sample sheet says in words."""
WORDS = ("round", "square", "none", "star")


@dataclass(frozen=True, slots=True)
class Made:
    """The lengths that one release really has: mean and spread in mm, and the shape of their spread."""

    mean_mm: float
    sd_mm: float
    shape: Shape = "normal"

    def draw(self, rng: np.random.Generator) -> float:
        """Return one part's true length."""
        if self.shape == "skewed":  # gamma of shape 2: skewness 1.4
            return self.mean_mm + self.sd_mm * float(rng.gamma(2.0) - 2.0) / 2**0.5
        if self.shape == "even":
            return self.mean_mm + self.sd_mm * 3**0.5 * float(rng.uniform(-1, 1))
        if self.shape == "two moulds":  # one mould in four, 2.5 standard deviations from the others
            other = 2.5 if rng.random() < 0.25 else 0.0
            return self.mean_mm + self.sd_mm * (other - 0.625 + 0.6 * float(rng.standard_normal()))
        return self.mean_mm + self.sd_mm * float(rng.standard_normal())


@dataclass(frozen=True, slots=True)
class Toy:
    """A sheet, and what the releases it describes really are."""

    sheet: Sheet
    lengths: Mapping[Key, Mapping[str, Made]]

    def examples(self, key: Key, release: str, count: int, rng: np.random.Generator) -> list[float]:
        """Return the true lengths of so many parts of a release."""
        return [self.lengths[key][release].draw(rng) for _ in range(count)]


def sample_toy(shape: Shape = "normal") -> Toy:
    """Return the sample sheet with production whose examples span, on average, the ranges it states."""
    sheet = shipped_sheet("saltmarsh-ferry")
    lengths: dict[Key, dict[str, Made]] = {}
    for part in sheet.parts:
        for feature in part.features:
            for release, value in feature.by_release.items():
                if isinstance(value, Range):
                    sd = (value.high_mm - value.low_mm) / RANGE_IN_SDS[SAMPLE_EXAMPLES[release]]
                    made = Made((value.low_mm + value.high_mm) / 2, sd, shape)
                    lengths.setdefault((part.id, feature.id), {})[release] = made
    return Toy(sheet, lengths)


def invented_toy(rng: np.random.Generator, shape: Shape = "normal") -> Toy:
    """Return a random toy of two to five releases; its sheet is still without values for lengths."""
    count = int(rng.integers(2, 6))
    ids = tuple(f"r{number}" for number in range(count))
    shares = rng.dirichlet(np.full(count, 3.0))
    releases = tuple(Release(key, key.upper(), "", float(p)) for key, p in zip(ids, shares, strict=True))
    lengths: dict[Key, dict[str, Made]] = {}
    parts = []
    for number in range(int(rng.integers(4, 9))):
        absent = ids[int(rng.integers(count))] if count > 2 and rng.random() < 0.15 else None
        features = []
        for place in range(int(rng.integers(1, 3))):
            kind = "dimension" if place == 0 and number < 3 else rng.choice(["dimension", "count", "trait"])
            features.append(_feature((f"p{number}", f"f{place}"), kind, ids, absent, (lengths, shape), rng))
        parts.append(Part(f"p{number}", f"P{number}", tuple(features)))
    sheet = Sheet("invented", "Invented", "", "mm", 0.05, 0.05, 0.02, releases, tuple(parts))
    return Toy(sheet, lengths)


def _feature(
    key: Key,
    kind: str,
    releases: tuple[str, ...],
    absent: str | None,
    lengths: tuple[dict[Key, dict[str, Made]], Shape],
    rng: np.random.Generator,
) -> Feature:
    group = {release: int(rng.integers(0, 3)) for release in releases}
    values: dict[str, Value]
    if kind == "dimension":
        values = dict.fromkeys(releases, ABSENT)
        size = float(np.exp(rng.uniform(np.log(15), np.log(200))))
        steps = size * (1 + rng.choice([-1, 1], 3) * rng.uniform(0.02, 0.10, 3))
        sd = 0.1 + size * float(rng.uniform(0.002, 0.008))
        made = {r: Made(float(steps[group[r]]), sd, lengths[1]) for r in releases if r != absent}
        lengths[0][key] = made
        height = float(rng.uniform(0, 40))
        return Feature(key[1], key[1].upper(), "dimension", "", values, "span", standoff_mm=height)
    if kind == "count":
        start = int(rng.integers(2, 8))
        values = {r: ABSENT if r == absent else Counts({start + group[r]: 1.0}) for r in releases}
        return Feature(key[1], key[1].upper(), "count", "", values)
    mostly = float(rng.choice([1.0, 0.9, 0.8]))
    values = {}
    for release in releases:
        word, other = WORDS[group[release]], WORDS[3]
        share = {word: mostly, other: 1 - mostly} if mostly < 1 else {word: 1.0}
        values[release] = ABSENT if release == absent else Traits(share)
    return Feature(key[1], key[1].upper(), "trait", "", values, alternatives=WORDS)


MEAN_AND_SPREAD = 0.3
"""So many of the invented sheets' lengths are stated as mean and spread, and the others as a range."""
Write = Callable[[Key, str], Value]


def with_ranges(
    toy: Toy,
    examples: tuple[int, int],
    rng: np.random.Generator,
    *,
    stated: bool = True,
    mislabelled: float = 0.0,
) -> Toy:
    """Return the toy with ranges of so many examples each, some of them of another release by mistake."""
    ids = toy.sheet.release_ids

    def written(key: Key, release: str) -> Value:
        count = int(rng.integers(examples[0], examples[1] + 1))
        found = toy.examples(key, release, count, rng)
        others = [other for other in ids if other != release and other in toy.lengths[key]]
        if others and rng.random() < mislabelled:
            found[0] = toy.examples(key, others[int(rng.integers(len(others)))], 1, rng)[0]
        if stated and rng.random() < MEAN_AND_SPREAD:
            return Normal(float(np.mean(found)), max(0.05, float(np.std(found, ddof=1))), count)
        low, high = round(max(0.1, min(found)), 1), round(max(found), 1)
        return Range(low, max(low, high), count if stated else None)

    return replace(toy, sheet=_rewritten(toy, written))


def _rewritten(toy: Toy, written: Write) -> Sheet:
    def feature(part: Part, each: Feature) -> Feature:
        made = toy.lengths.get((part.id, each.id))
        if made is None:
            return each
        new = {r: written((part.id, each.id), r) if r in made else v for r, v in each.by_release.items()}
        return replace(each, by_release=new)

    parts = tuple(
        replace(part, features=tuple(feature(part, f) for f in part.features)) for part in toy.sheet.parts
    )
    return replace(toy.sheet, parts=parts)
