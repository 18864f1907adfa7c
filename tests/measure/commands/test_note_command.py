"""Notes on a specimen from the command line."""

import json

import pytest
from click.testing import CliRunner

from measure.cli import cli
from measure.record import MeasurementEntry, ResultEntry, Specimen, read_specimen, write_specimen

SHEET = ("--sheet", "saltmarsh-ferry")


@pytest.fixture
def record(tmp_path):
    return tmp_path / "ferry.specimen.json"


def run(record, *arguments):
    return CliRunner().invoke(cli, ["note", str(record), *arguments])


def noted(record):
    return {(one.part, one.feature): (one.value, one.state) for one in read_specimen(record).observations}


def test_counts_traits_and_states_are_kept(record):
    done = run(
        record, "lifeboat.screws=5", "hull.stamp=other", "deck-rail=missing", "funnel-cap=hidden", *SHEET
    )
    assert done.exit_code == 0, done.output
    assert noted(record) == {
        ("lifeboat", "screws"): (5, "seen"),
        ("hull", "stamp"): ("other", "seen"),
        ("deck-rail", None): (None, "not present"),
        ("funnel-cap", None): (None, "could not see"),
    }


def test_a_later_note_replaces_an_earlier_one_and_nothing_takes_it_back(record):
    run(record, "lifeboat.screws=5", "paddle-wheel.axle=plug-in", *SHEET)
    run(record, "lifeboat.screws=4", "paddle-wheel.axle=")
    assert noted(record) == {("lifeboat", "screws"): (4, "seen")}


def test_name_and_remark_need_no_sheet(record):
    assert run(record, "--name", "Ferry", "--remark", "rail\u2028repainted").exit_code == 0
    assert (read_specimen(record).name, read_specimen(record).note) == ("Ferry", "rail\nrepainted")


@pytest.mark.parametrize(
    ("note", "says"),
    [
        ("lifeboat", "is no note; write PART.FEATURE=VALUE"),
        ("lifebelt.screws=4", 'has no part "lifebelt"; its parts are bow-plate'),
        ("lifeboat.nails=4", "counts and traits: screws"),
        ("bow-plate.width=3", "is a length: measure it"),
        ("lifeboat.screws=4.5", "expected a whole number from 0 to 10000"),
        ("lifeboat.screws=99999999999999999999", "expected a whole number from 0 to 10000"),
        ("lifeboat.screws=\u00b2", "expected a whole number from 0 to 10000"),
        ("paddle-wheel.axle=square", "expected one of through-rod, plug-in, other"),
        ("lifeboat=gone", "expected one of seen, missing, hidden"),
    ],
)
def test_a_note_that_the_sheet_does_not_know_changes_nothing(record, note, says):
    done = run(record, "hull.stamp=none", note, *SHEET)
    assert done.exit_code == 2 or says in str(done.exception)
    assert says in str(done.exception)
    assert not record.exists()


def test_a_missing_part_has_no_lengths(record):
    length = ResultEntry(160.0, 0.5, 1.0, 1.96)
    entry = MeasurementEntry("m1", "span", None, "bow-plate", "width", "width", result=length)
    write_specimen(record, Specimen("Ferry", "saltmarsh-ferry", measurements=(entry,)))
    assert "noted as missing, yet the record holds width" in str(run(record, "bow-plate=missing").exception)
    assert read_specimen(record).observations == ()


def test_without_notes_it_lists_what_is_left_and_writes_nothing(record):
    done = run(record, *SHEET)
    assert "lifeboat.screws: not noted; a count." in done.output
    assert not record.exists()


def test_the_json_holds_what_is_noted(record):
    plain = json.loads(run(record, "lifeboat.screws=5", "--json", *SHEET).stdout)
    assert plain["noted"] == [{"part": "lifeboat", "feature": "screws", "value": 5, "state": "seen"}]
