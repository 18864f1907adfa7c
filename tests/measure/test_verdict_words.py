"""What the verdict's codes and numbers say in words."""

import dataclasses
from typing import get_args

import pytest

from measure.redo import judge_specimen
from measure.verdict_words import CAUTION, check_sentence, rate_sentences, reason_sentence, rule_sentences
from references import Finding, judge, shipped_sheet
from references.inference import JudgeOptions
from references.release_sheet import Range
from references.verdict import PlacedLength, Reason, ReasonCode, decision_rule
from tests.measure.commands.test_doubts import toy
from tests.references.making import count, dimension, length, sheet
from tests.references.test_verdict import FIRST, KNOWN, MIXED, SECOND, SEEN_TWICE

FERRY = shipped_sheet("saltmarsh-ferry")


TIP = length("funnel-cap", "tip-radius", 0.6, 0.1, 0.02)
TWO = sheet({"plate": [count("clips", a=2, b=3)]})
# One of each code that the findings below do not bring about, and what it says.
WORDED = [
    (Reason.of("named", release="a", probability=0.9999), "A (probability over 99.9 %)."),
    (
        Reason.of("mixed", releases=("a",), foreign=()),
        "Mixed: the specimen is A, and not from it: some part, but not which one.",
    ),
    (
        Reason.of("mixed", releases=("a", "b"), foreign=("plate",)),
        "Mixed: the specimen is A or B, and not from it: Plate.",
    ),
    (Reason.of("nothing found"), "Cannot tell: nothing has been measured or noted yet."),
    (Reason.of("open", shares=(("a", 0.6), ("b", 0.4))), "Cannot tell which release: A 60 % or B 40 %."),
    (
        Reason.of("release or copy", releases=("a",), probability=0.3),
        "Cannot tell whether it is A or a recast copy of it (probability of a copy 30 %).",
    ),
    (
        Reason.of(
            "recast",
            releases=("a",),
            probability=0.95,
            shrink_percent=2.04,
            expanded_uncertainty_percent=0.31,
        ),
        "A recast copy of A (probability 95 %): the lengths are 2.04 ± 0.31 % too small all over.",
    ),
    (
        Reason.of(
            "not present",
            part="plate",
            without=("b",),
            others=("a",),
            bearing="for",
            ratio=19.0,
            release="b",
        ),
        "Plate: not present; B never had a separate one; on A it would be a lost part. It speaks 19 to 1 "
        "for B.",
    ),
    (
        Reason.of("not present", part="plate", without=(), others=("a", "b"), bearing="none"),
        "Plate: not present; on A and B it would be a lost part.",
    ),
    (
        Reason.of("present", parts=("plate",), without=("b",), bearing="for", ratio=1.52, release="a"),
        "Plate: present; B never had a separate one. It speaks 1.5 to 1 for A.",
    ),
    (
        Reason.of("together", release=None, prior_odds=1 / 49, ratio=12345.0, posterior_odds=251.9),
        "All findings together speak 12\N{NO-BREAK SPACE}000 to 1 for a release that the sheet does not "
        "list: from 2 % before anything was checked (odds of 1 to 49) to 99.6 % (250 to 1). The figures "
        "above multiply to this; each counts what a finding adds to those before it on the sheet.",
    ),
    (
        Reason.of("part recast", part="plate", probability=0.8),
        "Plate: a recast copy, smaller all over (probability 80 %).",
    ),
    (
        Reason.of("fits none", part="plate", probability=0.995, like_recast=True),
        "Plate: fits none of the releases, being smaller all over like a recast copy (probability 99.5 %).",
    ),
    (
        Reason.of("foreign", part="plate", probability=0.95, releases=("a", "b"), fits=True),
        "Plate: does not belong to the rest (probability 95 %); it fits A and B.",
    ),
    (
        Reason.of("foreign", part="plate", probability=0.95, releases=("a", "b"), fits=False),
        "Plate: does not belong to the rest (probability 95 %); it could be A or B.",
    ),
    (
        Reason.of("part in doubt", part="plate", probability=0.7),
        "Plate: in doubt; it does not belong to the rest with a probability of 70 %.",
    ),
    (
        Reason.of("slip", part="plate", feature="clips", value_mm=210.0, probability=0.75),
        "Plate, clips 210 mm: no release has it there, and a point on another edge or a typing slip is "
        "likelier (75 %). Look at its points again.",
    ),
    (
        Reason.of("not listed", probability=0.95, unknown=(("plate", "clips"),)),
        "Not on this sheet: a release that it does not list (probability 95 %); no listed release has "
        "Plate, clips like this.",
    ),
    (
        Reason.of("not listed", probability=0.95, unknown=()),
        "Not on this sheet: a release that it does not list (probability 95 %).",
    ),
    (
        Reason.of("unlisted possible", probability=0.3),
        "It may be a release that the sheet does not list (probability 30 %): check more of its features.",
    ),
    (
        Reason.of("recast possible", probability=0.4),
        "A recast copy is possible (probability 40 %): it is smaller all over, so measure more of its "
        "lengths, the longest ones first.",
    ),
    (
        Reason.of(
            "length", part="plate", feature="clips", readings=(PlacedLength(5.0, 0.5, 1, ()),), bearing="none"
        ),
        "Plate, clips 5.00 ± 0.50 mm: the sheet gives no limits.",
    ),
    (
        Reason.of("noted", part="plate", feature="clips", found=(2,), bearing="for", ratio=20.2, release="a"),
        "Plate, clips 2: 2 on A; 3 on B. It speaks 20 to 1 for A.",
    ),
    (
        Reason.of("noted", part="plate", feature="clips", found=(2,), bearing="nothing"),
        "Plate, clips 2: 2 on A; 3 on B. It adds nothing to the findings before it.",
    ),
    (
        Reason.of(
            "wide uncertainty", part="plate", feature="clips", expanded_uncertainty_mm=3.92, gap_mm=4.2
        ),
        "Plate, clips: this measurement gives ± 3.9 mm and the ranges lie 4.2 mm apart: ± 2.1 mm would "
        "settle it. Take the photo closer and from straight above.",
    ),
    (Reason.of("inseparable", first="a", second="b"), "No check in this sheet can separate A from B."),
    (
        Reason.of("one check left", first="a", second="b", checks=(("plate", None),)),
        "Only one check left can separate A from B: whether there is a separate plate.",
    ),
    (
        Reason.of("checks forbidden", first="a", second="b", checks=(("plate", "clips"),)),
        "Only Plate, clips could separate A from B: the part must come off, and the sheet says to leave it.",
    ),
    (
        Reason.of("all checks made", first="a", second="b"),
        "Every check in this sheet that can separate A from B is made: only better measurements can help.",
    ),
]


@pytest.mark.parametrize(("reason", "text"), WORDED, ids=[reason.code for reason, _ in WORDED])
def test_a_reason_is_worded(reason, text):
    assert reason_sentence(reason, TWO) == text


def test_every_code_has_its_words():
    assert {reason.code for reason, _ in WORDED} == set(get_args(ReasonCode))


def told(findings, given=FERRY):
    return [reason_sentence(reason, given) for reason in judge(given, findings).reasons]


def test_the_one_check_left_is_named():
    text = " ".join(told(SECOND))
    assert "Only one check left can separate Second release from Export release: Hull, stamp" in text


def test_a_copy_that_may_be_genuine_is_said_to_be_either():
    readings = [length("bow-plate", "width", 174.6), length("bow-plate", "depth", 20.1)]
    assert "or a recast copy of it" in told(readings)[0]


def test_what_uncertainty_would_settle_it_is_told():
    text = " ".join(told([length("wheelhouse", "height", 85.2, 2.0, 1.5)]))
    assert "the ranges lie 4.2 mm apart: ± 2.1 mm would settle it" in text


def test_an_outlier_is_told_as_a_slip():
    texts = told([*FIRST[:1], length("bow-plate", "depth", 210.0), *FIRST[2:]])
    assert any("Bow plate, depth 210 mm" in text and "slip" in text for text in texts)


def test_readings_that_contradict_each_other_are_told_one_by_one():
    readings = [length("bow-plate", "width", 177.5), length("bow-plate", "width", 160.3, photo="photo-2")]
    text = " ".join(told([*readings, *FIRST[1:], TIP]))
    assert "mean of" not in text
    assert "168.9" not in text
    assert "slip" not in text
    assert "Bow plate, width 160.30 ± 0.78 mm" in text


def test_a_mean_is_told_with_its_number_of_readings():
    more = length("bow-plate", "width", 178.4, photo="photo-2")
    assert any("(mean of 2)" in text for text in told([more, *FIRST, TIP]))


def test_a_slip_speaks_for_nothing():
    texts = [
        text
        for text in told([length("bow-plate", "width", 1776.0), *FIRST[1:], TIP])
        if text.startswith("Bow plate, width")
    ]
    assert any("slip" in text for text in texts)
    assert not any("speaks" in text for text in texts)


def test_a_part_that_fits_none_is_told_with_the_probability_of_that():
    part = judge(KNOWN, SEEN_TWICE).parts[0]
    text = next(text for text in told(SEEN_TWICE, KNOWN) if "fits none" in text)
    chance = 100 * (part.posterior["none"] + part.posterior["recast"])
    assert f"(probability {chance:.1f} %)" in text


def test_a_value_that_no_release_has_is_said_to_be_unknown():
    text = next(
        text for text in told([Finding("lifeboat", "screws", 6), *FIRST[:2]]) if text.startswith("Lifeboat")
    )
    assert "No release is known to have this; such as it is, it speaks 1." in text


def test_a_part_of_another_release_is_told():
    text = next(text for text in told(MIXED) if text.startswith("Bow plate: does not belong"))
    assert text.endswith("; it fits Second release and Export release.")


def test_a_lengths_place_is_told_for_each_release():
    text = next(text for text in told([length("bow-plate", "width", 169.0)]) if " above 158.5" in text)
    assert " above 158.5 to 161.5 mm (" in text
    assert " below 176" in text


def checks(given, findings):
    return [check_sentence(check, given) for check in judge(given, findings).next_checks]


def test_a_check_that_needs_a_part_taken_off_says_so():
    clips = dataclasses.replace(count("clips", a=2, b=3), part_off=True)
    given = sheet({"plate": [clips, dimension("width", a=Range(100, 103), b=Range(101, 104))]})
    assert checks(given, [])[0] == (
        "Plate, clips: count. If 2: A (94 %); if 3: B (94 %). It needs the part taken off."
    )


def test_the_handling_note_goes_with_the_advice():
    told = next(text for text in checks(FERRY, []) if text.startswith("Bow plate"))
    assert "The clips are brittle: measure it in place." in told


def test_the_uncertainty_needed_is_told():
    told = next(text for text in checks(FERRY, []) if text.startswith("Bow plate, width"))
    assert told.startswith("Bow plate, width: see whether there is one, and if so measure it. ")
    assert " An expanded uncertainty of 7.2 mm or less tells the ranges apart." in told


def test_the_uncertainty_needed_is_told_in_the_sheets_unit():
    told = next(
        text
        for text in checks(dataclasses.replace(FERRY, unit="in"), [])
        if text.startswith("Bow plate, width")
    )
    assert " An expanded uncertainty of 0.29 in or less tells the ranges apart." in told  # 7.25 mm / 25.4


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


RULE = decision_rule(FERRY)


@pytest.mark.parametrize("name", [field.name for field in dataclasses.fields(RULE) if field.name != "rates"])
def test_each_threshold_of_the_rule_is_told(name):
    other = dataclasses.replace(RULE, **{name: getattr(RULE, name) * 3 / 4})
    assert rule_sentences(other) != rule_sentences(RULE)


@pytest.mark.parametrize("name", [field.name for field in dataclasses.fields(RULE.rates)])
def test_each_rate_is_told(name):
    rates = dataclasses.replace(RULE.rates, **{name: getattr(RULE.rates, name) * 3 / 4})
    assert rate_sentences(rates) != rate_sentences(RULE.rates)


def test_the_rates_of_the_options_are_those_told():
    """All that options hold of rates stands in the rule, so that none is assumed in silence."""
    rates = {field.name for field in dataclasses.fields(JudgeOptions) if field.name.endswith("_rate")}
    assert rates < {field.name for field in dataclasses.fields(RULE.rates)}
    other = JudgeOptions(misread_rate=0.07)
    assert "7 % of traits are noted wrongly" in rate_sentences(decision_rule(FERRY, other).rates)


def test_the_record_keeps_rule_and_caution_in_words():
    found = judge_specimen(toy({}), FERRY).to_json()
    assert "JCGM 106" in found["decision_rule"]
    assert found["caution"] == CAUTION == "Evidence, not an authentication or an appraisal."
    assert list(found["next_checks"][0]) == [
        "part", "feature", "text", "expected_gain_bits", "needed_uncertainty_mm", "leads",
    ]  # fmt: skip


def test_a_check_says_what_each_outcome_leads_to():
    texts = {text.split(":")[0]: text for text in checks(FERRY, [])}
    assert " If 4: Second release (" in texts["Lifeboat, screws"]
    assert "; if 5: First release (" in texts["Lifeboat, screws"]
    assert ": see whether there is one, and if so measure it. " in texts["Bow plate, width"]
    assert "; if there is none: Third release (" in texts["Bow plate, width"]
    assert "if 176 to 179.5 mm: First release (" in texts["Bow plate, width"]
