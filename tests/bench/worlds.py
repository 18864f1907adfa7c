"""How the verdict does in worlds that its model does not know: wrong names, wrong parts, causes found.

python -m tests.bench.worlds [--draws 400] [--jobs 2] [--seed 1] [--world NAME]

Each world draws sheets and specimens of its own: populations that are normal, skewed or of two kinds, limits
from as many examples as a collector has, faults of scale, releases that no sheet lists, points put on another
edge. Nothing here is drawn by the code that judges. "Hedged" is a wrong release whose headline names parts in
doubt; a part accused wrongly is always wrong.
"""

import argparse
import math
from collections import Counter
from collections.abc import Callable
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, field, replace
from typing import Any, cast

import numpy as np

from measure.verdict_words import unsettled_parts
from references.inference import Finding
from references.release_sheet.sheet import Feature, Part, Release, Sheet
from references.release_sheet.values import Counts, Normal, Range, Traits, Value
from references.verdict import Verdict, judge

Rng = np.random.Generator
NAME_AT = 0.9
WORDS = ("plain", "ribbed", "smooth")
FACTORS = (0.25, 0.5, 0.667, 0.923, 0.954, 0.968, 0.97, 1.03, 1.05, 1.1, 1.41, 1.5, 2.0, 25.4)


@dataclass(frozen=True)
class Population:
    """The true lengths of one feature on one release."""

    middle_mm: float
    spread_mm: float
    shape: str

    def draw(self, rng: Rng) -> float:
        if self.shape == "skewed":  # a worn mould: a long tail to one side
            return self.middle_mm + self.spread_mm * float(rng.gamma(1.5) / math.sqrt(1.5) - 1.2)
        if self.shape == "two kinds":  # two moulds of one release
            return self.middle_mm + self.spread_mm * float(rng.choice([-1.2, 1.2]) + 0.3 * rng.normal())
        if self.shape == "even":
            return self.middle_mm + self.spread_mm * float(rng.uniform(-1.73, 1.73))
        return self.middle_mm + self.spread_mm * float(rng.normal())


@dataclass(frozen=True)
class Maker:
    """How a world makes its toys, and how well its collectors know them."""

    shape: str = "normal"
    examples: tuple[int, int] = (6, 30)
    mislabelled: float = 0.0
    parts: tuple[int, int] = (4, 8)


@dataclass(frozen=True)
class Toy:
    """A subject: what its releases truly are, and the sheet that somebody wrote of them."""

    sheet: Sheet
    truth: dict[tuple[str, str, str], Population | int | str]
    """By release, part and feature; the release "unlisted" is on no sheet."""


@dataclass
class Tally:
    """What was seen in one world."""

    drawn: int = 0
    right: int = 0
    wrong: int = 0
    hedged: int = 0
    undecided: int = 0
    cause: Counter[str] = field(default_factory=Counter)
    swapped: int = 0
    found: int = 0


def invent(maker: Maker, rng: Rng) -> Toy:
    """Invent a toy of two to four releases, each part the same on some of them."""
    names = [f"r{number}" for number in range(int(rng.integers(2, 5)))]
    size = int(rng.integers(*maker.parts))
    truth: dict[tuple[str, str, str], Population | int | str] = {}
    parts = []
    for part_number in range(size):
        features = []
        kinds = ["dimension", *rng.choice(["dimension", "count", "trait"], int(rng.integers(0, 3)))]
        for number, kind in enumerate(kinds):
            ids = f"p{part_number}", f"f{number}"
            features.append(_feature(ids, str(kind), names, maker, truth, rng))
        parts.append(Part(f"p{part_number}", f"Part {part_number}", tuple(features)))
    priors = rng.dirichlet(np.full(len(names), 3.0))
    releases = tuple(Release(name, name, "", float(prior)) for name, prior in zip(names, priors, strict=True))
    return Toy(Sheet("toy", "Toy", "", "mm", 0.05, 0.05, 0.02, releases, tuple(parts)), truth)


def _feature(
    ids: tuple[str, str],
    kind: str,
    names: list[str],
    maker: Maker,
    truth: dict[tuple[str, str, str], Population | int | str],
    rng: Rng,
) -> Feature:
    size = float(np.exp(rng.uniform(math.log(8), math.log(200))))
    spread = max(0.15, 0.004 * size)
    kept: list[Population | int | str] = []
    for name in [*names, "unlisted"]:
        if kept and rng.random() < 0.5:  # as one of the releases before it
            value = kept[int(rng.integers(len(kept)))]
        elif kind == "dimension":
            middle = size + float(rng.choice([-1, 1]) * rng.uniform(4, 14)) * spread * (len(kept) > 0)
            value = Population(middle, spread, maker.shape)
        elif kind == "count":
            value = int(rng.integers(2, 9))
        else:
            value = str(rng.choice(WORDS))
        kept.append(value)
        truth[name, *ids] = value
    by_release: dict[str, Value] = {}
    for name in names:
        by_release[name] = _known(truth[name, *ids], [truth[other, *ids] for other in names], maker, rng)
    alternatives = WORDS if kind == "trait" else ()
    measured = "span" if kind == "dimension" else None
    return Feature(
        ids[1], ids[1], cast("Any", kind), "", by_release, cast("Any", measured), 0.0, 1.0, alternatives
    )


def _known(value: object, others: list[object], maker: Maker, rng: Rng) -> Value:
    """Return what a collector writes into the sheet after measuring some examples."""
    if isinstance(value, int):
        return Counts({value: 1.0})
    if isinstance(value, str):
        return Traits({value: 1.0})
    assert isinstance(value, Population)
    count = int(rng.integers(maker.examples[0], maker.examples[1] + 1))
    drawn = [value.draw(rng) for _ in range(count)]
    if rng.random() < maker.mislabelled:
        stray = others[int(rng.integers(len(others)))]
        assert isinstance(stray, Population)
        drawn[0] = stray.draw(rng)
    if rng.random() < 0.7:
        return Range(min(drawn), max(drawn), count)
    return Normal(float(np.mean(drawn)), float(np.std(drawn, ddof=1)), count)


@dataclass(frozen=True)
class Specimen:
    """What a specimen truly is, and what was found on it."""

    release: str
    foreign: frozenset[str]
    findings: tuple[Finding, ...]
    fault: str = ""


def examine(toy: Toy, release: str, origins: dict[str, str], rng: Rng, shrink: float = 0.0) -> list[Finding]:
    """Measure and count, each length with its stated uncertainty, part of it common to its photo."""
    errors = {f"photo-{number}": float(rng.normal()) for number in range(2)}
    found = []
    for part in toy.sheet.parts:
        if rng.random() < 0.1:
            continue
        photo = str(rng.choice(list(errors)))
        for feature in part.features:
            if rng.random() < 0.15:
                continue
            value = toy.truth[origins.get(part.id, release), part.id, feature.id]
            if not isinstance(value, Population):
                found.append(Finding(part.id, feature.id, _noted(value, rng)))
                continue
            true = value.draw(rng) * (1 - shrink)
            std = 0.15 + 0.003 * true * float(rng.uniform(0.5, 2.0))
            shared = 0.6 * std
            error = shared * errors[photo] + math.sqrt(std**2 - shared**2) * float(rng.normal())
            found.append(Finding(part.id, feature.id, max(true + error, 0.1), std, shared, photo))
    return found


def _noted(value: int | str, rng: Rng) -> int | str:
    if rng.random() > 0.02:
        return value
    return max(value + int(rng.choice([-1, 1])), 0) if isinstance(value, int) else str(rng.choice(WORDS))


def _lengths(findings: list[Finding]) -> list[int]:
    return [place for place, one in enumerate(findings) if one.standard_uncertainty_mm is not None]


def _release(toy: Toy, rng: Rng) -> str:
    names = toy.sheet.release_ids
    return str(rng.choice(names, p=[release.prior for release in toy.sheet.releases]))


def whole(toy: Toy, rng: Rng) -> Specimen:
    release = _release(toy, rng)
    return Specimen(release, frozenset(), tuple(examine(toy, release, {}, rng)))


def swapped(toy: Toy, rng: Rng) -> Specimen:
    """Two parts from one other release."""
    release = _release(toy, rng)
    other = str(rng.choice([name for name in toy.sheet.release_ids if name != release]))
    chosen = rng.choice([part.id for part in toy.sheet.parts], 2, replace=False)
    origins = {str(part): other for part in chosen}
    differ = {
        part.id
        for part in toy.sheet.parts
        for feature in part.features
        if part.id in origins
        and toy.truth[release, part.id, feature.id] != toy.truth[other, part.id, feature.id]
    }
    return Specimen(release, frozenset(differ), tuple(examine(toy, release, origins, rng)))


def scaled(toy: Toy, rng: Rng) -> Specimen:
    """All lengths of the specimen, or of one photo, read too long or short by one factor."""
    release = _release(toy, rng)
    findings, factor = examine(toy, release, {}, rng), float(rng.choice(FACTORS))
    photo = str(rng.choice(["photo-0", "photo-1"])) if rng.random() < 0.5 else None
    off = [place for place in _lengths(findings) if photo is None or findings[place].photo == photo]
    for place in off:
        one = findings[place]
        assert one.standard_uncertainty_mm is not None
        assert isinstance(one.value, float)
        findings[place] = replace(
            one,
            value=one.value * factor,
            standard_uncertainty_mm=one.standard_uncertainty_mm * factor,
            shared_std_mm=one.shared_std_mm * factor,
        )
    if photo is None and 0.965 < factor < 1:  # no length can tell it from a copy that is as small
        return Specimen(release, frozenset(), tuple(findings), "as small as a copy")
    relative = [findings[place].standard_uncertainty_mm / findings[place].value for place in off]  # type: ignore[operator]
    seen = len(off) >= 2 and abs(factor - 1) > 2 * 1.96 * min(relative, default=1.0)
    return Specimen(release, frozenset(), tuple(findings), "scale" if seen else "")


def recast(toy: Toy, rng: Rng) -> Specimen:
    """A copy that is 1 to 5 % smaller."""
    release, shrink = _release(toy, rng), float(rng.uniform(0.01, 0.05))
    return Specimen(f"copy of {release}", frozenset(), tuple(examine(toy, release, {}, rng, shrink)))


def unlisted(toy: Toy, rng: Rng) -> Specimen:
    """A release that is on no sheet; about half of its features are new."""
    return Specimen("unlisted", frozenset(), tuple(examine(toy, "unlisted", {}, rng)), "unlisted")


def misplaced(toy: Toy, rng: Rng) -> Specimen:
    """One or two lengths taken to another edge, some 5 mm away."""
    release = _release(toy, rng)
    findings = examine(toy, release, {}, rng)
    places = _lengths(findings)
    for place in rng.choice(places, min(len(places), int(rng.integers(1, 3))), replace=False):
        one = findings[place]
        assert isinstance(one.value, float)
        findings[place] = replace(one, value=max(one.value + float(rng.normal(0, 5.0)), 1.0))
    return Specimen(release, frozenset(), tuple(findings))


def doubled(toy: Toy, rng: Rng) -> Specimen:
    """Each length given twice as if measured anew; one of them was put on another edge, both times."""
    made = misplaced(toy, rng)
    again = tuple(one for one in made.findings if one.standard_uncertainty_mm is not None)
    return replace(made, findings=(*made.findings, *again))


World = tuple[Maker, Callable[[Toy, Rng], Specimen]]
WORLDS: dict[str, World] = {
    "as the sheet says": (Maker("even"), whole),
    "as the sheet says, parts swapped": (Maker("even", parts=(7, 10)), swapped),
    "normal production, 3 to 30 examples": (Maker("normal", (3, 30)), whole),
    "normal production, 3 to 5 examples": (Maker("normal", (3, 5)), whole),
    "skewed production": (Maker("skewed"), whole),
    "two moulds": (Maker("two kinds"), whole),
    "examples mislabelled": (Maker("normal", (6, 20), 0.2), whole),
    "two parts swapped": (Maker("normal", parts=(7, 10)), swapped),
    "a fault of scale": (Maker("normal"), scaled),
    "a copy, 1 to 5 % small": (Maker("normal"), recast),
    "a release not listed": (Maker("normal"), unlisted),
    "points on another edge": (Maker("normal"), misplaced),
    "the same clicks twice": (Maker("normal"), doubled),
}


def cause_of(verdict: Verdict) -> str:
    """Return what the verdict takes for the trouble."""
    if verdict.doubts:
        return verdict.doubts[0].code
    return verdict.outcome


def is_wrong(verdict: Verdict, made: Specimen) -> bool:
    """Tell whether a release that it isn't, or a part that belongs, was named."""
    accused = {part.part for part in verdict.parts if part.foreign}
    if made.release.startswith("copy"):
        return verdict.outcome in ("release", "mixed")
    if made.release == "unlisted":
        return verdict.outcome in ("release", "mixed", "recast") and (
            verdict.release is not None or bool(accused)
        )
    if verdict.outcome == "recast":
        return made.fault != "as small as a copy"
    return (verdict.release not in (None, made.release)) or bool(accused - made.foreign)


def judged(task: tuple[str, int, int]) -> tuple[str, Tally, list[tuple[float, bool]]]:
    """Judge some specimens of one world."""
    world, seed, draws = task
    maker, make = WORLDS[world]
    tally, stated = Tally(), []
    for draw in range(draws):
        rng = np.random.default_rng([seed, draw, sorted(WORLDS).index(world)])
        toy = invent(maker, rng)
        made = make(toy, rng)
        verdict = judge(toy.sheet, made.findings)
        wrong = is_wrong(verdict, made)
        named = verdict.release is not None and verdict.release == made.release.removeprefix("copy of ")
        tally.drawn += 1
        hedged = wrong and verdict.outcome == "release" and bool(unsettled_parts(verdict))
        tally.wrong += wrong and not hedged
        tally.hedged += hedged
        tally.right += named and not wrong
        tally.undecided += not named and not wrong
        if made.fault in ("scale", "unlisted"):
            tally.cause["of"] += 1
            tally.cause[cause_of(verdict)] += 1
        accused = {part.part for part in verdict.parts if part.foreign}
        seen = {one.part for one in made.findings}
        tally.swapped += len(made.foreign & seen)
        tally.found += len(made.foreign & accused)
        best = max(verdict.posterior, key=lambda key: verdict.posterior[key])
        if not verdict.doubts:
            stated.append((verdict.posterior[best], best == made.release))
    return world, tally, stated


def calibration_error(stated: list[tuple[float, bool]]) -> float:
    """Return the expected calibration error over ten bins."""
    said = np.array([each for each, _ in stated])
    so = np.array([each for _, each in stated])
    bins = np.minimum((10 * said).astype(int), 9)
    return float(
        sum(abs(said[bins == b].mean() - so[bins == b].mean()) * (bins == b).mean() for b in set(bins))
    )


def merged(one: Tally, other: Tally) -> Tally:
    return Tally(
        one.drawn + other.drawn, one.right + other.right, one.wrong + other.wrong,
        one.hedged + other.hedged, one.undecided + other.undecided, one.cause + other.cause,
        one.swapped + other.swapped, one.found + other.found,
    )  # fmt: skip


def main() -> None:
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--draws", type=int, default=400)
    parser.add_argument("--jobs", type=int, default=2)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--world", choices=list(WORLDS))
    options = parser.parse_args()
    worlds = [options.world] if options.world else list(WORLDS)
    pieces = max(options.jobs, 1)
    tasks = [(w, 1000 * options.seed + p, options.draws // pieces) for w in worlds for p in range(pieces)]
    tallies: dict[str, Tally] = {}
    stated: dict[str, list[tuple[float, bool]]] = {}
    with ProcessPoolExecutor(pieces) as pool:
        for world, tally, said in pool.map(judged, tasks):
            tallies[world] = merged(tallies.get(world, Tally()), tally)
            stated.setdefault(world, []).extend(said)
    head = "".join(f" {word:>6}" for word in ("right", "wrong", "hedged", "open"))
    print(f"{'world':38} {'drawn':>5}{head} {'ECE':>6}  causes, swaps found")
    for world, tally in sorted(tallies.items(), key=lambda each: -each[1].wrong / each[1].drawn):
        shares = "".join(
            f" {100 * part / tally.drawn:5.1f}%"
            for part in (tally.right, tally.wrong, tally.hedged, tally.undecided)
        )
        more = ", ".join(
            f"{name} {100 * number / tally.cause['of']:.0f}%"
            for name, number in tally.cause.most_common()
            if name != "of"
        )
        if tally.swapped:
            more += f" {100 * tally.found / tally.swapped:.0f}% of {tally.swapped} swapped parts"
        print(f"{world:38} {tally.drawn:5}{shares} {calibration_error(stated[world]):6.3f}  {more}")


if __name__ == "__main__":
    main()
