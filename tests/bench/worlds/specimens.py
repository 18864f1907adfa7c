"""Specimens of a toy, examined, with one thing wrong that the verdict is not told of."""

from collections.abc import Callable
from dataclasses import dataclass, field, replace

import numpy as np

from references import Finding
from references.release_sheet.sheet import Feature, Part
from references.release_sheet.values import Counts, Traits
from tests.bench.worlds.toys import WORDS, Made, Toy

PHOTOS = ("photo-1", "photo-2")
LOOKED_AT, CHECKED, LOST = 0.9, 0.9, 0.03
STD_MM = (0.25, 0.8)
SHARED = (0.2, 0.6)
"""Standard uncertainties of lengths, log-uniform, and the photo's share of their variance: good photos'."""
MISPLACED_MM = (3.0, 8.0)
"""So far were points off that were placed with care after a description in words (shared notes, 3)."""
WRONG_RATIOS = (57.15 / 53.98, 53.98 / 57.15, 88.9 / 85.6, 2**0.5, 2**-0.5, 297 / 279.4, 25.4)
"""A bridge card, a poker card's length for a bank card's, A5 for A4 and back, A4 for Letter, inches."""


@dataclass(frozen=True, slots=True)
class Specimen:
    """What it really is, and what was found on it.

    Attributes
    ----------
    release : str or None
        None where the sheet does not list it.
    findings : list of Finding
    foreign : frozenset of str
        The parts that come from elsewhere.
    copy : bool
        A cast from the genuine toy, smaller all over.
    factor : float
        What is wrong with all lengths or those of one photo; 1 for nothing.
    over_u : float
        How far that lies from 1, in expanded uncertainties (k = 2) of what these lengths can tell at best.
    """

    release: str | None
    findings: list[Finding]
    foreign: frozenset[str] = frozenset()
    copy: bool = False
    factor: float = 1.0
    over_u: float = 0.0


@dataclass
class Maker:
    """Draws specimens of a toy."""

    toy: Toy
    rng: np.random.Generator
    true_mm: dict[tuple[str, str], float] = field(default_factory=dict)

    def release(self) -> str:
        """Return a release, as often as the sheet says."""
        releases = self.toy.sheet.releases
        return releases[int(self.rng.choice(len(releases), p=[each.prior for each in releases]))].id

    def findings(self, origin: Callable[[Part], str]) -> list[Finding]:
        """Examine a specimen whose parts are of these releases, without any mistake."""
        errors = dict(zip(PHOTOS, self.rng.standard_normal(len(PHOTOS)), strict=True))
        found: list[Finding] = []
        for part in self.toy.sheet.parts:
            release = origin(part)
            if self.rng.random() > LOOKED_AT:
                continue
            if part.absent_from(release) or self.rng.random() < LOST:
                found.append(Finding(part.id, state="not present"))
                continue
            photo = PHOTOS[int(self.rng.integers(len(PHOTOS)))]
            found.append(Finding(part.id))
            for feature in part.features:
                if self.rng.random() < CHECKED:
                    found.append(self._finding(part, feature, release, (photo, errors[photo])))
        return found

    def _finding(self, part: Part, feature: Feature, release: str, photo: tuple[str, float]) -> Finding:
        value = feature.by_release[release]
        if isinstance(value, Counts | Traits):
            shares = value.frequencies
            keys: list[int | str] = list(shares)
            return Finding(
                part.id, feature.id, keys[int(self.rng.choice(len(keys), p=list(shares.values())))]
            )
        true_mm = self.toy.lengths[part.id, feature.id][release].draw(self.rng)
        return self.length(part.id, feature.id, max(true_mm, 0.05), photo)

    def length(self, part: str, feature: str, true_mm: float, photo: tuple[str, float]) -> Finding:
        """Measure a length with an error of its own and its photo's."""
        self.true_mm[part, feature] = true_mm
        std = float(np.exp(self.rng.uniform(*np.log(STD_MM))))
        shared = std * float(np.sqrt(self.rng.uniform(*SHARED)))
        error = float(np.sqrt(std**2 - shared**2)) * float(self.rng.standard_normal()) + shared * photo[1]
        return Finding(part, feature, max(true_mm + error, 0.05), std, shared, photo[0])

    def scaled(
        self,
        release: str,
        findings: list[Finding],
        factor_of: Callable[[Finding], float],
        factor: float,
        *,
        copy: bool = False,
    ) -> Specimen:
        """Return the specimen with its lengths off by a factor each, about `factor` in all."""
        new, information = [], 0.0
        for each in findings:
            own = factor_of(each)
            if not isinstance(each.value, float):
                new.append(each)
                continue
            new.append(replace(each, value=each.value * own))
            made, std = (
                self.toy.lengths[each.part, str(each.feature)][release],
                each.standard_uncertainty_mm or 0.0,
            )
            if own != 1.0:
                information += made.mean_mm**2 / (std**2 + made.sd_mm**2)
        over_u = abs(factor - 1) / (2 * information**-0.5) if information else 0.0
        return Specimen(release, new, frozenset(), copy, factor, over_u)


def own_parts(maker: Maker) -> Specimen:
    """A specimen all of one release."""
    release = maker.release()
    return Specimen(release, maker.findings(lambda _: release))


def wrong_reference(maker: Maker) -> Specimen:
    """Every photo scaled by another object than the one that lay there."""
    factor = float(maker.rng.choice(WRONG_RATIOS))
    whole = own_parts(maker)
    return maker.scaled(str(whole.release), whole.findings, lambda _: factor, factor)


def wrong_photo(maker: Maker) -> Specimen:
    """One photo of two scaled by another object."""
    factor, whole = float(maker.rng.choice(WRONG_RATIOS)), own_parts(maker)
    photo = PHOTOS[int(maker.rng.integers(2))]
    return maker.scaled(
        str(whole.release), whole.findings, lambda f: factor if f.photo == photo else 1.0, factor
    )


def forgotten_standoff(maker: Maker) -> Specimen:
    """Heights above the card left out: each length too long by its own height over the distance left."""
    distance_mm = float(maker.rng.uniform(300, 800))
    whole = own_parts(maker)

    def factor(finding: Finding) -> float:
        part = maker.toy.sheet.part(finding.part)
        feature = part.feature(finding.feature) if part and finding.feature else None
        height = feature.standoff_mm if feature else 0.0
        return distance_mm / (distance_mm - height)

    lengths = [each for each in whole.findings if isinstance(each.value, float)]
    mean = float(np.mean([factor(each) for each in lengths])) if lengths else 1.0
    return maker.scaled(str(whole.release), whole.findings, factor, mean)


def shrunk(maker: Maker) -> Specimen:
    """A later cast, one to five per cent smaller."""
    factor, whole = 1 - float(maker.rng.uniform(0.01, 0.05)), own_parts(maker)
    return maker.scaled(str(whole.release), whole.findings, lambda _: factor, factor, copy=True)


def unlisted(maker: Maker) -> Specimen:
    """A release that the sheet does not list: lengths of its own, some counts and traits never seen."""
    rng, toy = maker.rng, maker.toy
    like = maker.release()
    other = {}
    for key, made in toy.lengths.items():
        old = made.get(like) or next(iter(made.values()))
        sizes = [each.mean_mm for each in made.values()]
        step = max(max(sizes) - min(sizes), 0.03 * old.mean_mm)
        other[key] = Made(
            old.mean_mm + float(rng.choice([-1, 0, 1])) * float(rng.uniform(0.5, 2)) * step, old.sd_mm
        )
    lost = replace(toy, lengths={key: {like: made} for key, made in other.items()})
    found = Maker(lost, rng).findings(lambda _: like)
    return Specimen(None, [_strange(maker, each) for each in found])


def _strange(maker: Maker, finding: Finding) -> Finding:
    if maker.rng.random() < 0.5 or isinstance(finding.value, float | None):
        return finding
    if isinstance(finding.value, int):
        return replace(finding, value=max(0, finding.value + int(maker.rng.choice([-2, -1, 1, 2]))))
    part = maker.toy.sheet.part(finding.part)
    feature = part.feature(str(finding.feature)) if part else None
    words = feature.alternatives if feature else WORDS
    return replace(finding, value=str(maker.rng.choice([*words, "other"])))


def pair_swapped(maker: Maker) -> Specimen:
    """Two parts of one other release, as when a wreck gave both."""
    sheet = maker.toy.sheet
    release = maker.release()
    others = [key for key in sheet.release_ids if key != release]
    other = others[int(maker.rng.integers(len(others)))]
    able = [part for part in sheet.parts if not part.absent_from(other) and not part.absent_from(release)]
    chosen = {able[i].id for i in maker.rng.choice(len(able), min(2, len(able)), replace=False)}
    found = maker.findings(lambda part: other if part.id in chosen else release)
    return Specimen(release, found, frozenset(chosen))


def misplaced(maker: Maker) -> Specimen:
    """One length taken at a wrong edge: off by 3 to 8 mm, with the U of a click that was right."""
    whole = own_parts(maker)
    return replace(whole, findings=_one_off(maker, whole.findings, 1))


def doubly_misplaced(maker: Maker) -> Specimen:
    """One wrong edge in two lengths: one point used twice."""
    whole = own_parts(maker)
    return replace(whole, findings=_one_off(maker, whole.findings, 2))


def _one_off(maker: Maker, findings: list[Finding], lengths: int) -> list[Finding]:
    found = list(findings)
    able = [index for index, each in enumerate(found) if isinstance(each.value, float)]
    by_mm = float(maker.rng.uniform(*MISPLACED_MM)) * float(maker.rng.choice([-1, 1]))
    for index in maker.rng.choice(able, min(lengths, len(able)), replace=False) if able else ():
        value = found[index].value
        assert isinstance(value, float)
        found[index] = replace(found[index], value=max(0.5, value + by_mm))
    return found


def read_twice(maker: Maker) -> Specimen:
    """Each length measured on one more photo, where one of the points lies at a wrong edge."""
    whole, photo = own_parts(maker), ("photo-3", float(maker.rng.standard_normal()))
    lengths = [(each.part, str(each.feature)) for each in whole.findings if isinstance(each.value, float)]
    again = [maker.length(*key, maker.true_mm[key], photo) for key in lengths]
    return replace(whole, findings=[*whole.findings, *_one_off(maker, again, 1)])


def same_clicks_twice(maker: Maker) -> Specimen:
    """One length at a wrong edge, and each length noted twice as if it had been measured anew."""
    whole = misplaced(maker)
    again = [each for each in whole.findings if isinstance(each.value, float)]
    return replace(whole, findings=[*whole.findings, *again])
