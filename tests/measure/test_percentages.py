"""Probabilities in percent: rounded for their place, and never certain."""

import pytest

from measure.verdict_words import percent


@pytest.mark.parametrize(
    ("probability", "plain", "tenths", "whole"),
    [
        (0.0, "under 0.1 %", "under 0.1 %", "under 1 %"),
        (0.001, "0.1 %", "0.1 %", "under 1 %"),
        (0.0049, "0.5 %", "0.5 %", "under 1 %"),
        (0.01, "1 %", "1.0 %", "1 %"),
        (0.626, "63 %", "62.6 %", "63 %"),
        (0.99, "99 %", "99.0 %", "99 %"),
        (0.9951, "99.5 %", "99.5 %", "over 99 %"),
        (0.9991, "over 99.9 %", "over 99.9 %", "over 99 %"),
        (1.0, "over 99.9 %", "over 99.9 %", "over 99 %"),
    ],
)
def test_a_probability_is_rounded_for_its_place(
    probability: float, plain: str, tenths: str, whole: str
) -> None:
    assert percent(probability) == plain
    assert percent(probability, decimals=1) == tenths
    assert percent(probability, decimals=0) == whole
