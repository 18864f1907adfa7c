"""JCGM 100:2008, Table G.2: Student's factor; ten entries read in tests of suncal, the rest from memory."""

from math import inf

import pytest

from measure.length.repeats import coverage_factor, effective_degrees_of_freedom
from tests.published.printed import agrees

FRACTIONS = (0.6827, 0.90, 0.95, 0.9545, 0.99, 0.9973)
TABLE = {
    1: "1.84 6.31 12.71 13.97 63.66 235.8",
    2: "1.32 2.92 4.30 4.53 9.92 19.21",
    3: "1.20 2.35 3.18 3.31 5.84 9.22",
    4: "1.14 2.13 2.78 2.87 4.60 6.62",
    5: "1.11 2.02 2.57 2.65 4.03 5.51",
    6: "1.09 1.94 2.45 2.52 3.71 4.90",
    8: "1.07 1.86 2.31 2.37 3.36 4.28",
    10: "1.05 1.81 2.23 2.28 3.17 3.96",
    16: "1.03 1.75 2.12 2.17 2.92 3.54",
    20: "1.03 1.72 2.09 2.13 2.85 3.42",
    30: "1.02 1.70 2.04 2.09 2.75 3.27",
    50: "1.01 1.68 2.01 2.05 2.68 3.16",
    100: "1.005 1.660 1.984 2.025 2.626 3.077",
    inf: "1.000 1.645 1.960 2.000 2.576 3.000",
}


@pytest.mark.parametrize("freedom", TABLE)
def test_the_factor_is_the_tables(freedom: float) -> None:
    for fraction, printed in zip(FRACTIONS, TABLE[freedom].split(), strict=True):
        assert agrees(coverage_factor(freedom, fraction), printed), (freedom, fraction)


def test_welch_and_satterthwaite_as_in_a_course_example() -> None:
    # Course example in public tests of suncal: components 0.57 (9 degrees of freedom) and 0.25.
    assert agrees(effective_degrees_of_freedom([(0.57, 9), (0.25, inf)]), "12.8")
