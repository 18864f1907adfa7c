"""How often no release is named for a good reason, and how often for none, on simulated specimens.

python -m tests.bench.gate [--specimens 500]
"""

import argparse
import dataclasses
import time
from collections import Counter

import numpy as np

from references import Finding, judge, shipped_sheet
from references.inference.options import DEFAULT_OPTIONS
from references.release_sheet.sheet import Feature, Part, Release, Sheet
from references.release_sheet.values import Range
from tests.synthetic.specimens import Circumstances, PartTruth, Truth, draw_findings, draw_truth

FACTORS = (1.01, 1.02, 1.03, 1.05, 1.10, 1.50, 2.0, 0.99, 0.98, 0.97, 0.95, 0.90, 0.50)
LENGTHS = range(2, 9)
NO_SLIPS = dataclasses.replace(DEFAULT_OPTIONS, gross_error_rate=0.0)


def eight_lengths() -> Sheet:
    """A sheet of four parts with two lengths each, whose two releases lie some 5 % apart, within 1 %."""
    sizes = (160.0, 25.0, 88.0, 62.0, 120.0, 45.0, 210.0, 75.0)

    def feature(number: int) -> Feature:
        size = sizes[number]
        other = size * (1.06 if number % 2 else 0.95)
        limits = {key: Range(0.99 * mm, 1.01 * mm, 6) for key, mm in (("early", size), ("late", other))}
        return Feature(f"f{number}", f"F{number}", "dimension", "", limits, "span")

    parts = tuple(
        Part(f"p{number}", f"P{number}", (feature(number), feature(number + 4))) for number in range(4)
    )
    releases = (Release("early", "Early", "", 0.5), Release("late", "Late", "", 0.5))
    return Sheet("eight", "Eight lengths", "", "mm", 0.05, 0.05, 0.02, releases, parts)


def lengths_of(findings: list[Finding]) -> list[Finding]:
    return [finding for finding in findings if isinstance(finding.value, float)]


def scaled(finding: Finding, factor: float) -> Finding:
    if not isinstance(finding.value, float):
        return finding
    return dataclasses.replace(finding, value=finding.value * factor)


def moved(finding: Finding, by_mm: float) -> Finding:
    assert isinstance(finding.value, float)
    return dataclasses.replace(finding, value=finding.value + by_mm)


def whole(sheet: Sheet, rng: np.random.Generator, how: Circumstances) -> list[Finding]:
    """Findings on a specimen of one release, parts all its own, nothing miscounted."""
    release = int(rng.integers(len(sheet.releases)))
    parts = {
        part.id: PartTruth(release, 0.0)
        for part in sheet.parts
        if not part.absent_from(sheet.release_ids[release])
    }
    return draw_findings(sheet, Truth(release, 0.0, parts), how, NO_SLIPS, rng)


def tally(sheet: Sheet, specimens: list[list[Finding]]) -> tuple[Counter[str], int]:
    codes: Counter[str] = Counter()
    named = 0
    for findings in specimens:
        verdict = judge(sheet, findings)
        told: set[str] = {doubt.code for doubt in verdict.doubts}
        codes.update(told or {"none"})
        named += verdict.outcome != "cannot tell"
    return codes, named


def share(codes: Counter[str], code: str, specimens: int) -> str:
    return f"{100 * codes[code] / specimens:5.1f} %"


def honest(sheet: Sheet, specimens: int, rng: np.random.Generator) -> list[list[Finding]]:
    """Specimens as the verdict assumes them: pure, mixed and recast, one in a hundred lengths a slip."""
    drawn = []
    for _ in range(specimens):
        how = Circumstances(looked_at=float(rng.uniform(0.3, 1.0)), photos=int(rng.integers(1, 4)))
        drawn.append(draw_findings(sheet, draw_truth(sheet, DEFAULT_OPTIONS, rng), how, DEFAULT_OPTIONS, rng))
    return drawn


def read_twice(findings: list[Finding], rng: np.random.Generator, apart_mm: float) -> list[Finding]:
    """Each length as if it were the true one, read on two photos; one of the second readings off."""

    def reading(finding: Finding, photo: str) -> Finding:
        length_mm, std_mm = finding.value, finding.standard_uncertainty_mm
        assert isinstance(length_mm, float)
        assert std_mm is not None
        read_mm = max(0.01, length_mm + std_mm * rng.standard_normal())
        return dataclasses.replace(finding, value=read_mm, photo=photo)

    lengths = lengths_of(findings)
    first, second = ([reading(each, photo) for each in lengths] for photo in ("photo-1", "photo-2"))
    if apart_mm and second:
        index = int(rng.integers(len(second)))
        second[index] = moved(second[index], apart_mm)
    return [*(each for each in findings if not isinstance(each.value, float)), *first, *second]


def slipped(findings: list[Finding], slips: int, rng: np.random.Generator) -> list[Finding]:
    """So many of the lengths three to ten times too long or too short, each by its own factor."""
    lengths = lengths_of(findings)
    chosen = rng.choice(len(lengths), min(slips, len(lengths)), replace=False)
    wrong = {id(lengths[i]): rng.uniform(3, 10) ** rng.choice([-1, 1]) for i in chosen}
    return [scaled(each, wrong.get(id(each), 1.0)) for each in findings]


def common_factors(
    sheet: Sheet, specimens: int, rng: np.random.Generator, how: Circumstances, most: int
) -> None:
    print("   factor  " + "  ".join(f"n = {n}   " for n in LENGTHS if n <= most))
    for factor in FACTORS:
        cells = []
        for count in LENGTHS:
            if count > most:
                continue
            drawn: list[list[Finding]] = []
            while len(drawn) < specimens:
                findings = whole(sheet, rng, how)
                found = lengths_of(findings)
                if len(found) < count:
                    continue
                kept = {id(found[i]) for i in rng.choice(len(found), count, replace=False)}
                rest = [f for f in findings if not isinstance(f.value, float) or id(f) in kept]
                drawn.append([scaled(each, factor) for each in rest])
            codes, named = tally(sheet, drawn)
            caught = share(codes, "common factor", specimens)
            cells.append(f"{caught} {100 * named / specimens:3.0f}")
        print(f"   {factor:6.2f}  " + "  ".join(cells))


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--specimens", type=int, default=500)
    parser.add_argument("--seed", type=int, default=31)
    given = parser.parse_args()
    number, rng = given.specimens, np.random.default_rng(given.seed)
    start = time.process_time()
    for sheet in (shipped_sheet("saltmarsh-ferry"), eight_lengths()):
        print(f"{sheet.subject}: {number} specimens each")
        codes, named = tally(sheet, honest(sheet, number, rng))
        print(f"honest, once each: {dict(codes)}, something named {named}")
        how = Circumstances(looked_at=1.0, checked=1.0, std_mm=(0.3, 0.6), shared=(0.3, 0.7), photos=2)
        for apart_mm in (0.0, 1.0, 2.0, 3.0, 5.0, 17.0):
            drawn = [read_twice(whole(sheet, rng, how), rng, apart_mm) for _ in range(number)]
            codes, _ = tally(sheet, drawn)
            told = share(codes, "contradiction", number)
            print(f"all lengths read twice, one reading {apart_mm:g} mm off: contradiction {told}")
        for slips in (2, 3):
            drawn = [slipped(whole(sheet, rng, how), slips, rng) for _ in range(number)]
            codes, named = tally(sheet, drawn)
            print(
                f"{slips} lengths 3 to 10 times too long or short: {dict(codes)}, named all the same {named}"
            )
        print("one factor on all of n lengths: the factor found, and (in %) something named all the same")
        most = sum(feature.kind == "dimension" for part in sheet.parts for feature in part.features)
        common_factors(sheet, max(number // 5, 20), rng, how, most)
    print(f"{time.process_time() - start:.0f} s of processor time")


if __name__ == "__main__":
    main()
