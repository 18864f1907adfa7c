"""Lengths as people write them. 25.4 mm per inch is exact (international yard and pound agreement, 1959)."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from references.release_sheet.lengths import format_pair, format_sixteenths, parse_length_mm


@pytest.mark.parametrize(
    ("text", "mm"),
    [
        ("227 mm", 227.0), ("22.7cm", 227.0), ("0.227 m", 227.0), ("8 15/16 in", 227.0125),
        ('8-15/16"', 227.0125),
        ("8 15/16 inches", 227.0125), ("15/16 in", 23.8125), ("8.94in", 227.076), ("8,94 in", 227.076),
        ("8¾ in", 222.25), ("¼″", 6.35), ("8 15⁄16 in", 227.0125),
        ("1 ft 3 1/2 in", 393.7), ("2' 6\"", 762.0),
        ("2 ft", 609.6), ("0", 0.0), (".5 in", 12.7),
    ],
)  # fmt: skip
def test_a_length_is_read(text, mm):
    assert parse_length_mm(text) == pytest.approx(mm, abs=1e-9)


@pytest.mark.parametrize(
    ("given_value", "mm"), [(9, 228.6), (8.5, 215.9), ("8 15/16", 227.0125), ("227 mm", 227.0)]
)
def test_a_bare_number_is_in_the_unit_of_the_sheet(given_value, mm):
    assert parse_length_mm(given_value, "in") == pytest.approx(mm)


@pytest.mark.parametrize(
    "text",
    ["", "mm", "8 15/0 in", "-3 mm", "8 miles", "8 15/16 16 in", "nan", "inf mm", "1e3", True, [8]],
)
def test_what_is_no_length_is_refused(text):
    with pytest.raises(ValueError, match=r"length|zero"):
        parse_length_mm(text)


@pytest.mark.parametrize(
    ("mm", "text"),
    [(228.0, "9 in"), (227.0, "8 15/16 in"), (203.9, "8 in"), (6.35, "1/4 in"), (24.0, "15/16 in"),
     (615.95, "24 1/4 in"),
     (85.6, "3 3/8 in"), (53.98, "2 1/8 in"), (100.0, "3 15/16 in"), (0.3, "0 in"), (0.79375, "1/16 in")],
)  # fmt: skip
def test_the_nearest_sixteenth_is_reduced_and_ties_go_up(mm, text):
    assert format_sixteenths(mm) == text


@pytest.mark.parametrize(
    ("value", "expanded", "text"),
    [
        (228.347, 0.4632, "228.35 ± 0.46 mm"), (203.1846, 0.0951, "203.185 ± 0.095 mm"),
        (203.1846, 0.0996, "203.18 ± 0.10 mm"), (10.05762, 0.027, "10.058 ± 0.027 mm"),
        (228.347, 1.249, "228.3 ± 1.2 mm"), (228.347, 12.6, "228 ± 13 mm"),
        (0.5, 0.00999, "0.500 ± 0.010 mm"),
    ],
)  # fmt: skip
def test_an_uncertainty_has_two_digits_and_the_value_matches(value, expanded, text):
    # JCGM 100:2008, 7.2.6; rounding recomputed with the package uncertainties.
    assert format_pair(value, expanded, "mm") == text


@settings(derandomize=True, deadline=None)
@given(st.integers(0, 400), st.integers(0, 63))
def test_a_fraction_is_exact(whole, top):
    assert parse_length_mm(f"{whole} {top}/64 in") == pytest.approx((whole + top / 64) * 25.4, rel=1e-12)
