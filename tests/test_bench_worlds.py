"""The worlds that verdicts are tried on: what they draw, and how a verdict on it is counted."""

from dataclasses import replace

import numpy as np
import pytest

from references import judge
from tests.bench.worlds.__main__ import WORLDS, examine
from tests.bench.worlds.scoring import score
from tests.bench.worlds.specimens import Maker, Specimen, forgotten_standoff, own_parts, shrunk
from tests.bench.worlds.toys import Made, sample_toy


def a_maker(seed: int = 3) -> Maker:
    return Maker(sample_toy(), np.random.default_rng(seed))


@pytest.mark.parametrize("shape", ["normal", "skewed", "two moulds"])
def test_production_has_the_mean_and_spread_it_states(shape):
    made, rng = Made(100.0, 2.0, shape), np.random.default_rng(8)
    drawn = np.array([made.draw(rng) for _ in range(20_000)])
    assert drawn.mean() == pytest.approx(100.0, abs=0.06)
    assert drawn.std() == pytest.approx(2.0, rel=0.25)


def test_the_same_seed_draws_the_same_verdicts():
    assert examine(WORLDS[1], 4, 3, sample=False) == examine(WORLDS[1], 4, 3, sample=False)


def test_a_cast_reads_shorter_by_its_factor_alone():
    whole, cast = own_parts(a_maker()), None
    rng = np.random.default_rng(3)
    factor = 1 - float(rng.uniform(0.01, 0.05))  # drawn before the specimen
    cast = shrunk(a_maker())
    assert cast.copy
    assert cast.factor == pytest.approx(factor)
    assert whole.factor == 1.0


def test_a_forgotten_standoff_makes_lengths_longer():
    assert forgotten_standoff(a_maker()).factor > 1.0


def test_a_wrong_name_counts_as_wrong_and_a_right_one_as_right():
    specimen = next(s for seed in range(20) if (s := own_parts(a_maker(seed))).release == "first")
    verdict = replace(
        judge(sample_toy().sheet, specimen.findings), outcome="release", release="first", parts=()
    )
    assert score(specimen, verdict).right
    assert not score(specimen, verdict).wrong
    assert score(replace(specimen, release="second"), verdict).wrong_release
    assert score(Specimen(None, specimen.findings), verdict).wrong_release
