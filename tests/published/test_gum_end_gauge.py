"""JCGM 100:2008, H.1, end-gauge calibration, as restated in the documentation of GTC and the tests of suncal.

The model is l = l_s + d - l_s (δα θ + α_s δθ). Lengths here stand for nanometres, the example's own unit.
"""

from math import hypot, inf, sqrt

import numpy as np
import pytest

from measure.length.monte_carlo import is_nonlinear, monte_carlo
from measure.length.repeats import coverage_factor, effective_degrees_of_freedom
from measure.length.value import Contribution, Length
from tests.published.printed import agrees

STANDARD_NM, DIFFERENCE_NM = 50_000_623.0, 215.0
ALPHA_S, THETA_C = 11.5e-6, -0.1
U_DIFFERENCE_NM = hypot(13 / sqrt(5), 10 / 2.57, 20 / 3)
U_THETA_C = hypot(0.2, 0.5 / sqrt(2))  # mean temperature, and an arcsine distribution about it
U_D_ALPHA, U_D_THETA_C, U_ALPHA = 1e-6 / sqrt(3), 0.05 / sqrt(3), 2e-6 / sqrt(3)


def quantity(value: float, effect: float, name: str) -> Length:
    return Length(value, {name: Contribution(name, True, effect)})


STANDARD = quantity(STANDARD_NM, 25.0, "l_s")
DIFFERENCE = quantity(DIFFERENCE_NM, U_DIFFERENCE_NM, "d")
# Products with an estimate of zero: value 0, sensitivity by the other factor.
EXPANSION = quantity(0.0, STANDARD_NM * THETA_C * U_D_ALPHA, "dalpha")
TEMPERATURE = quantity(0.0, STANDARD_NM * ALPHA_S * U_D_THETA_C, "dtheta")
RESULT = STANDARD + DIFFERENCE - EXPANSION - TEMPERATURE


@pytest.mark.parametrize(
    ("source", "printed_nm"), [("l_s", "25"), ("d", "9.7"), ("dalpha", "2.9"), ("dtheta", "16.6")]
)
def test_each_line_of_the_budget_is_table_h1s(source: str, printed_nm: str) -> None:
    # The book multiplies rounded inputs: one unit of the last digit instead of half.
    assert agrees({line.source: line.u_mm for line in RESULT.budget}[source], printed_nm, units=2)


def test_the_result_is_h1_6s() -> None:
    assert agrees(RESULT.value_mm * 1e-6, "50.000838")
    assert agrees(RESULT.standard_uncertainty_mm, "32")


def test_the_coverage_factor_is_h1_6s() -> None:
    freedom_d = effective_degrees_of_freedom([(13 / sqrt(5), 24), (10 / 2.57, 5), (20 / 3, 8)])
    assert agrees(freedom_d, "25.6", units=2)
    parts = [(25.0, 18), (U_DIFFERENCE_NM, freedom_d), (2.9, 50), (16.6, 2)]
    freedom = int(effective_degrees_of_freedom(parts))
    assert freedom == 16
    assert agrees(coverage_factor(freedom, 0.99), "2.92")
    assert agrees(coverage_factor(freedom, 0.99) * RESULT.standard_uncertainty_mm, "93", units=2)


def test_the_second_order_terms_raise_u_as_in_h1_7() -> None:
    def values(inputs: np.ndarray, _: np.ndarray) -> np.ndarray:
        standard, difference, d_alpha, theta, alpha, d_theta = inputs.T
        length = STANDARD_NM + 25 * standard
        bend = (U_D_ALPHA * d_alpha) * (THETA_C + U_THETA_C * theta)
        warmth = (ALPHA_S + U_ALPHA * alpha) * (U_D_THETA_C * d_theta)
        return length + DIFFERENCE_NM + U_DIFFERENCE_NM * difference - length * (bend + warmth)

    spread = monte_carlo(values, 6, 0, 50_000_838.0, rng=np.random.default_rng(1), draws=200_000)
    assert agrees(spread.standard_uncertainty_mm, "34")
    assert inf > spread.expanded_uncertainty_mm > 1.9 * 34


def test_one_input_at_a_time_such_products_look_linear() -> None:
    # Each factor alone acts linearly: the quick test that calls for a Monte Carlo can't see a pure product.
    up, down = np.array([1.0, 1.0]), np.array([-1.0, -1.0])
    assert not is_nonlinear(0.0, up, down)
