"""Lengths as text, and text as lengths."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from uncertainties import ufloat

from measure.errors import UnitError
from measure.length.units import (
    format_fraction,
    format_inches,
    format_mm,
    parse_length,
    round_with_uncertainty,
)
from measure.length.value import Contribution, Length


def length(value_mm: float, u_mm: float) -> Length:
    return Length(value_mm, {"a": Contribution("click", False, u_mm)}, 2.0)


def test_a_length_reads_with_its_expanded_uncertainty() -> None:
    assert format_mm(length(228.347, 0.2316)) == "228.35 ± 0.46 mm"
    assert format_mm(length(228.347, 6.3)) == "228 ± 13 mm"
    assert format_inches(length(228.6, 0.127)) == "9.000 ± 0.010 in"
    assert format_mm(Length(12.3456)) == "12.346 ± 0 mm"


@settings(max_examples=80, deadline=None, derandomize=True)
@given(st.floats(0.1, 2000.0), st.floats(1e-4, 50.0))
def test_rounding_is_that_of_the_uncertainties_package(value: float, uncertainty: float) -> None:
    printed = f"{ufloat(value, uncertainty):.2uf}".split("+/-")
    found = round_with_uncertainty(value, uncertainty)
    # The package rounds halves to even and prints no tens for large uncertainties; the numbers agree.
    step = 10.0 ** -len(printed[1].partition(".")[2])
    assert float(found[1]) == pytest.approx(float(printed[1]), abs=1.01 * step)
    assert float(found[0]) == pytest.approx(float(printed[0]), abs=max(1.01 * step, 0.5 * float(found[1])))


@pytest.mark.parametrize(
    ("text", "expected_mm"),
    [
        ("227 mm", 227.0),
        ("227", 227.0),
        ("22,7 cm", 227.0),
        ("8 15/16 in", 227.0125),
        ("8-15/16 in", 227.0125),
        ('15/16"', 23.8125),
        ("8.94in", 227.076),
        ("9 inches", 228.6),
        ("0.5 m", 500.0),
        (".5 in", 12.7),
    ],
)
def test_a_text_is_read_as_a_length(text: str, expected_mm: float) -> None:
    assert parse_length(text) == pytest.approx(expected_mm)


def test_a_bare_number_takes_the_unit_given() -> None:
    assert parse_length("2 1/2", "in") == pytest.approx(63.5)


@pytest.mark.parametrize("text", ["", "mm", "1/0 in", "12 feet", "1 2 3", "nan mm", "1e5 mm"])
def test_a_text_that_is_no_length_is_refused(text: str) -> None:
    with pytest.raises(UnitError, match="not a length"):
        parse_length(text)


@settings(max_examples=60, deadline=None, derandomize=True)
@given(st.floats(0.0, 3000.0), st.sampled_from([16, 32, 64]))
def test_a_fraction_read_back_is_within_half_a_division(value_mm: float, denominator: int) -> None:
    back_mm = parse_length(format_fraction(value_mm, denominator))
    assert abs(back_mm - value_mm) <= 25.4 / denominator / 2 + 1e-9


def test_an_odd_division_is_refused() -> None:
    with pytest.raises(ValueError, match="powers of two"):
        format_fraction(10.0, 10)
