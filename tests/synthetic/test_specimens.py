"""Simulated specimens: what is stated as probable happens about as often (in full: tests/bench/belief.py)."""

import math

import numpy as np
import pytest

from references import shipped_sheet
from references.inference.enumeration import infer_posterior
from references.inference.finding import sort_findings
from references.inference.options import DEFAULT_OPTIONS
from references.release_sheet.values import Normal, Range
from tests.synthetic.specimens import Circumstances, PartTruth, Truth, draw_findings, draw_length, draw_truth

FERRY = shipped_sheet("saltmarsh-ferry")


def test_stated_probabilities_happen_as_often_as_stated() -> None:
    rng = np.random.default_rng(8)
    stated, right = [], []
    for _ in range(250):
        truth = draw_truth(FERRY, DEFAULT_OPTIONS, rng)
        findings = draw_findings(FERRY, truth, Circumstances(looked_at=0.5), DEFAULT_OPTIONS, rng)
        belief = infer_posterior(FERRY, sort_findings(FERRY, findings), DEFAULT_OPTIONS)
        stated.append(float(belief.posterior.max()))
        right.append(int(belief.posterior.argmax()) == truth.release)
    spread = math.sqrt(sum(p * (1 - p) for p in stated))
    assert abs(sum(stated) - sum(right)) < 3 * spread


def test_a_part_is_foreign_by_origin_or_as_a_copy_of_its_own() -> None:
    truth = Truth(
        0, 0.0, {"bow-plate": PartTruth(1, 0.0), "hull": PartTruth(0, 0.0), "lifeboat": PartTruth(0, 0.02)}
    )
    assert [truth.is_foreign(part) for part in ("bow-plate", "hull", "lifeboat")] == [True, False, True]


@pytest.mark.parametrize("spread", [Range(100.0, 103.0, 7), Normal(101.5, 0.9, 25), Normal(101.5, 0.9)])
def test_lengths_are_drawn_with_the_mean_and_spread_of_the_release(spread: Range | Normal) -> None:
    rng = np.random.default_rng(5)
    drawn = [draw_length(spread, rng) for _ in range(20_000)]
    expected = {
        Range: math.hypot(3 / math.sqrt(12), Range(100.0, 103.0, 7).soft_std_mm),
        Normal: 0.9 * (math.sqrt(26 / 25 * 24 / 22) if spread.__class__ is Normal and spread.examples else 1),
    }[type(spread)]
    assert np.mean(drawn) == pytest.approx(101.5, abs=0.03)
    assert np.std(drawn) == pytest.approx(expected, rel=0.02)


def test_the_same_seed_draws_the_same_specimen() -> None:
    draws = [draw_truth(FERRY, DEFAULT_OPTIONS, np.random.default_rng(3)) for _ in range(2)]
    assert draws[0] == draws[1]
