"""Every figure in a verdict's sentences belongs to the computation; the evidence multiplies to the whole."""

import math
import re

import numpy as np
import pytest

from measure.verdict_words import reason_sentence
from references import Finding, judge
from tests.bench.worlds import specimens as made
from tests.bench.worlds.specimens import Maker
from tests.bench.worlds.toys import invented_toy, sample_toy, with_ranges

ODDS = re.compile(
    r"(?:speaks?|odds of|\() ?((?:over a million|[\d.\u00a0]+) to (?:over a million|[\d.\u00a0]+))"
)
SPEAKS = re.compile(r"speaks? (\S+(?: a million)? to 1) (for|against) ([^.:]+?)[.:]")
WORLDS = (made.own_parts, made.pair_swapped, made.unlisted, made.misplaced, made.shrunk)
LARGEST = 1e6


def bounds(text: str) -> tuple[float, float]:
    """Return the odds between which a number with two digits was written so."""
    first, second = text.split(" to ")
    if "over a million" in (first, second):
        return (LARGEST, math.inf) if second == "1" else (0.0, 1 / LARGEST)
    low, high = _rounded(second if first == "1" and second != "1" else first)
    return (1 / high, 1 / low) if first == "1" and second != "1" else (low, high)


def _rounded(text: str) -> tuple[float, float]:
    value = float(text.replace("\u00a0", ""))
    half = 0.05 if value < 10 else 0.5 * 10 ** (math.floor(math.log10(value)) - 1)
    return value - 1.001 * half, value + 1.001 * half


def drawn(seed: int):
    """Return a random sheet, and a specimen's findings, some of them on parts that are not there."""
    rng = np.random.default_rng(seed)
    toy = sample_toy() if seed % 2 else with_ranges(invented_toy(rng), (4, 10), rng)
    specimen = WORLDS[seed % len(WORLDS)](Maker(toy, rng))
    return toy.sheet, specimen.findings[: int(rng.integers(1, len(specimen.findings) + 1))] or [
        Finding(toy.sheet.parts[0].id)
    ]


def holds(between: tuple[float, float], value: float) -> bool:
    return between[0] <= value <= between[1]


@pytest.mark.parametrize("seed", range(80))
def test_the_printed_evidence_times_the_prior_is_the_posterior(seed):
    sheet, findings = drawn(seed)
    verdict = judge(sheet, findings)
    if verdict.doubts:
        return
    texts = [reason_sentence(reason, sheet) for reason in verdict.reasons]
    (total,) = [text for text in texts if text.startswith("All findings together")]
    prior, posterior = (bounds(odds) for odds in ODDS.findall(total)[-2:])
    low, high = prior
    for text in texts:
        for odds, side, _ in SPEAKS.findall(text) if text is not total else ():
            least, most = bounds(odds)
            low, high = (low * least, high * most) if side == "for" else (low / most, high / least)
    # Findings below 1.05 to 1 are not written as odds; nor is the presence of parts that all releases have.
    silent = sum(
        "adds nothing" in text or "hardly any weight" in text or "to have this." in text for text in texts
    )
    lacked = sum(any(part.absent_from(key) for key in sheet.release_ids) for part in sheet.parts)
    slack = 1.05 ** (silent + lacked + 1)
    assert low / slack <= posterior[1]
    assert posterior[0] <= high * slack


@pytest.mark.parametrize("seed", range(80))
def test_the_sum_is_that_of_the_verdicts_probabilities(seed):
    sheet, findings = drawn(seed)
    verdict = judge(sheet, findings)
    for reason in verdict.reasons:
        if reason.code == "together":
            prior, posterior = (bounds(odds) for odds in ODDS.findall(reason_sentence(reason, sheet))[-2:])
            named = reason["release"]
            share = verdict.unlisted_probability if named is None else verdict.posterior[named]
            assert holds(posterior, share / max(1 - share, 1e-12)) or min(share, 1 - share) < 1e-6
            if named is not None:
                shares = {release.id: release.prior for release in sheet.releases}
                assert prior[0] <= shares[named] / (1 - shares[named]) * 1.05


@pytest.mark.parametrize("seed", range(40))
def test_all_evidence_of_a_verdict_is_for_or_against_one_release(seed):
    sheet, findings = drawn(seed)
    texts = [reason_sentence(reason, sheet) for reason in judge(sheet, findings).reasons]
    assert len({name for text in texts for _, _, name in SPEAKS.findall(text)}) <= 1


def part_of(verdict, reason):
    return next(part for part in verdict.parts if part.part == reason["part"])


def none_of_them(verdict, reason):
    part = part_of(verdict, reason)
    measured = any(isinstance(finding.value, float) for finding in part.findings)
    return part.posterior["none"] + (part.posterior["recast"] if measured else 0.0)


def slip(verdict, reason):
    found = [f.gross_error for f in part_of(verdict, reason).findings if f.feature == reason["feature"]]
    return min(found, key=lambda chance: abs(chance - reason["probability"]))


OWN = {
    "named": lambda verdict, reason: verdict.posterior[reason["release"]],
    "not listed": lambda verdict, _: verdict.unlisted_probability,
    "unlisted possible": lambda verdict, _: verdict.unlisted_probability,
    "recast": lambda verdict, _: verdict.recast.probability,
    "recast possible": lambda verdict, _: verdict.recast.probability,
    "release or copy": lambda verdict, _: verdict.recast.probability,
    "foreign": lambda verdict, reason: part_of(verdict, reason).foreign_probability,
    "part in doubt": lambda verdict, reason: part_of(verdict, reason).foreign_probability,
    "part recast": lambda verdict, reason: part_of(verdict, reason).posterior["recast"],
    "fits none": none_of_them,
    "slip": slip,
}
"""The verdict's own number that a sentence with a probability is about."""

PROBABILITY = re.compile(r"(?:probability (?:of )?(?:a copy )?|likelier \()((?:over |under )?[\d.]+) %")


@pytest.mark.parametrize("seed", range(120))
def test_each_probability_told_is_the_verdicts_own(seed):
    sheet, findings = drawn(seed)
    verdict = judge(sheet, findings)
    for reason in verdict.reasons:
        if reason.get("probability") is not None:
            text = reason_sentence(reason, sheet)
            (told,) = PROBABILITY.findall(text)
            percent = 100 * OWN[reason.code](verdict, reason)
            number = float(told.split()[-1])
            if told.startswith("over"):
                assert percent > number
            elif told.startswith("under"):
                assert percent < number
            else:
                assert percent == pytest.approx(number, abs=0.51 if "." not in told else 0.051)
