"""The verdict in a record: written, read back the same, and refused by its field where it is none."""

import json

import pytest

from measure.errors import RecordError
from measure.record.verdict_reading import read_verdict
from measure.redo.judging import judge_specimen
from tests.measure.commands.test_doubts import CASES, FERRY, FIRST, toy

SPECIMENS = {"first": toy(FIRST), **{name: case[0] for name, case in CASES.items()}}


@pytest.mark.parametrize("name", SPECIMENS)
def test_a_verdict_read_back_is_the_one_written(name: str) -> None:
    judged = judge_specimen(SPECIMENS[name], FERRY)
    assert read_verdict(json.loads(json.dumps(judged.to_json()))) == judged


def test_what_another_program_left_out_has_a_default() -> None:
    read = read_verdict({"outcome": "release", "release": "first", "parts": [{"part": "hull"}]})
    assert (read.verdict.outcome, read.verdict.release) == ("release", "first")
    assert (read.verdict.parts[0].name, read.verdict.parts[0].outcome) == ("hull", "cannot tell")
    assert (read.reasons, read.verdict.posterior, read.verdict.recast) == ((), {}, None)


@pytest.mark.parametrize(
    ("values", "said"),
    [
        ({"outcome": 3}, r"verdict\.outcome: expected text, found 3"),
        ({"parts": 7}, r"verdict\.parts: expected a list, found 7"),
        (
            {"parts": [{"findings": [{"u": "wide"}]}]},
            r"verdict\.parts\[0\]\.findings\[0\]\.u: expected a number",
        ),
        ({"posterior": {"first": None}}, r"verdict\.posterior\.first: expected a number"),
        ({"posterior": {"first": 1.5}}, "probabilities"),
    ],
)
def test_what_is_no_verdict_is_refused_by_its_field(values: dict[str, object], said: str) -> None:
    with pytest.raises(RecordError, match=f"the recorded verdict can't be read: .*{said}"):
        read_verdict(values)
