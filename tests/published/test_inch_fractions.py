"""The inch of 25.4 mm exactly (international agreement of 1959), and its nearest fractions."""

import pytest

from measure.length.units import format_fraction, format_inches, parse_length
from measure.length.value import Length

NEAREST = [
    (228.0, "9", "8 31/32"),
    (228.6, "9", "9"),
    (227.0, "8 15/16", "8 15/16"),
    (203.2, "8", "8"),
    (203.9, "8", "8 1/32"),
    (6.35, "1/4", "1/4"),
    (24.0, "15/16", "15/16"),
    (615.95, "24 1/4", "24 1/4"),
    (85.6, "3 3/8", "3 3/8"),
    (53.98, "2 1/8", "2 1/8"),
    (100.0, "3 15/16", "3 15/16"),
    (0.3, "0", "0"),
    (0.79375, "1/16", "1/32"),
]


@pytest.mark.parametrize(("value_mm", "sixteenth", "thirty_second"), NEAREST)
def test_the_nearest_fraction_is_reduced_and_halves_go_up(
    value_mm: float, sixteenth: str, thirty_second: str
) -> None:
    assert format_fraction(value_mm, 16) == f"{sixteenth} in"
    assert format_fraction(value_mm, 32) == f"{thirty_second} in"


def test_the_inch_is_exact() -> None:
    assert parse_length("1 in") == 25.4
    assert format_inches(Length(25.4)) == "1.000 ± 0 in"


# ISO/IEC 7810 gives ID-1 in both units, rounded separately: 3.370 x 2.125 in, 85.60 x 53.98 mm.
@pytest.mark.parametrize(("inches", "printed_mm"), [("3.370 in", 85.60), ("2.125 in", 53.98)])
def test_the_cards_two_sizes_agree_within_their_rounding(inches: str, printed_mm: float) -> None:
    assert parse_length(inches) == pytest.approx(printed_mm, abs=0.0005 * 25.4 + 0.005)
