"""How far stated probabilities can be believed: thousands of simulated specimens against the verdict.

python -m tests.bench.belief [--specimens 10000] [--picture sample_images/reliability.png]
"""

import argparse
import dataclasses
import time

import numpy as np
from numpy.typing import ArrayLike

from references import shipped_sheet
from references.inference import JudgeOptions
from references.inference.enumeration import infer_posterior
from references.inference.finding import PartFindings, sort_findings
from references.inference.options import DEFAULT_OPTIONS
from references.inference.posterior import Belief
from references.limits import MOST_EXAMPLES
from references.release_sheet.sheet import Feature, Sheet
from references.release_sheet.values import Range, Value
from references.verdict.part_verdict import PartVerdict, judge_parts
from references.verdict.verdict import outcome_of
from tests.synthetic.specimens import Circumstances, PartTruth, Truth, draw_findings, draw_truth

Statements = tuple[list[float], list[bool]]
"""What was stated, and whether it was so."""

BINS = 10


def examine(
    sheet: Sheet,
    truth: Truth,
    how: Circumstances,
    rng: np.random.Generator,
    options: JudgeOptions = DEFAULT_OPTIONS,
) -> tuple[tuple[PartFindings, ...], Belief, tuple[PartVerdict, ...]]:
    findings = draw_findings(sheet, truth, how, options, rng)
    by_part = sort_findings(sheet, findings)
    belief = infer_posterior(sheet, by_part, options)
    return by_part, belief, judge_parts(sheet, by_part, belief, options)


def calibration_error(stated: ArrayLike, right: ArrayLike) -> float:
    """Expected calibration error: gap between stated and observed, weighted by how often it is stated."""
    stated, right = np.asarray(stated, float), np.asarray(right, float)
    bins = np.minimum((stated * BINS).astype(int), BINS - 1)
    gaps = [abs(stated[bins == b].mean() - right[bins == b].mean()) * (bins == b).mean() for b in set(bins)]
    return float(sum(gaps))


def curve(stated: ArrayLike, right: ArrayLike) -> list[tuple[float, ...]]:
    stated, right = np.asarray(stated, float), np.asarray(right, float)
    bins = np.minimum((stated * BINS).astype(int), BINS - 1)
    rows: list[tuple[float, ...]] = []
    for b in sorted(set(bins)):
        chosen = bins == b
        n, hits = int(chosen.sum()), int(right[chosen].sum())
        rows.append((stated[chosen].mean(), hits / n, n, *wilson(hits, n)))
    return rows


def wilson(hits: int, n: int, z: float = 1.96) -> tuple[float, float]:
    """95 % interval of a share (Wilson 1927)."""
    share = hits / n
    middle = (share + z * z / (2 * n)) / (1 + z * z / n)
    half = z * np.sqrt(share * (1 - share) / n + z * z / (4 * n * n)) / (1 + z * z / n)
    return middle - half, middle + half


def survey(sheet: Sheet, specimens: int, seed: int) -> tuple[dict[str, Statements], dict[str, int]]:
    rng = np.random.default_rng(seed)
    told: dict[str, tuple[list[float], list[bool]]]
    told = {"release": ([], []), "part does not belong": ([], []), "recast": ([], [])}
    named = right = mixed_called = mixed_right = 0
    for _ in range(specimens):
        truth = draw_truth(sheet, DEFAULT_OPTIONS, rng)
        how = Circumstances(looked_at=float(rng.uniform(0.3, 1.0)), photos=int(rng.integers(1, 4)))
        by_part, belief, parts = examine(sheet, truth, how, rng)
        best = int(belief.posterior.argmax())
        add(told["release"], float(belief.posterior[best]), best == truth.release)
        for part in parts:
            if part.present:
                add(told["part does not belong"], part.foreign_probability, truth.is_foreign(part.part))
        measured = [part for part in by_part if part.readings]
        if measured:
            whole = truth.shrink > 0 or (len(measured) == 1 and truth.parts[measured[0].part.id].shrink > 0)
            add(told["recast"], belief.recast, whole)
        outcome, release = outcome_of(sheet, belief, parts, DEFAULT_OPTIONS)
        if release is not None:
            named += 1
            right += release == sheet.release_ids[truth.release]
        if outcome == "mixed":
            mixed_called += 1
            mixed_right += any(truth.is_foreign(part) for part in truth.parts)
    counts = {"named": named, "right": right, "mixed": mixed_called, "mixed right": mixed_right}
    return told, counts


def add(pair: Statements, stated: float, right: bool) -> None:
    pair[0].append(stated)
    pair[1].append(right)


def swapped_plates(
    sheet: Sheet, specimens: int, std_mm: float, seed: int, soft: bool = True
) -> tuple[float, float]:
    """Share of swapped plates found, and of whole specimens with any part called foreign; everything checked.

    Only swaps that a plate can show: second and export have the same one, and third has none.
    """
    rng = np.random.default_rng(seed)
    how = Circumstances(looked_at=1.0, checked=1.0, std_mm=(std_mm, std_mm), shared=(0.5, 0.5))
    real = sheet if soft else hardened(sheet)
    pairs = [("first", "second"), ("first", "export"), ("second", "first"), ("export", "first")]
    found = called = 0
    for index in range(specimens):
        base, other = (sheet.release_ids.index(release) for release in pairs[index % len(pairs)])
        whole = {part.id: PartTruth(base, 0.0) for part in sheet.parts}
        swapped = {**whole, "bow-plate": PartTruth(other, 0.0)}
        found += called_foreign(sheet, real, Truth(base, 0.0, swapped), how, rng)["bow-plate"]
        called += any(called_foreign(sheet, real, Truth(base, 0.0, whole), how, rng).values())
    return found / specimens, called / specimens


def called_foreign(
    sheet: Sheet, real: Sheet, truth: Truth, how: Circumstances, rng: np.random.Generator
) -> dict[str, bool]:
    # Points on another edge hide a plate whatever is judged; here they are where the sheet means.
    as_meant = dataclasses.replace(DEFAULT_OPTIONS, misplaced_rate=0.0)
    by_part = sort_findings(sheet, draw_findings(real, truth, how, as_meant, rng))
    belief = infer_posterior(sheet, by_part, DEFAULT_OPTIONS)
    return {part.part: part.foreign for part in judge_parts(sheet, by_part, belief, DEFAULT_OPTIONS)}


def hardened(sheet: Sheet) -> Sheet:
    """The same sheet whose parts never lie outside the limits."""

    def hard(value: Value) -> Value:
        return Range(value.low_mm, value.high_mm, MOST_EXAMPLES) if isinstance(value, Range) else value

    def harden(feature: Feature) -> Feature:
        return dataclasses.replace(feature, by_release={r: hard(v) for r, v in feature.by_release.items()})

    parts = (dataclasses.replace(part, features=tuple(map(harden, part.features))) for part in sheet.parts)
    return dataclasses.replace(sheet, parts=tuple(parts))


def draw(told: dict[str, Statements], specimens: int, path: str) -> None:
    from matplotlib.figure import Figure

    figure = Figure(figsize=(9.0, 3.6), layout="constrained")
    axes = figure.subplots(1, 3, sharey=True)
    titles = {
        "release": "the likeliest release",
        "part does not belong": "a part does not belong",
        "recast": "a recast copy",
    }
    for ax, (name, (stated, right)) in zip(axes, told.items(), strict=True):
        rows = np.array(curve(stated, right))
        ax.plot([0, 1], [0, 1], color="#999999", linewidth=1, linestyle="--")
        ax.errorbar(
            rows[:, 0],
            rows[:, 1],
            yerr=[rows[:, 1] - rows[:, 3], rows[:, 4] - rows[:, 1]],
            fmt="o-",
            markersize=4,
            color="#2f6f8f",
            capsize=2,
            linewidth=1,
        )
        ax.set_title(titles[name], fontsize=10)
        ax.annotate(
            f"expected calibration error {calibration_error(stated, right):.4f}\n{len(stated)} statements",
            (0.03, 0.97),
            xycoords="axes fraction",
            ha="left",
            va="top",
            fontsize=8,
        )
        ax.set_xlabel("probability stated")
        ax.set_xlim(0, 1)
        ax.set_ylim(0, 1)
        ax.set_aspect("equal")
    axes[0].set_ylabel("how often it was so")
    figure.suptitle(f"{specimens:,} simulated specimens of the sample sheet".replace(",", " "), fontsize=11)
    figure.savefig(path, dpi=110, metadata={"Software": None})


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--specimens", type=int, default=10_000)
    parser.add_argument("--picture")
    parser.add_argument("--seed", type=int, default=20)
    given = parser.parse_args()
    sheet = shipped_sheet("saltmarsh-ferry")
    start = time.process_time()
    told, counts = survey(sheet, given.specimens, given.seed)
    print(f"{given.specimens} specimens, {time.process_time() - start:.0f} s of processor time")
    for name, (stated, right) in told.items():
        print(f"{name}: expected calibration error {calibration_error(stated, right):.4f} of {len(stated)}")
        for row in curve(stated, right):
            print("   stated {:.3f}  observed {:.3f}  n {:6.0f}  95 % {:.3f} to {:.3f}".format(*row))
    print(
        f"named {counts['named']}, right {counts['right']} ({counts['right'] / max(1, counts['named']):.4f})"
    )
    print(f"called mixed {counts['mixed']}, really {counts['mixed right']}")
    for std in (0.5, 1.0, 2.0):
        for soft in (True, False):
            found, called = swapped_plates(sheet, given.specimens // 10, std, given.seed + 1, soft)
            kind = "soft limits" if soft else "hard limits"
            result = f"swapped plates found {found:.3f}, whole specimens with a false alarm {called:.4f}"
            print(f"u {std} mm, {kind}: {result}")
    if given.picture:
        draw(told, given.specimens, given.picture)


if __name__ == "__main__":
    main()
