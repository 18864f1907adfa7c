"""What the verdict's codes and numbers say in words."""

import dataclasses

from measure.redo import judge_specimen
from measure.verdict_words import CAUTION, check_sentence, rule_sentences
from references import Finding, judge, shipped_sheet
from references.release_sheet import Range
from tests.measure.commands.test_doubts import toy
from tests.references.making import count, dimension, length, sheet

FERRY = shipped_sheet("saltmarsh-ferry")


def checks(given, findings):
    return [check_sentence(check, given) for check in judge(given, findings).next_checks]


def test_a_check_that_needs_a_part_taken_off_says_so():
    clips = dataclasses.replace(count("clips", a=2, b=3), part_off=True)
    given = sheet({"plate": [clips, dimension("width", a=Range(100, 103), b=Range(101, 104))]})
    assert checks(given, [])[0] == "Plate, clips: count. It needs the part taken off."


def test_the_handling_note_goes_with_the_advice():
    told = next(text for text in checks(FERRY, []) if text.startswith("Bow plate"))
    assert "The clips are brittle: measure it in place." in told


def test_the_uncertainty_needed_is_told():
    told = next(text for text in checks(FERRY, []) if text.startswith("Bow plate, width"))
    assert told.startswith("Bow plate, width: measure it. ")
    assert " An expanded uncertainty of 7.2 mm or less tells the ranges apart." in told


def test_a_poor_length_is_to_be_measured_again_closer():
    told = checks(FERRY, [length("wheelhouse", "height", 85.2, 3.0, 2.0)])
    assert any(
        text.startswith("Wheelhouse, height: measure it again, closer and from straight above.")
        for text in told
    )


def test_a_trait_is_looked_at():
    told = checks(FERRY, [Finding("lifeboat", "screws", 4)])
    assert any(text.startswith("Hull, ") and ": look. " in text for text in told)


def test_the_rule_is_told_with_its_thresholds():
    rule = judge(FERRY, []).decision_rule
    told = rule_sentences(rule)
    assert "JCGM 106:2012) is at least 95 %, does not fit where it is at most 5 %" in told
    assert "a probability of 90 %" in told
    assert "at least 3.2 to 1" in told
    assert "1 specimen in 100" in told
    assert "above 10 %" in told
    assert "80 %" in rule_sentences(dataclasses.replace(rule, name_at=0.8))


def test_the_record_keeps_rule_and_caution_in_words():
    found = judge_specimen(toy({}), FERRY).to_json()
    assert "JCGM 106" in found["decision_rule"]
    assert found["caution"] == CAUTION == "Evidence, not an authentication or an appraisal."
    assert list(found["next_checks"][0]) == [
        "part", "feature", "text", "expected_gain_bits", "needed_uncertainty_mm",
    ]  # fmt: skip
