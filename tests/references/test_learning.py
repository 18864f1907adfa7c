"""Learning ranges: outliers named and kept, sources kept, comments kept."""

import pytest

from references import read_sheet, shipped_sheet, shipped_text
from references.errors import SampleError, SheetError
from references.learning.examples import Example, find_outliers
from references.learning.propose import learn, separation_notes
from references.release_sheet.values import ABSENT, Counts, Normal, Range, Traits
from references.release_sheet.writing import set_value

FERRY = shipped_sheet("saltmarsh-ferry")
WIDTH = FERRY.parts[0].features[0]
PLACE = ("first", "bow-plate", "width")
LENGTHS = [177.1, 177.6, 178.4, 177.9, 176.9, 177.5]


def examples(lengths, std=0.2):
    return [Example(f"ferry {number}", mm, std) for number, mm in enumerate(lengths, 1)]


def test_grubbs_example_has_one_outlier():
    # NIST/SEMATECH e-Handbook 1.3.5.17.1 (Tietjen and Moore), from memory: 245.57 is an outlier at 5 %.
    data = [199.31, 199.53, 200.19, 200.82, 201.92, 201.95, 202.18, 245.57]
    found = find_outliers(examples(data, 0.0), FERRY, WIDTH, "first")
    assert [outlier.example.value_mm for outlier in found] == [245.57]


def test_an_outlier_is_named_with_a_reason_and_still_counted():
    learnt = learn(FERRY, PLACE, examples([*LENGTHS, 160.2]))
    assert learnt.spread.examples == 7
    assert [outlier.example.name for outlier in learnt.outliers] == ["ferry 7"]
    assert "in the range of Second release and Export release" in learnt.outliers[0].reason


def test_an_uncertain_example_is_no_outlier():
    wild = [*examples(LENGTHS), Example("blurred", 170.0, 5.0)]
    assert find_outliers(wild, FERRY, WIDTH, "first") == ()


def test_what_the_user_leaves_out_stays_in_the_source():
    learnt = learn(FERRY, PLACE, examples([*LENGTHS, 160.2]), leave_out=["ferry 7"])
    assert learnt.spread.examples == 6
    assert learnt.as_spread("six ferries").source == "six ferries; left out: ferry 7"
    assert learnt.as_range("six ferries") == Range(176.9, 178.4, 6)


def test_repeated_measurements_of_a_specimen_count_once():
    repeats = [*examples(LENGTHS), Example("ferry 1", 177.3, 0.2)]
    assert learn(FERRY, PLACE, repeats).spread.examples == 6


def test_measuring_is_taken_out_of_the_spread():
    sharp = learn(FERRY, PLACE, examples(LENGTHS, 0.0)).spread
    blurred = learn(FERRY, PLACE, examples(LENGTHS, 0.3)).spread
    assert blurred.sd_mm < sharp.sd_mm
    assert blurred.seen_sd_mm == pytest.approx(sharp.seen_sd_mm)


def test_an_unresolved_spread_keeps_wide_intervals_and_says_so():
    learnt = learn(FERRY, PLACE, examples(LENGTHS, 1.5))
    assert learnt.spread.sd_mm == 0
    assert any("not resolved" in note for note in learnt.notes)
    assert learnt.as_spread("x").sd_mm > 0


def test_the_examples_needed_to_separate_releases_are_told():
    notes = separation_notes(learn(FERRY, PLACE, examples(LENGTHS)), FERRY)
    assert [note.split(";")[0] for note in notes] == [
        "4 examples of each keep it apart from Second release",
        "4 examples of each keep it apart from Export release",
    ] or all("examples of each keep it apart" in note for note in notes)


@pytest.mark.parametrize(
    "place", [("fourth", "bow-plate", "width"), ("first", "sail", "width"), ("first", "hull", "stamp")]
)
def test_a_place_that_the_sheet_does_not_have_is_named(place):
    with pytest.raises(SampleError):
        learn(FERRY, place, examples(LENGTHS))


NEW = Normal(177.56, 0.45, 6, "six ferries")


def test_an_edit_changes_one_line_and_no_comment():
    before = shipped_text("saltmarsh-ferry").splitlines()
    after = set_value("\n".join(before), ("third", "bow-plate", "width"), ABSENT).splitlines()
    assert after == before
    after = set_value("\n".join(before), PLACE, NEW).splitlines()
    changed = [pair for pair in zip(before, after, strict=True) if pair[0] != pair[1]]
    assert len(changed) == 1
    assert changed[0][1] == 'first = { mean = 177.56, sd = 0.45, n = 6, source = "six ferries" }'


def test_a_comment_behind_the_changed_value_survives():
    text = set_value(
        shipped_text("saltmarsh-ferry"), ("export", "hull", "stamp"), Traits({"present": 0.9, "none": 0.1})
    )
    assert "export = { present = 0.9, none = 0.1 }   # most, not all" in text


def test_a_value_is_written_in_the_sheets_unit():
    text = shipped_text("saltmarsh-ferry").replace('unit = "mm"', 'unit = "in"')
    written = set_value(text, PLACE, Range(25.4, 50.8))
    assert "first = { min = 1.0, max = 2.0 }" in written
    assert read_sheet(written).parts[0].features[0].limits_mm("first") == pytest.approx((25.4, 50.8))


def test_an_edit_of_a_place_that_is_not_there_is_refused():
    with pytest.raises(SheetError, match="keel"):
        set_value(shipped_text("saltmarsh-ferry"), ("first", "hull", "keel"), Counts({1: 1.0}))
