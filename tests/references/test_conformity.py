"""Conformance probability against the worked examples of JCGM 106:2012."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from references.verdict.conformity import conformance_probability

INF = float("inf")


@pytest.mark.parametrize(
    ("value", "std", "low", "high", "printed"),
    [
        (-5.47, 0.05, -INF, -5.40, 0.92),  # 7.3.3 example 1; numbers from memory, arithmetic recomputed
        (509.7, 8.6, 490.0, INF, 0.99),  # 7.3.3 example 2; likewise
        (13.6, 1.8, 12.5, 16.3, 0.66),  # 7.4; likewise
    ],
)
def test_the_worked_examples(value, std, low, high, printed):
    assert conformance_probability(value, std, low, high) == pytest.approx(printed, abs=0.005)


@pytest.mark.parametrize(
    ("chance", "z"), [(0.80, 0.84), (0.90, 1.28), (0.95, 1.64), (0.99, 2.33), (0.999, 3.09)]
)
def test_the_one_sided_quantiles_of_table_1(chance, z):
    assert conformance_probability(0.0, 1.0, -INF, z) == pytest.approx(chance, abs=0.002)


@pytest.mark.parametrize(
    ("value", "chance"),
    [(228.2, 0.99853), (229.6, 0.74751), (230.0, 0.5), (230.5, 0.20233), (231.3, 0.01513)],
)
def test_between_two_limits(value, chance):
    assert conformance_probability(value, 0.6, 226.0, 230.0) == pytest.approx(chance, abs=1e-4)


def test_few_degrees_of_freedom_take_the_t_distribution():
    got = conformance_probability(229.6, 0.6, 226.0, 230.0, degrees_of_freedom=5)
    assert got == pytest.approx(stats.t.cdf(0.4 / 0.6, 5) - stats.t.cdf(-3.6 / 0.6, 5), abs=1e-12)
    assert got == pytest.approx(0.73182, abs=1e-4)


@settings(derandomize=True, deadline=None)
@given(st.floats(-50, 50), st.floats(0.01, 20), st.floats(-20, 0), st.floats(0.01, 20), st.floats(0, 5))
def test_narrower_limits_never_raise_it(value, std, low, width, cut):
    wide = conformance_probability(value, std, low, low + width)
    assert (
        conformance_probability(value, std, low + cut * width / 12, low + width - cut * width / 12)
        <= wide + 1e-15
    )
    assert 0 <= wide <= 1
