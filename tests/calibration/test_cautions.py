"""Cautions and reasons for no answer as values."""

import pickle

import pytest

from calibration.cautions import Caution, CautionCode, NoAnswer, NoAnswerCode


def test_facts_are_read_by_their_names() -> None:
    steep = Caution.of(CautionCode.STEEP_PLANE, tilt_deg=51.5)
    assert steep["tilt_deg"] == 51.5
    assert list(steep) == ["tilt_deg"]
    with pytest.raises(KeyError):
        steep["across_px"]


def test_equal_values_are_one() -> None:
    twice = [Caution.of(CautionCode.STEEP_PLANE, tilt_deg=tilt) for tilt in (51.5, 51.5, 52.0)]
    assert len(set(twice)) == 2
    assert pickle.loads(pickle.dumps(twice)) == twice


def test_a_caution_is_no_reason_for_no_answer() -> None:
    assert Caution.of(NoAnswerCode.NO_EDGE) != NoAnswer.of(NoAnswerCode.NO_EDGE)


def test_they_do_not_change() -> None:
    with pytest.raises(AttributeError):
        NoAnswer.of(NoAnswerCode.NO_EDGE).code = NoAnswerCode.FAR_EDGE  # type: ignore[misc]
