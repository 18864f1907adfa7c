"""Processor time of a verdict on the largest sheet promised: 12 releases, 40 parts, 200 features.

python -m tests.bench.verdict_speed
"""

import time
from collections.abc import Callable
from functools import partial

import numpy as np

from references import Finding, judge, shipped_sheet
from references.inference.enumeration import infer_posterior
from references.inference.finding import sort_findings
from references.inference.options import DEFAULT_OPTIONS
from references.release_sheet.sheet import Feature, Kind, Part, Release, Sheet
from references.release_sheet.values import Counts, Range, Traits

RELEASES, PARTS = 12, 40
# Kinds of the features of a part that has not lengths alone.
OTHERWISE: tuple[Kind, ...] = ("dimension", "dimension", "dimension", "count", "trait")


def large_sheet(rng: np.random.Generator, lengths_only: bool) -> tuple[Sheet, list[Finding]]:
    """Return a sheet of that size and a finding on each feature of a specimen of its fourth release."""
    releases = tuple(Release(f"r{n}", f"Release {n}", "", 1 / RELEASES) for n in range(RELEASES))
    parts, findings = [], []
    for p in range(PARTS):
        features = []
        for f, otherwise in enumerate(OTHERWISE):
            kind = "dimension" if lengths_only else otherwise
            feature, value = one_feature(f"f{f}", kind, releases, rng)
            features.append(feature)
            if isinstance(value, float):
                findings.append(
                    Finding(f"p{p}", f"f{f}", value + rng.normal() * 0.5, 0.5, 0.35, f"photo-{p % 4}")
                )
            else:
                findings.append(Finding(f"p{p}", f"f{f}", value))
        parts.append(Part(f"p{p}", f"Part {p}", tuple(features)))
    sheet = Sheet("large", "Large", "", "mm", 0.05, 0.05, 0.02, releases, tuple(parts))
    return sheet, findings


def one_feature(
    key: str, kind: Kind, releases: tuple[Release, ...], rng: np.random.Generator
) -> tuple[Feature, float | int | str]:
    if kind == "count":
        counts = {release.id: int(rng.integers(3, 9)) for release in releases}
        return Feature(key, key, kind, "", {r: Counts({n: 1.0}) for r, n in counts.items()}), counts["r3"]
    if kind == "trait":
        words = {release.id: str(rng.choice(["round", "square"])) for release in releases}
        values = {r: Traits({word: 1.0}) for r, word in words.items()}
        return Feature(key, key, kind, "", values, alternatives=("round", "square")), words["r3"]
    middle = rng.uniform(20, 300)
    lows = {release.id: middle + rng.uniform(-15, 15) for release in releases}
    ranges = {r: Range(low, low + rng.uniform(1, 4)) for r, low in lows.items()}
    true = rng.uniform(ranges["r3"].low_mm, ranges["r3"].high_mm)
    return Feature(key, key, kind, "", ranges, "span"), true


def best_ms(function: Callable[[], object], repeats: int = 15) -> tuple[float, float]:
    times = []
    for _ in range(repeats):
        start = time.process_time()
        function()
        times.append(time.process_time() - start)
    return 1000 * min(times), 1000 * float(np.median(times))


def main() -> None:
    ticks = best_ms(lambda: sum(range(100_000)))[0]
    print(f"this machine, now: 100 000 additions in Python take {ticks:.1f} ms (1.5 ms on a calm 3 GHz core)")
    for lengths_only in (True, False):
        sheet, findings = large_sheet(np.random.default_rng(1), lengths_only)
        by_part = sort_findings(sheet, findings)
        kind = "200 lengths" if lengths_only else "120 lengths, 40 counts, 40 traits"
        best, median = best_ms(partial(infer_posterior, sheet, by_part, DEFAULT_OPTIONS))
        print(f"{kind}: probabilities {best:.0f} ms at best, {median:.0f} ms in the median")
        best, median = best_ms(partial(judge, sheet, findings), 5)
        print(f"   with reasons and next checks {best:.0f} ms at best, {median:.0f} ms in the median")
    ferry = shipped_sheet("saltmarsh-ferry")
    few = [Finding("bow-plate", "width", 160.1, 0.4, 0.3, "photo-1"), Finding("lifeboat", "screws", 4)]
    best, _ = best_ms(lambda: judge(ferry, few))
    print(f"sample sheet, two findings, everything: {best:.1f} ms at best")


if __name__ == "__main__":
    main()
