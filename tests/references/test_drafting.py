"""A sheet written from answers can be read at once, whatever the names."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from references import read_sheet
from references.release_sheet.drafting import (
    FeatureDraft,
    PartDraft,
    SheetDraft,
    draft_text,
    key_from_name,
    parse_dimension,
    parse_shares,
)
from references.release_sheet.values import Counts, Normal, Range


def draft(subject="Gull Tram", how="", name="Roof"):
    features = [
        FeatureDraft(
            "Length",
            "dimension",
            how,
            {"early": parse_dimension("8 7/8 to 8 15/16 in", "mm"), "late": "unknown"},
        ),
        FeatureDraft(
            "Rivets", "count", "", {"early": parse_shares("4: 90 %, 6: 10 %", counts=True), "late": 5}
        ),
        FeatureDraft("Bell", "trait", "", {"early": "none", "late": "brass"}, alternatives=["none", "brass"]),
    ]
    return SheetDraft(
        subject, "", "mm", [("Early", "1950"), ("Late", "")], [PartDraft(name, features, "thin", True)]
    )


def test_what_was_answered_is_what_is_read():
    sheet = read_sheet(draft_text(draft()))
    roof = sheet.part("roof")
    assert roof.keep_in_place
    assert roof.feature("length").limits_mm("early") == pytest.approx((225.425, 227.0125))
    assert roof.feature("rivets").by_release["early"] == Counts({4: 0.9, 6: 0.1})


@settings(derandomize=True, deadline=None, max_examples=40)
@given(st.text(st.characters(exclude_categories=("Cs", "Cc")), min_size=1, max_size=20).filter(str.strip))
def test_any_text_survives(text):
    sheet = read_sheet(draft_text(draft(subject=text, how=text)))
    assert sheet.subject == text
    assert sheet.parts[0].features[0].how == text


@pytest.mark.parametrize(
    ("answer", "value"),
    [
        ("176 to 179.5", Range(176.0, 179.5)),
        ("176-179.5", Range(176.0, 179.5)),
        ("176 – 179.5", Range(176.0, 179.5)),
        ("12.5", Range(12.5, 12.5)),
        ("mean 160.1 sd 0.6 n 9", Normal(160.1, 0.6, 9)),
    ],
)
def test_a_range_may_be_answered_in_several_ways(answer, value):
    text = draft_text(draft()).replace('early = { min = "8 7/8 in", max = "8 15/16 in" }', "early = VALUE")
    plain = parse_dimension(answer, "mm")
    written = "{ " + ", ".join(f"{key} = {inner}" for key, inner in plain.items()) + " }"
    assert read_sheet(text.replace("VALUE", written)).parts[0].features[0].by_release["early"] == value


@pytest.mark.parametrize("answer", ["", "wide", "9 to 8", "mean 5", "1 to 2 furlongs"])
def test_an_answer_that_is_no_range_is_refused(answer):
    with pytest.raises(ValueError, match=r"length|above"):
        parse_dimension(answer, "mm")


@pytest.mark.parametrize("answer", ["five", "5: 0.5, 4: 0.2", "five: 0.5, 4: 0.5"])
def test_an_answer_that_is_no_count_is_refused(answer):
    with pytest.raises(ValueError, match=r"whole|add up"):
        parse_shares(answer, counts=True)


def test_an_id_is_made_from_a_name():
    assert key_from_name("Bow Plate (left)") == "bow-plate-left"
    assert key_from_name("Übergang") == "ubergang"
    assert key_from_name("船") == "unnamed"
