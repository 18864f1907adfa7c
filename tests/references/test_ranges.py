"""Ranges from examples, against handbook tables and reference libraries."""

import numpy as np
import pytest
from scipy import integrate, stats
from statsmodels.stats.meta_analysis import combine_effects

from references.errors import SampleError
from references.learning.spread import estimate_spread
from references.learning.tolerance_limits import (
    examples_for_extremes,
    examples_to_separate,
    extremes_confidence,
    prediction_factor,
    tolerance_factor,
)

# Exact factors by the definition of ISO 16269-6, once by numerical integration and once by the package
# toleranceinterval 1.0.3. Columns: content/confidence in per cent.
COLUMNS = ((0.90, 0.90), (0.95, 0.90), (0.99, 0.90), (0.90, 0.95), (0.95, 0.95), (0.99, 0.95))
EXACT = {
    2: "15.512 18.221 23.423 31.092 36.519 46.944",
    3: "5.788 6.823 8.819 8.306 9.789 12.647",
    4: "4.157 4.913 6.372 5.368 6.341 8.221",
    5: "3.499 4.142 5.387 4.291 5.077 6.598",
    10: "2.546 3.026 3.958 2.856 3.393 4.437",
    20: "2.158 2.570 3.372 2.319 2.760 3.621",
    30: "2.029 2.417 3.173 2.145 2.555 3.355",
}
CASES = [
    (n, *column, float(printed))
    for n, row in EXACT.items()
    for column, printed in zip(COLUMNS, row.split(), strict=True)
]


@pytest.mark.parametrize(("n", "content", "confidence", "printed"), CASES)
def test_the_exact_tolerance_factors(n, content, confidence, printed):
    assert tolerance_factor(n, content, confidence) == pytest.approx(printed, abs=6e-4)


def test_the_factor_by_a_second_integration_of_its_definition():
    k = tolerance_factor(6, 0.95, 0.95)

    spreads = np.linspace(0.05, 3.0, 6000)

    def confidence_at(mean):
        held = stats.norm.cdf(mean + k * spreads) - stats.norm.cdf(mean - k * spreads)
        return stats.chi2.sf(5 * spreads[np.searchsorted(held, 0.95)] ** 2, 5) * stats.norm.pdf(
            mean, scale=6**-0.5
        )

    means = np.linspace(0.0, 3.0, 301)
    total = integrate.trapezoid([confidence_at(mean) for mean in means], means)
    assert 2 * total == pytest.approx(0.95, abs=1e-3)


def test_the_worked_example_of_the_nist_handbook():
    # NIST/SEMATECH e-Handbook 7.2.6.3: n 43, content 0.90, confidence 0.99. It prints the approximation
    # 2.2173; the exact factor is 2.2228.
    assert tolerance_factor(43, 0.90, 0.99) == pytest.approx(2.2228, abs=5e-4)
    assert tolerance_factor(43, 0.90, 0.99) == pytest.approx(2.2173, rel=0.003)


@pytest.mark.parametrize(
    ("n", "printed"), [(2, 15.562), (3, 4.968), (5, 3.041), (10, 2.373), (20, 2.145), (30, 2.079)]
)
def test_the_prediction_factor(n, printed):
    assert prediction_factor(n, 0.95) == pytest.approx(printed, abs=6e-4)


@pytest.mark.parametrize(
    ("content", "confidence", "n"),
    [
        (0.90, 0.90, 38),
        (0.90, 0.95, 46),
        (0.90, 0.99, 64),
        (0.95, 0.95, 93),
        (0.95, 0.99, 130),
        (0.99, 0.95, 473),
    ],
)
def test_how_many_examples_smallest_to_largest_needs(content, confidence, n):
    # Wilks 1941.
    assert examples_for_extremes(content, confidence) == n


def test_what_smallest_to_largest_of_five_holds():
    assert extremes_confidence(5, 0.90) == pytest.approx(0.0815, abs=1e-4)


def test_a_sample_of_five():
    spread = estimate_spread([228.1, 227.6, 228.4, 228.9, 227.9], [0.0] * 5)
    k = tolerance_factor(5, 0.95, 0.95)
    assert (spread.mean_mm, spread.sd_mm) == (pytest.approx(228.18), pytest.approx(0.49699, abs=1e-5))
    assert spread.mean_mm - k * spread.sd_mm == pytest.approx(225.6568, abs=1e-3)
    assert spread.mean_mm + k * spread.sd_mm == pytest.approx(230.7032, abs=1e-3)
    assert spread.degrees_of_freedom == pytest.approx(4)


def test_the_spread_without_measuring_is_paule_and_mandels():
    values = np.array([177.1, 178.4, 176.2, 177.9, 179.6, 176.9])
    stds = np.array([0.3, 0.5, 0.4, 0.9, 0.6, 0.3])
    ours = estimate_spread(values, stds)
    theirs = combine_effects(values, stds**2, method_re="iterated", atol=1e-12)
    assert ours.sd_mm**2 == pytest.approx(theirs.tau2, rel=1e-6)
    assert ours.mean_mm == pytest.approx(theirs.mean_effect_re, rel=1e-9)


def test_a_spread_no_larger_than_the_measuring_is_not_resolved():
    spread = estimate_spread([100.0, 100.3, 99.8, 100.1], [0.5] * 4)
    assert spread.sd_mm == 0
    assert spread.degrees_of_freedom == 0
    assert 0 < spread.sd_upper_mm < 1


def test_the_upper_limit_of_the_spread_holds_it_as_often_as_it_says():
    rng = np.random.default_rng(4)
    held = 0
    for _ in range(400):
        values = rng.normal(100, 0.8, 6) + rng.normal(0, 0.5, 6)
        held += estimate_spread(values, [0.5] * 6).sd_upper_mm >= 0.8
    assert 0.92 <= held / 400 <= 0.98


def test_one_example_gives_no_range():
    with pytest.raises(SampleError, match="at least two"):
        estimate_spread([100.0], [0.1])
    with pytest.raises(SampleError, match="at least two"):
        tolerance_factor(1, 0.95, 0.95)


def test_how_many_examples_keep_two_releases_apart():
    needed = examples_to_separate(6.0, 0.6, 0.6)
    assert needed is not None
    assert tolerance_factor(needed, 0.95, 0.95) * 1.2 <= 6.0 < tolerance_factor(needed - 1, 0.95, 0.95) * 1.2
    assert examples_to_separate(2.0, 0.6, 0.6) is None
