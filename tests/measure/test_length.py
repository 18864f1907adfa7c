"""Arithmetic of lengths: against the uncertainties package, and laws that must hold."""

from math import hypot, sqrt

import pytest
import uncertainties
from hypothesis import given, settings
from hypothesis import strategies as st

from measure.errors import SpanError
from measure.length.repeats import repeated
from measure.length.value import Contribution, Length, mean_length

SOURCES = {"scale": ("card size", True), "tilt": ("card corners", True)}


def length(value_mm: float, click_mm: float, name: str, **shared_mm: float) -> Length:
    parts = {key: Contribution(*SOURCES[key], mm) for key, mm in shared_mm.items()}
    return Length(value_mm, {**parts, name: Contribution("click", False, click_mm)})


LONG = length(228.0, 0.3, "click-a", scale=0.19, tilt=0.5)
SHORT = length(203.2, 0.4, "click-b", scale=0.17, tilt=-0.2)


def same_in_uncertainties() -> tuple[uncertainties.UFloat, uncertainties.UFloat]:
    unit = {key: uncertainties.ufloat(0.0, 1.0) for key in ("scale", "tilt", "click-a", "click-b")}
    return tuple(
        item.value_mm + sum(part.mm * unit[key] for key, part in item.contributions.items())
        for item in (LONG, SHORT)
    )


@pytest.mark.parametrize("sign", ["+", "-"])
def test_shared_inputs_stay_shared_as_in_the_uncertainties_package(sign: str) -> None:
    a, b = same_in_uncertainties()
    found, expected = (LONG + SHORT, a + b) if sign == "+" else (LONG - SHORT, a - b)
    assert found.value_mm == pytest.approx(expected.nominal_value)
    assert found.standard_uncertainty_mm == pytest.approx(expected.std_dev)


def test_a_difference_of_equals_keeps_only_the_clicks() -> None:
    twin = length(228.0, 0.3, "click-c", scale=0.19, tilt=0.5)
    assert (LONG - twin).standard_uncertainty_mm == pytest.approx(0.3 * sqrt(2))
    assert (LONG - twin).shared_std_mm == pytest.approx(0.0)


def test_the_budget_adds_up_and_names_the_largest_first() -> None:
    lines = LONG.budget
    assert [line.source for line in lines] == ["card corners", "click", "card size"]
    assert hypot(*(line.u_mm for line in lines)) == pytest.approx(LONG.standard_uncertainty_mm)
    assert LONG.shared_std_mm == pytest.approx(hypot(0.19, 0.5))


@settings(max_examples=50, deadline=None, derandomize=True)
@given(st.lists(st.floats(-5.0, 5.0), min_size=1, max_size=8), st.floats(0.0, 3.0))
def test_uncertainty_never_shrinks_when_an_independent_input_grows(parts: list[float], more: float) -> None:
    contributions = {str(i): Contribution("click", False, mm) for i, mm in enumerate(parts)}
    before = Length(100.0, contributions)
    after = Length(100.0, {**contributions, "more": Contribution("stand-off", False, more)})
    assert 0.0 <= before.standard_uncertainty_mm <= after.standard_uncertainty_mm + 1e-12
    assert sum(line.u_mm**2 for line in after.budget) == pytest.approx(after.standard_uncertainty_mm**2)


def test_a_mean_averages_clicks_and_keeps_what_is_shared() -> None:
    repeats = [length(228.0, 0.3, f"click-{i}", scale=0.19) for i in range(9)]
    mean = mean_length(repeats)
    assert mean.standard_uncertainty_mm == pytest.approx(hypot(0.1, 0.19))


def test_repeats_that_scatter_as_stated_are_just_averaged() -> None:
    readings = [length(228.0 + d, 0.3, f"click-{d}") for d in (-0.1, 0.0, 0.1)]
    assert repeated(readings).standard_uncertainty_mm == pytest.approx(0.3 / sqrt(3))


def test_repeats_that_scatter_more_count_by_their_scatter_with_students_factor() -> None:
    readings = [length(228.0 + d, 0.01, f"click-{d}") for d in (-0.5, 0.0, 0.5)]
    mean = repeated(readings)
    assert mean.standard_uncertainty_mm == pytest.approx(0.5 / sqrt(3))
    assert mean.coverage_factor == pytest.approx(4.303, abs=0.001)  # t, 95 %, two degrees of freedom


def test_no_measurements_have_no_mean() -> None:
    with pytest.raises(SpanError):
        repeated([])


def test_numbers_that_are_none_are_refused() -> None:
    with pytest.raises(ValueError, match="finite"):
        Length(float("nan"))
    with pytest.raises(ValueError, match="finite"):
        Length(1.0, {"a": Contribution("click", False, float("inf"))})
