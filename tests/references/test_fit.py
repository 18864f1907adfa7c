"""Likelihoods against direct numerical integration (scipy.integrate.quad) of their definitions."""

import numpy as np
import pytest
from scipy import integrate, special, stats

from references.inference.counts_traits import Given, count_likelihood, trait_likelihood
from references.inference.densities import even_density, normal_probability
from references.inference.finding import OTHER, Reading
from references.inference.likelihood import length_likelihood, length_model
from references.inference.options import DEFAULT_OPTIONS, JudgeOptions
from references.release_sheet.values import UNKNOWN, Counts, Normal, Range, Traits
from tests.references.making import count, dimension, trait

NO_SLIPS = JudgeOptions(gross_error_rate=0.0, misplaced_rate=0.0)


@pytest.mark.parametrize("x", [-8.0, -3.0, -1.2, 0.0, 0.9, 1.0, 1.1, 2.5, 6.0])
@pytest.mark.parametrize("std", [0.05, 0.5, 3.0])
def test_an_even_spread_with_noise_is_its_convolution(x, std):
    direct, _ = integrate.quad(
        lambda true: stats.norm.pdf(x - true, scale=std) / 2, -1, 1, points=[np.clip(x, -1, 1)]
    )
    assert even_density(np.array([x]), 1.0, std)[0] == pytest.approx(direct, rel=1e-4, abs=1e-7)


def test_the_table_of_the_normal_distribution_is_right_to_3e_8():
    z = np.linspace(-12, 12, 100_003)
    assert np.abs(normal_probability(z) - special.ndtr(z)).max() < 3.1e-8


@pytest.mark.parametrize("examples", [2, 3, 5, 12, 60])
@pytest.mark.parametrize("std", [0.1, 0.6, 2.0])
def test_a_mean_and_spread_of_few_examples_predict_a_t_with_noise(examples, std):
    model = length_model(dimension("width", a=Normal(100.0, 0.6, examples)), ("a",))
    scale = 0.6 * np.sqrt(1 + 1 / examples)
    for x in (100.0, 100.7, 101.9, 103.5):
        direct, _ = integrate.quad(
            lambda true, x=x: (
                stats.t.pdf(true - 100.0, examples - 1, scale=scale) * stats.norm.pdf(x - true, scale=std)
            ),
            x - 10 * std,
            x + 10 * std,
            epsabs=1e-10,
            limit=400,
        )
        assert model.densities(np.array([[x]]), np.array([[std]]))[0, 0, 0] == pytest.approx(
            direct, rel=2e-3, abs=1e-5
        )


def test_repeated_readings_of_one_length_are_combined_exactly():
    value = Range(100.0, 103.0, 7)
    model = length_model(dimension("width", a=value), ("a",))
    soft = value.soft_std_mm
    readings = [Reading(102.6, 0.5, 0.0, None), Reading(103.4, 0.8, 0.0, None)]
    got = length_likelihood(model, readings, np.zeros((2, 1)), np.zeros(1), NO_SLIPS)[0, 0, 0]

    def integrand(true):
        spread = (stats.norm.cdf((true - 100) / soft) - stats.norm.cdf((true - 103) / soft)) / 3
        return spread * stats.norm.pdf(102.6 - true, scale=0.5) * stats.norm.pdf(103.4 - true, scale=0.8)

    assert got == pytest.approx(integrate.quad(integrand, 95, 110)[0], rel=1e-6)


def test_one_slip_among_three_readings_leaves_the_other_two():
    model = length_model(dimension("width", a=Range(100.0, 103.0), b=Range(106.0, 109.0)), ("a", "b"))
    good = [Reading(101.0, 0.5, 0.0, None), Reading(101.4, 0.5, 0.0, None)]
    with_slip = [*good, Reading(180.0, 0.5, 0.0, None)]
    two = length_likelihood(model, good, np.zeros((2, 1)), np.zeros(1), DEFAULT_OPTIONS)[:, 0, 0]
    three = length_likelihood(model, with_slip, np.zeros((3, 1)), np.zeros(1), DEFAULT_OPTIONS)[:, 0, 0]
    assert three / three.sum() == pytest.approx(two / two.sum(), abs=1e-3)


def test_a_copy_reads_as_the_smaller_part_it_is():
    value = Range(100.0, 103.0, 30)
    model = length_model(dimension("width", a=value), ("a",))
    soft = value.soft_std_mm
    shrink = np.array([0.0, 0.02])
    reading = [Reading(99.4, 0.2, 0.0, None)]
    genuine, copy = length_likelihood(model, reading, np.zeros((1, 1)), shrink, NO_SLIPS)[0, :, 0]

    def integrand(true):
        spread = (stats.norm.cdf((true - 100) / soft) - stats.norm.cdf((true - 103) / soft)) / 3
        return spread * stats.norm.pdf(99.4 - 0.98 * true, scale=0.2)

    assert copy == pytest.approx(integrate.quad(integrand, 95, 110)[0], rel=1e-6)
    assert copy > 2 * genuine


def test_counts_add_up_over_everything_that_can_be_noted():
    given = Given(("a", "b"), DEFAULT_OPTIONS)
    feature = count("posts", a=12, b=Counts({8: 0.7, 9: 0.3}))
    total = sum(count_likelihood(feature, [seen], given) for seen in range(60))
    assert total == pytest.approx(np.ones(3), abs=1e-4)


def test_traits_add_up_and_other_is_one_of_them():
    given = Given(("a", "b", "c"), DEFAULT_OPTIONS)
    feature = trait(
        "stamp", ("none", "present"), a="none", b=Traits({"present": 0.85, "none": 0.15}), c=UNKNOWN
    )
    total = sum(trait_likelihood(feature, [word], given) for word in ("none", "present", OTHER))
    assert total == pytest.approx(np.ones(4))
    none = trait_likelihood(feature, ["none"], given)
    assert none[0] == pytest.approx(0.98)
    assert none[1] == pytest.approx(0.15 * 0.98 + 0.85 * 0.01)
