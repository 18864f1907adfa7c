"""How much of a sheet was checked."""

import pytest

from references import judge
from references.inference import Finding
from references.verdict import Checked
from tests.references.making import length
from tests.references.test_verdict import FERRY, FIRST


def test_features_and_parts_are_counted():
    assert judge(FERRY, FIRST).checked == Checked(features=8, of_features=9, parts=6, of_parts=7)


def test_a_dismissed_length_counts_as_not_checked():
    slip = length("bow-plate", "width", 1776.0)
    assert judge(FERRY, [slip, *FIRST[1:]]).checked == Checked(7, 9, 6, 7)


def test_what_could_not_be_seen_counts_as_not_checked():
    hidden = Finding("hull", "stamp", state="could not see")
    assert judge(FERRY, [hidden]).checked == Checked(0, 9, 0, 7)


@pytest.mark.parametrize(
    ("checked", "is_little"),
    [
        (Checked(1, 9, 1, 7), True),
        (Checked(3, 9, 1, 7), True),
        (Checked(2, 9, 2, 7), True),
        (Checked(3, 9, 2, 7), False),
        (Checked(1, 1, 1, 1), False),
    ],
)
def test_a_few_features_of_one_part_are_little(checked, is_little):
    assert checked.is_little is is_little
