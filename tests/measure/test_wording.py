"""Cautions and reasons for no answer in words: every code for everybody, with advice that each can follow."""

import ast
import json
import re
from dataclasses import replace
from enum import StrEnum
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from calibration.camera import Camera
from calibration.cards import FoundCard, why_none
from calibration.cards.rival import Rival
from calibration.cautions import Caution, CautionCode, NoAnswer, NoAnswerCode, Remark
from calibration.objects import CARD_OBJECTS, ID1
from calibration.rectangles import by_key
from measure.cautions import LengthCautionCode, NoLengthCode
from measure.record.camera_entry import camera_entry, camera_from_entry
from measure.wording import Audience, all_worded, reason_worded, reworded, worded
from measure.wording.catalogue import COMMON, VARIANTS

ROOT = Path(__file__).parents[2]
CAUTIONS: list[StrEnum] = [*CautionCode, *LengthCautionCode]
NO_ANSWERS: list[StrEnum] = [*NoAnswerCode, *NoLengthCode]
CODES = [*CAUTIONS, *NO_ANSWERS]
RIVALS = (Rival(by_key()["bridge"], 0.2, 1.049), Rival(by_key()["poker"], 0.004, 1.1))
OUTLINE = {
    "name": None,
    "corners_px": ((1.4, 2.0), (30.0, 2.0), (30.0, 20.0), (1.0, 20.0)),
    "confidence": 0.512,
    "likely": "bank card (ID-1)",
    "likely_key": "id1",
    "naming_helps": True,
}
# Facts of any code, by name; what a code lacks of them is not its own.
FACTS = OUTLINE | {
    "decoder": "premature end",
    "tilt_deg": 51.6,
    "across_px": 40.4,
    "longest_px": 99.6,
    "picture_share": 0.041,
    "blur_width_px": 7.2,
    "seen_share": 0.553,
    "off_share": 0.0231,
    "side": "left",
    "apart_mm": 1.04,
    "sides": ("top", "left"),
    "corner_std_px": 1.0,
    "key": "id1",
    "said": False,
    "probability": 0.25,
    "rivals": RIVALS,
    "thickness_mm": 1.75,
    "least_deg": 2.0,
    "most_deg": 17.6,
    "count": 42,
    "kept": 3,
    "spacing_mm": 3.175,
    "first_px": (10.2, 20.7),
    "last_px": (900.0, 25.0),
    "tilt_std_deg": 15.0,
    "stretch": "diagonal",
    "number": 2,
    "value_mm": 99.16,
    "expanded_mm": 0.42,
    "stated_mm": 101.2,
    "photo": "a.jpg",
    "least": 8,
    "columns": 9,
    "rows": 6,
    "height_mm": 25.0,
    "distance_mm": 260.2,
    "excess_share": 0.1064,
    "reach_mm": 312.4,
    "angle_deg": 2.34,
    "px_per_mm": 4.0,
    "blur_px": 1.2,
    "needed_mm": 1.0,
    "text": "The photo was taken in the rain.",
}

CAMERA = Camera(4000, 3000, 3000.0, 0.03, (1999.5, 1499.5), 20.0)


def remark(code: StrEnum, **facts: object) -> Remark:
    kind: type[Remark] = Caution if code in CAUTIONS else NoAnswer
    if code in (CautionCode.ODD_PROPORTIONS, CautionCode.KIND_ASSUMED, CautionCode.SIZE_BY_OTHERS):
        facts = {"name": "bank card (ID-1)"} | facts
    if code in (CautionCode.IDENTITY, NoAnswerCode.IDENTITY_OPEN):
        facts = {"name": "bank card (ID-1)"} | facts
    return kind(code, tuple((FACTS | facts).items()))  # type: ignore[arg-type]


def test_no_two_codes_are_spelt_alike() -> None:
    assert len(set(CODES)) == len(CODES)


def test_every_code_has_a_wording_and_every_wording_a_code() -> None:
    assert set(COMMON) == set(CODES)
    assert {code for code, _ in VARIANTS} <= set(CODES)


@pytest.mark.parametrize("audience", Audience)
@pytest.mark.parametrize("code", CODES)
def test_each_is_told_to_everybody_in_a_whole_sentence(code: StrEnum, audience: Audience) -> None:
    text = worded(remark(code), audience)
    assert len(text) > 10
    assert not re.search(r"[{}]|None|nan|\.\.|  ", text)


@pytest.mark.parametrize("audience", [Audience.PAGE, Audience.BUYER])
@pytest.mark.parametrize("code", CODES)
def test_options_are_named_on_the_command_line_only(code: StrEnum, audience: Audience) -> None:
    assert not re.search(r"--[a-z]", worded(remark(code), audience))


@pytest.mark.parametrize(("code", "audience"), VARIANTS)
def test_a_variant_says_something_else_than_the_common_sentence(code: StrEnum, audience: Audience) -> None:
    others = [one for one in Audience if (code, one) not in VARIANTS]
    assert all(worded(remark(code), audience) != worded(remark(code), one) for one in others)


@pytest.mark.parametrize(
    ("code", "said"),
    [
        (CautionCode.PIXELS_DAMAGED, "The photo's file is damaged (premature end): part of the picture"),
        (CautionCode.PIXELS_STEP, "(a step such as damaged data leave runs across the picture)"),
        (CautionCode.METADATA_DAMAGED, "The photo's metadata are damaged (premature end)"),
        (CautionCode.CROPPED, "use the uncropped photo."),
        (CautionCode.DIGITAL_ZOOM, "digital zoom"),
        (CautionCode.STEEP_PLANE, "at 52 degrees: take it from more directly above"),
        (CautionCode.SMALL_REFERENCE, "only 40 px across"),
        (CautionCode.MISFIT, "check its kind"),
        (CautionCode.DISAGREEMENT, "The references disagree"),
        (CautionCode.TWO_TILTS, "two tilts"),
        (CautionCode.UNSURE_OUTLINE, "(confidence 0.51)"),
        (CautionCode.STEEP_OUTLINE, "at a steep 52°"),
        (CautionCode.SMALL_OUTLINE, "100 px long or 4 % of the picture"),
        (CautionCode.BLURRED_OUTLINE, "blurred over 7 px"),
        (CautionCode.COVERED_SIDE, "Only 55 % of one side"),
        (CautionCode.ODD_PROPORTIONS, "are 2.3 % off those of a bank card (ID-1)"),
        (CautionCode.OPEN_SIDE, "At the card's left side, edges lie 1.0 mm apart"),
        (CautionCode.OPEN_SIDE, "lengths could be 2.3 % off"),
        (CautionCode.CROWDED_SIDES, "At the outline's top, left sides there is"),
        (CautionCode.CORNERS_AS_GIVEN, "kept as given, with 1 px uncertainty each"),
        (
            CautionCode.IDENTITY,
            "The outline is taken for a bank card (ID-1), but it may be something else (25 %)",
        ),
        (
            CautionCode.IDENTITY,
            "if it is a bridge playing card, 57.2 x 88.9 mm (20 %), every length is 4.9 % longer",
        ),
        (CautionCode.IDENTITY, "(under 1 %)"),
        (CautionCode.IDENTITY, "Say which it is: --object id1, or bridge, or poker."),
        (
            NoAnswerCode.IDENTITY_OPEN,
            "something else (25 %): compared with that, if it is a bridge",
        ),
        (NoAnswerCode.IDENTITY_OPEN, "say which it is: --object id1, or bridge, or poker."),
        (CautionCode.LEFT_OUT, "42 more such outlines are not used: measured by the 3 that agree, they have"),
        (CautionCode.PRINT_UNCHECKED, "measure its check rules"),
        (CautionCode.COIN_HEIGHTS, "the coin's upper face, 1.75 mm above the table"),
        (CautionCode.COIN_TILTS, "a tilt of 2° to 18°"),
        (CautionCode.GRADUATIONS, "42 graduations of 3.175 mm counted from (10, 21) to (900, 25) px"),
        (CautionCode.RULE_TILT, "within 15° (standard uncertainty)"),
        (CautionCode.CONTRADICTION, "contradict each other"),
        (
            CautionCode.SIZE_BY_OTHERS,
            "Measured by the others, the diagonal of number 2 (bank card (ID-1)) is 99.2 ± 0.4 mm, but it"
            " should be 101.2 mm.",
        ),
        (
            LengthCautionCode.STANDOFF_UNSTATED,
            "25 mm nearer the camera than the card at 260 mm reads 11 % too long",
        ),
        (LengthCautionCode.MOSTLY_STANDOFF, "Most of the uncertainty is in the stand-off: measure it"),
        (LengthCautionCode.EDGES_TURNED, "The edges make 2.3° with each other"),
        (NoAnswerCode.NO_OUTLINE, "No outline with the proportions of any known card or sheet was found"),
        (
            NoAnswerCode.ANY_RECTANGLE,
            "has its corners at (1, 2), (30, 2), (30, 20), (1, 20), but seen at 52°",
        ),
        (NoAnswerCode.OUTLINE_ODD, "its proportions are 2.3 % off (confidence 0.51);"),
        (NoAnswerCode.OUTLINE_COVERED, "only 55 % of one side is seen as an edge"),
        (
            NoAnswerCode.OUTLINE_UNCLEAR,
            "if the kind is right (bank card (ID-1)), name it with --object id1; otherwise",
        ),
        (NoAnswerCode.TARGET_UNSEEN, "a.jpg: 42 corners of the printed target seen, at least 8 are needed"),
        (NoAnswerCode.NO_CHESSBOARD, "a.jpg: no chessboard of 9 x 6 inner corners seen"),
        (NoLengthCode.RADIUS_VAGUE, "at 4.0 px/mm and a blur of 1.2 px"),
    ],
)
def test_the_command_line_tells_the_numbers_and_the_options(code: StrEnum, said: str) -> None:
    assert said in worded(remark(code), Audience.COMMAND)


@pytest.mark.parametrize(
    ("code", "said"),
    [
        (LengthCautionCode.STANDOFF_UNSTATED, "give its height above the card where"),
        (LengthCautionCode.MOSTLY_STANDOFF, "is in its height above the card: measure it"),
        (
            NoAnswerCode.OUTLINE_ODD,
            "is drawn dotted on the photo, but its proportions are 2.3 % off; if the kind",
        ),
        (NoAnswerCode.OUTLINE_ODD, "press “Use the dotted outline”"),
        (NoAnswerCode.NO_OUTLINE, "or mark its corners by hand."),
        (CautionCode.COIN_SIDE, "press “Mark its nearer side”"),
    ],
)
def test_the_page_names_its_fields_and_buttons(code: StrEnum, said: str) -> None:
    assert said in worded(remark(code), Audience.PAGE)


def test_what_the_page_quotes_stands_on_it() -> None:
    scripts = sorted((ROOT / "measure" / "desk" / "static").rglob("*.js"))
    shown = "".join(path.read_text("utf-8") for path in scripts)
    quoted = {name for code in CODES for name in re.findall("“(.+?)”", worded(remark(code), Audience.PAGE))}
    assert len(quoted) == 3
    assert [name for name in quoted if f'"{name}"' not in shown] == []


@pytest.mark.parametrize(
    ("code", "text"),
    [
        (CautionCode.STEEP_PLANE, "The photo looks at the card at 52 degrees."),
        (CautionCode.COIN_TILTS, "The rim allows a tilt of 2° to 18°."),
        (CautionCode.GRADUATIONS, "42 graduations of 3.175 mm counted from (10, 21) to (900, 25) px."),
        (
            CautionCode.PIXELS_DAMAGED,
            "The photo's file is damaged (premature end): part of the picture may be shifted or false.",
        ),
    ],
)
def test_a_buyer_gets_no_advice_on_taking_the_photo(code: StrEnum, text: str) -> None:
    assert worded(remark(code), Audience.BUYER) == text


@pytest.mark.parametrize(
    ("stretch", "said"),
    [("width", "others, the US cent is"), ("stretch", "the stretch seen of the US cent is")],
)
def test_a_size_by_the_others_says_what_was_measured(stretch: str, said: str) -> None:
    assert said in worded(remark(CautionCode.SIZE_BY_OTHERS, stretch=stretch, name="US cent"), Audience.BUYER)


def test_a_named_kind_and_a_family_are_told_as_such() -> None:
    wide = Rival(next(one for one in by_key().values() if one.family), 0.3, 0.71)
    text = worded(remark(CautionCode.IDENTITY, said=True, rivals=(wide,)), Audience.COMMAND)
    assert "is said to be" in text
    assert "every length is about 29.0 % shorter" in text
    assert text.endswith("--object id1.")
    many = worded(remark(CautionCode.IDENTITY, rivals=RIVALS * 3), Audience.BUYER)
    assert "; 2 rarer sizes would do as well." in many


def test_one_that_naming_does_not_help_is_not_to_be_named() -> None:
    for audience in Audience:
        text = worded(remark(NoAnswerCode.OUTLINE_ODD, naming_helps=False), audience)
        assert "if the kind is right" not in text


SOURCES = [path for top in ("calibration", "measure") for path in sorted((ROOT / top).rglob("*.py"))]


def told_facts() -> list[tuple[str, set[str]]]:
    """Return what each place in the code tells: the name of its code, and the facts that go with it."""
    found = []
    for path in SOURCES:
        for node in ast.walk(ast.parse(path.read_text("utf-8"))):
            if not (isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute) and node.args):
                continue
            if isinstance(node.func.value, ast.Name) and node.func.value.id in ("Caution", "NoAnswer"):
                code = node.args[0]
                facts = {keyword.arg for keyword in node.keywords if keyword.arg}
                found += [(code.attr, facts)] if isinstance(code, ast.Attribute) else []
    return found


def needed(code: StrEnum) -> set[str]:
    """Return the facts without which a code can't be worded for somebody."""
    names = set()
    whole = remark(code)
    for name in whole:
        bare = replace(whole, facts=tuple(pair for pair in whole.facts if pair[0] != name))
        for audience in Audience:
            try:
                worded(bare, audience)
            except KeyError:
                names.add(name)
    return names


def test_each_place_tells_the_facts_that_its_wording_needs_and_no_others() -> None:
    places = told_facts()
    by_name = {code.name: code for code in CODES}
    assert len(places) > 30
    assert [(name, facts) for name, facts in places if facts != needed(by_name[name])] == []


@pytest.mark.parametrize("audience", Audience)
@pytest.mark.parametrize(
    ("facts", "code"),
    [
        ({"vague": True, "confidence": 0.9}, NoAnswerCode.ANY_RECTANGLE),
        ({"aspect_error": 0.03}, NoAnswerCode.OUTLINE_ODD),
        ({"support": (1.0, 0.5, 1.0, 1.0)}, NoAnswerCode.OUTLINE_COVERED),
        ({}, NoAnswerCode.OUTLINE_UNCLEAR),
    ],
    ids=str,
)
def test_a_doubtful_outline_can_be_worded(
    audience: Audience, facts: dict[str, Any], code: NoAnswerCode
) -> None:
    corners = np.array([[0.0, 0.0], [856.0, 0.0], [856.0, 540.0], [0.0, 540.0]])
    card = FoundCard(
        ID1, corners, np.eye(8), **({"confidence": 0.5, "support": (1.0,) * 4} | facts), accepted=False
    )
    why = why_none(card, CARD_OBJECTS)
    assert why.code == code
    assert set(why) - set(OUTLINE) == needed(code) - set(OUTLINE)
    assert "The outline most like any known card or sheet" in worded(why, audience)


def test_what_reads_the_same_is_told_once() -> None:
    twice = [Caution.of(CautionCode.STEEP_PLANE, tilt_deg=tilt) for tilt in (51.61, 51.62, 49.0)]
    assert len(set(twice)) == 3
    told = all_worded(twice, Audience.COMMAND)
    assert [text.split(" degrees")[0][-2:] for text in told] == ["52", "49"]


@pytest.mark.parametrize("code", LengthCautionCode)
def test_what_a_record_tells_is_worded_anew_for_the_page(code: LengthCautionCode) -> None:
    told = worded(remark(code), Audience.COMMAND)
    assert reworded([told, "of another program"], Audience.PAGE) == (
        worded(remark(code), Audience.PAGE),
        "of another program",
    )


@pytest.mark.parametrize("code", [CautionCode.CROPPED, CautionCode.DIGITAL_ZOOM])
def test_what_a_record_tells_of_a_camera_is_read_back(code: CautionCode) -> None:
    entry = camera_entry(replace(CAMERA, cautions=(Caution.of(code),)))
    assert entry["cautions"] == [worded(remark(code), Audience.COMMAND)]
    assert camera_from_entry(json.loads(json.dumps(entry)), "here").cautions == (Caution.of(code),)


def test_what_another_program_told_of_a_camera_is_told_as_it_stands() -> None:
    entry = {**camera_entry(CAMERA), "cautions": ["The lens was wet."]}
    assert all_worded(camera_from_entry(entry, "here").cautions, Audience.PAGE) == ("The lens was wet.",)


def test_an_answer_needs_no_reason() -> None:
    assert reason_worded(None, Audience.COMMAND) is None
    assert reason_worded(NoAnswer.of(NoAnswerCode.NO_EDGE), Audience.PAGE) == "no clear edge near the point"
