"""One stand-off of a part in several lengths of a record."""

from dataclasses import replace
from math import hypot

import pytest

from measure.record import BudgetEntry, MeasurementEntry, ResultEntry, Specimen
from measure.redo import recorded_length
from measure.redo.judging import findings_of

BUDGET = (BudgetEntry("stand-off", 0.5), BudgetEntry("click", 0.3), BudgetEntry("card size", 0.2, True))
WIDTH = MeasurementEntry(
    "m1", "span", "photo-1", "bow-plate", "width", "width", standoff_mm=(14.0,),
    result=ResultEntry(160.0, hypot(0.5, 0.3, 0.2), 1.2, 1.96, BUDGET),
)  # fmt: skip
ELSEWHERE = replace(WIDTH, id="m2", photo="photo-2")


def test_a_difference_of_two_lengths_of_a_part_cancels_its_standoff() -> None:
    difference = recorded_length(WIDTH) - recorded_length(ELSEWHERE)
    assert difference.standard_uncertainty_mm == pytest.approx(2**0.5 * hypot(0.3, 0.2))


@pytest.mark.parametrize(
    "other",
    [
        replace(ELSEWHERE, part="wheelhouse", feature="height"),
        replace(ELSEWHERE, standoff_mm=(20.0,)),
        replace(ELSEWHERE, kind="rise"),
    ],
    ids=["another part", "another statement", "another kind"],
)
def test_other_standoffs_are_errors_of_their_own(other: MeasurementEntry) -> None:
    difference = recorded_length(WIDTH) - recorded_length(other)
    assert difference.standard_uncertainty_mm == pytest.approx(2**0.5 * hypot(0.5, 0.3, 0.2))


def test_a_finding_tells_what_its_part_shares() -> None:
    first, second = findings_of(Specimen("Ferry", "saltmarsh-ferry", measurements=(WIDTH, ELSEWHERE)))
    assert first.standoff_std_mm == second.standoff_std_mm == pytest.approx(0.5)
    assert first.shared_std_mm == pytest.approx(0.2)
    rise = replace(WIDTH, kind="rise")
    assert findings_of(Specimen("Ferry", measurements=(rise,)))[0].standoff_std_mm == 0.0
