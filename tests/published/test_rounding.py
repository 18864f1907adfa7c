"""JCGM 100:2008, 7.2.6, rounding.

10.057 62 with 27 mΩ is the text's example, as quoted on a calibration firm's support page. The other pairs
follow the same rule, worked by hand.
"""

import pytest

from measure.length.units import round_with_uncertainty

PAIRS = [
    (10.05762, 0.027, "10.058", "0.027"),
    (228.347, 0.4632, "228.35", "0.46"),
    (203.1846, 0.0951, "203.185", "0.095"),
    (203.1846, 0.0996, "203.18", "0.10"),
    (228.347, 1.249, "228.3", "1.2"),
    (228.347, 12.6, "228", "13"),
    (0.5, 0.00999, "0.500", "0.010"),
    (28.05, 28.05, "28", "28"),
]


@pytest.mark.parametrize(("value", "uncertainty", "printed", "printed_u"), PAIRS)
def test_two_digits_of_the_uncertainty_and_the_value_to_match(
    value: float, uncertainty: float, printed: str, printed_u: str
) -> None:
    assert round_with_uncertainty(value, uncertainty) == (printed, printed_u)
