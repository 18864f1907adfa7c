"""JCGM 101:2008, 9.2 to 9.4: where the law of propagation holds and where it fails.

9.2.2 and 9.2.3 as in public tests of suncal and by the closed form; 9.2.4, 9.3 and 9.4 from memory,
recomputed by convolution, closed form and noncentral chi-square.
"""

import numpy as np
import pytest
from scipy.special import ndtr

from measure.length.monte_carlo import is_nonlinear, monte_carlo

ROOT3 = np.sqrt(3.0)
DRAWS = 100_000


def rectangular(normal: np.ndarray) -> np.ndarray:
    """Turn unit normals into unit-variance rectangular values."""
    return ROOT3 * (2.0 * ndtr(normal) - 1.0)


@pytest.mark.parametrize(
    ("stds", "shape", "u", "half_width"),
    [
        ((1, 1, 1, 1), lambda normal: normal, 2.0, 3.92),  # 9.2.2
        ((1, 1, 1, 1), rectangular, 2.0, 3.88),  # 9.2.3, 2√3 (2 - 0.6^(1/4))
        ((1, 1, 1, 10), rectangular, 10.15, 17.0),  # 9.2.4, where 1.96 u would be 19.9
    ],
)
def test_sums_have_the_published_intervals(stds, shape, u: float, half_width: float) -> None:
    spread = monte_carlo(
        lambda inputs, _: shape(inputs) @ np.array(stds, dtype=float),
        4,
        0,
        0.0,
        rng=np.random.default_rng(5),
        draws=DRAWS,
    )
    assert spread.standard_uncertainty_mm == pytest.approx(u, rel=0.01)
    assert spread.expanded_uncertainty_mm == pytest.approx(half_width, rel=0.01)


def test_mass_calibration_has_the_monte_carlos_uncertainty() -> None:
    def values(inputs: np.ndarray, _: np.ndarray) -> np.ndarray:
        reference = 100_000 + 0.050 * inputs[:, 0]
        added = 1.234 + 0.020 * inputs[:, 1]
        air = 1.20 + 0.10 / ROOT3 * rectangular(inputs[:, 2])
        weight = 8000 + 1000 / ROOT3 * rectangular(inputs[:, 3])
        standard = 8000 + 50 / ROOT3 * rectangular(inputs[:, 4])
        return (reference + added) * (1 + (air - 1.2) * (1 / weight - 1 / standard)) - 100_000

    spread = monte_carlo(values, 5, 0, 1.234, rng=np.random.default_rng(6), draws=DRAWS)
    assert spread.mean_mm == pytest.approx(1.234, abs=1e-3)
    assert spread.standard_uncertainty_mm == pytest.approx(0.0754, rel=0.01)  # first order: 0.0539
    assert spread.expanded_uncertainty_mm == pytest.approx((1.3825 - 1.0834) / 2, rel=0.015)


@pytest.mark.parametrize(
    ("x1", "mean", "u", "linear"), [(0.0, 50, 50, False), (0.010, 150, 112, False), (0.050, 2550, 502, True)]
)
def test_comparison_loss_is_told_from_a_linear_model(x1: float, mean: float, u: float, linear: bool) -> None:
    def values(inputs: np.ndarray, _: np.ndarray) -> np.ndarray:
        return ((x1 + 0.005 * inputs[:, 0]) ** 2 + (0.005 * inputs[:, 1]) ** 2) * 1e6

    best = x1**2 * 1e6
    steps = np.eye(2)
    found = is_nonlinear(best, values(steps, steps), values(-steps, steps))
    assert found is not linear
    spread = monte_carlo(values, 2, 0, best, rng=np.random.default_rng(7), draws=DRAWS)
    assert spread.mean_mm == pytest.approx(mean, rel=0.01)
    # Ours is about the best estimate: bias and spread together.
    assert spread.standard_uncertainty_mm == pytest.approx(np.hypot(u, mean - best), rel=0.01)
