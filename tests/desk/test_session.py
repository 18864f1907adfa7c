"""The desk without a page: what is asked, measured, undone and kept."""

import json
import math
import re
import shlex
from pathlib import Path
from typing import Any

import pytest

from calibration.errors import CalibrationError
from measure.desk.library import folders
from measure.desk.session.session import Session
from measure.errors import MeasureError
from measure.kinds.span import measure_span
from measure.record.file import read_specimen
from references.errors import SheetError
from tests.desk.waiting import wait_for
from tests.synthetic.from_above import BAR_MM, bar_ends, plain_photo

REFUSALS = (CalibrationError, MeasureError, SheetError)


def add_bar(session: Session, **more: Any) -> str:
    ask = {"do": "add", "kind": "span", "photo": "photo-1", "name": "Bar", "clicks_px": bar_ends(), **more}
    return str(session.handle(ask)["id"])


def text_of(session: Session, key: str = "mm") -> str:
    return str(session.state()["measurements"][-1]["text"][key])


def test_the_card_is_found_and_described_in_words(untouched: Session) -> None:
    session = untouched
    shot = session.state()["photos"][0]
    assert shot["card"]["kind"] == "id1"
    assert "Bank card" in shot["card"]["headline"]
    facts = dict(shot["card"]["facts"])
    assert facts["Seen from"].startswith("straight above")
    assert re.fullmatch(r"about \d+\u00a0±\u00a0\d+ mm above the bank card", facts["Camera"])
    side = re.search(r"([\d.]+)\u00a0±\u00a0([\d.]+) mm", facts["One pixel"])
    assert side is not None
    # The photo has five pixels to a millimetre.
    assert abs(float(side[1]) - 0.2) < float(side[2]) < 0.01


def test_no_kind_of_card_says_its_size_twice(untouched: Session) -> None:
    offered = [f"{one['name']}, {one['size']}" for one in untouched.state()["card_kinds"]]
    assert "Bank card, 85.6 × 53.98 mm" in offered
    assert len(set(offered)) == len(offered)
    assert all(len(re.findall(r"\d[\d.]* [x×] \d", text)) == 1 for text in offered)


def test_a_record_is_opened_again_by_a_line_that_a_shell_takes(tmp_path: Path) -> None:
    record = tmp_path / "Aunt's ferry" / "toy.specimen.json"
    assert shlex.split(folders.reopening(record))[1:] == ["desk", "--specimen", str(record)]


def test_the_card_can_be_measured_by(untouched: Session) -> None:
    session = untouched
    wait_for(lambda: session.state()["photos"][0]["grade"])
    assert session.state()["photos"][0]["grade"]["mark"] in ("good", "fair")


def test_cautions_and_budget_speak_the_words_of_the_fields(session: Session) -> None:
    add_bar(session, standoff_mm=10.0, standoff_std_mm=4.0)
    (entry,) = session.state()["measurements"]
    assert entry["budget"][0]["source"] == "its height above the card"
    assert any("its height above the card: measure it" in line for line in entry["cautions"])
    assert "stand-off" not in json.dumps(entry)


def test_a_length_is_the_cores(session: Session) -> None:
    add_bar(session, snap=False)
    entry = session.specimen.measurements[0]
    scale = session.scale(session.specimen.photos[0])
    assert scale is not None
    stds = entry.click_std_px
    assert max(stds) < 1.0  # the picture is small
    length = measure_span(scale.plane, bar_ends(), standoff_mm=0.0, standoff_std_mm=1.0, click_std_px=stds)
    assert entry.result is not None
    assert entry.result.length_mm == pytest.approx(length.value_mm, abs=1e-9)
    assert entry.result.expanded_uncertainty_mm == pytest.approx(length.expanded_uncertainty_mm, rel=1e-9)
    # The bar was drawn 100 mm long.
    assert abs(length.value_mm - BAR_MM) < length.expanded_uncertainty_mm


def test_snapping_moves_a_rough_click_to_the_edge(session: Session) -> None:
    (x0, y0), end = bar_ends()
    add_bar(session, clicks_px=[[x0 + 1.8, y0], end], snap=True)
    entry = session.specimen.measurements[0]
    assert entry.clicks_px[0] == (x0 + 1.8, y0)
    assert abs(entry.used_px[0][0] - x0) < 3.0 * entry.click_std_px[0] < 1.8
    session.handle({"do": "change", "id": entry.id, "snap": False})
    assert session.specimen.measurements[0].used_px[0] == (x0 + 1.8, y0)


def test_a_drag_is_tried_without_being_recorded(session: Session) -> None:
    name = add_bar(session, snap=False)
    before = session.specimen
    (x0, y0), (x1, y1) = bar_ends()
    longer = session.handle({"do": "try", "id": name, "clicks_px": [[x0, y0], [x1 + 50.0, y1]]})
    assert float(longer["text"]["value"]) == pytest.approx(BAR_MM + 10.0, abs=1.0)
    assert session.specimen is before


def test_a_stand_off_makes_the_same_picture_a_shorter_thing(session: Session) -> None:
    name = add_bar(session)
    flat = session.specimen.measurements[0].result
    session.handle({"do": "change", "id": name, "standoff_mm": [40.0]})
    raised = session.specimen.measurements[0].result
    assert flat is not None
    assert raised is not None
    assert raised.length_mm < flat.length_mm


def test_undo_and_redo_bring_back_clicks_and_numbers(session: Session) -> None:
    name = add_bar(session, snap=False)
    first = text_of(session)
    session.handle({"do": "change", "id": name, "clicks_px": [[100, 100], [200, 200]]})
    second = text_of(session)
    session.handle({"do": "delete", "id": name})
    assert session.state()["measurements"] == []
    session.handle({"do": "undo"})
    assert text_of(session) == second
    session.handle({"do": "undo"})
    assert text_of(session) == first
    session.handle({"do": "redo"})
    assert text_of(session) == second


def test_a_moved_corner_changes_every_length_of_the_photo(session: Session) -> None:
    add_bar(session)
    before = session.specimen.measurements[0].result
    corners = [list(point) for point in session.specimen.photos[0].reference.corners_px]  # type: ignore[union-attr]
    corners[0][0] -= 12.0
    tried = session.handle({"do": "try corners", "photo": "photo-1", "corners_px": corners})
    session.handle({"do": "corners", "photo": "photo-1", "corners_px": corners})
    after = session.specimen.measurements[0].result
    assert before is not None
    assert after is not None
    assert abs(after.length_mm - before.length_mm) > 0.1
    assert tried["lengths"]["m1"]["mm"] == text_of(session)
    reference = session.specimen.photos[0].reference
    assert reference is not None
    assert reference.source == "by hand"


def test_pulling_the_outline_to_the_edges_undoes_a_slip(session: Session) -> None:
    found = session.specimen.photos[0].reference
    assert found is not None
    assert found.corners_px is not None
    off = [[x + 1.5, y - 1.2] for x, y in found.corners_px]
    session.handle({"do": "corners", "photo": "photo-1", "corners_px": off})
    session.handle({"do": "fit", "photo": "photo-1"})
    fitted = session.specimen.photos[0].reference
    assert fitted is not None
    assert fitted.corners_px is not None
    for given, wanted in zip(fitted.corners_px, found.corners_px, strict=True):
        assert math.dist(given, wanted) < 0.3


def test_another_kind_rescales_the_lengths(session: Session) -> None:
    add_bar(session)
    before = session.specimen.measurements[0].result
    session.handle({"do": "kind", "photo": "photo-1", "kind": "171.2x107.96"})
    wait_for(lambda: session.specimen.photos[0].reference.width_mm > 100)  # type: ignore[union-attr]
    after = session.specimen.measurements[0].result
    assert before is not None
    assert after is not None
    assert after.length_mm == pytest.approx(2 * before.length_mm, rel=0.01)


def test_a_photo_without_a_card_takes_corners_by_hand(empty: Session, tmp_path: Path) -> None:
    empty.open_path(plain_photo(tmp_path / "bare.jpg", card=False))
    wait_for(lambda: empty.state()["photos"] and empty.state()["photos"][0]["why"])
    ask = {"do": "corners", "photo": "photo-1", "fit": True, "kind": "100x16"}
    empty.handle({**ask, "corners_px": [[299.5, 599.5], [799.5, 599.5], [799.5, 679.5], [299.5, 679.5]]})
    wait_for(lambda: empty.state()["photos"][0]["card"])
    assert empty.state()["photos"][0]["card"]["headline"].endswith("set by hand")


def test_notes_and_lengths_lead_to_a_verdict(session: Session) -> None:
    session.handle({"do": "observe", "part": "lifeboat", "feature": "screws", "value": 5})
    session.handle({"do": "observe", "part": "paddle-wheel", "feature": "axle", "value": "through-rod"})
    wait_for(lambda: session.state()["verdict"])
    verdict = session.state()["verdict"]
    assert verdict["chances"][0]["id"] == "first"
    assert verdict["reasons"]
    add_bar(session, part="bow-plate", feature="width")
    wait_for(lambda: any(part["bands"] for part in (session.state()["verdict"] or {}).get("parts", [])))
    band = next(p for p in session.state()["verdict"]["parts"] if p["bands"])["bands"][0]
    assert band["low"] < band["u_low"] < band["value"] < band["u_high"] < band["high"]
    assert {row["mark"] for row in band["rows"]} == {"outside", "absent"}


def test_a_note_is_cleared_and_a_part_can_be_missing(session: Session) -> None:
    session.handle({"do": "observe", "part": "lifeboat", "feature": "screws", "value": 5})
    session.handle({"do": "observe", "part": "lifeboat", "feature": "screws", "state": "clear"})
    session.handle({"do": "observe", "part": "bow-plate", "state": "not present"})
    assert [(one.part, one.state) for one in session.specimen.observations] == [("bow-plate", "not present")]


def test_everything_is_kept_as_it_happens(session: Session, tmp_path: Path) -> None:
    add_bar(session)
    session.handle({"do": "observe", "part": "lifeboat", "feature": "screws", "value": 4})
    session.handle({"do": "name", "name": "A toy", "note": "from a fair"})
    shown = session.state()
    wait_for(lambda: session.saved and not session.judging)
    again = Session(tmp_path, tmp_path / "toy.specimen.json")
    try:
        back = again.state()
        same = ("name", "note", "observations", "sheet")
        assert [back[key] for key in same] == [shown[key] for key in same]
        assert back["measurements"][0]["text"]["mm"] == shown["measurements"][0]["text"]["mm"]
        wait_for(lambda: again.photo("photo-1"))
        wait_for(lambda: again.state()["photos"][0]["grade"])
        assert again.state()["measurements"][0]["text"]["mm"] == shown["measurements"][0]["text"]["mm"]
    finally:
        again.close()
    assert (tmp_path / "toy.specimen.json.bak").is_file()


def test_a_measurement_renamed_while_its_photo_is_missing_keeps_its_length(
    session: Session, tmp_path: Path
) -> None:
    add_bar(session)
    wait_for(lambda: session.saved)
    (tmp_path / "plain.jpg").unlink()
    again = Session(tmp_path, tmp_path / "toy.specimen.json")
    try:
        before = again.specimen.measurements[0].result
        again.handle({"do": "change", "id": "m1", "name": "The bar"})
        assert before is not None
        assert again.specimen.measurements[0].result == before
    finally:
        again.close()


def test_another_file_under_the_photos_name_is_reported(session: Session, tmp_path: Path) -> None:
    add_bar(session)
    wait_for(lambda: session.saved)
    plain_photo(tmp_path / "plain.jpg", card=False)
    again = Session(tmp_path, tmp_path / "toy.specimen.json")
    try:
        wait_for(lambda: again.state()["photos"][0]["stage"] == "ready")
        assert again.state()["photos"][0]["changed"]
    finally:
        again.close()


def test_the_other_kinds_measure_too(session: Session) -> None:
    x0, y0, x1, y1 = 300, 600, 800, 680
    sides = [[x0 - 0.5, y0 + 15.0], [x0 - 0.5, y1 - 15.0], [x1 - 0.5, y0 + 15.0], [x1 - 0.5, y1 - 15.0]]
    gap = session.handle({"do": "add", "kind": "gap", "photo": "photo-1", "snap": True, "clicks_px": sides})
    assert float(gap["text"]["value"]) == pytest.approx(BAR_MM, abs=0.7)
    span = add_bar(session)
    diff = session.handle(
        {"do": "add", "kind": "difference", "photo": "photo-1", "of": [gap["id"], span], "clicks_px": []}
    )
    assert abs(float(diff["text"]["value"])) < 0.3
    entry = session.specimen.measurements[-1].result
    one, other = (each.result for each in session.specimen.measurements[:2])
    assert entry is not None
    assert one is not None
    assert other is not None
    # What both share cancels; what is left are the clicks, each length's own.
    apart = math.hypot(one.standard_uncertainty_mm, other.standard_uncertainty_mm)
    clicks = math.hypot(*(part.u_mm for each in (one, other) for part in each.budget if not part.shared))
    assert entry.standard_uncertainty_mm < 0.95 * apart
    assert entry.standard_uncertainty_mm == pytest.approx(clicks, rel=0.05)


def test_lengths_at_different_heights_share_no_error_of_height(session: Session) -> None:
    ids = [add_bar(session, standoff_mm=[height]) for height in (0.0, 10.0)]
    ask = {"do": "add", "kind": "difference", "photo": "photo-1", "clicks_px": [], "of": ids}
    session.handle({**ask, "same_standoff": True})
    assert session.specimen.measurements[-1].extra["same_standoff"] is False


@pytest.mark.parametrize(
    "ask",
    [
        {},
        {"do": "no such thing"},
        {"do": ["add"]},
        {"do": "add", "photo": "photo-9", "clicks_px": []},
        {"do": "add", "photo": "photo-1", "clicks_px": [[1, 2]] * 65},
        {"do": "add", "photo": "photo-1", "clicks_px": [[1, float("nan")], [2, 3]]},
        {"do": "add", "photo": "photo-1", "clicks_px": [[1, 1e999], [2, 3]]},
        {"do": "add", "photo": "photo-1", "clicks_px": [[-500, 10], [2, 3]]},
        {"do": "add", "photo": "photo-1", "clicks_px": [["1", 2], [2, 3]]},
        {"do": "add", "photo": "photo-1", "kind": "volume", "clicks_px": []},
        {"do": "change", "id": "m7", "name": "x"},
        {"do": "corners", "photo": "photo-1", "corners_px": [[1, 1], [2, 2]]},
        {"do": "kind", "photo": "photo-1", "kind": "../etc/passwd"},
        {"do": "sheet", "sheet": "/etc/passwd"},
        {"do": "sheet", "sheet": "../../secret.toml"},
        {"do": "sample", "sample": "../x"},
        {"do": "record", "record": "/etc/passwd"},
        {"do": "observe", "part": "lifeboat", "feature": "screws", "value": -3},
        {"do": "observe", "part": "lifeboat", "feature": "screws", "value": 1.5},
        {"do": "try", "draft": 7},
    ],
)
def test_what_makes_no_sense_is_refused_and_changes_nothing(untouched: Session, ask: dict[str, Any]) -> None:
    before = untouched.specimen
    with pytest.raises(REFUSALS):
        untouched.handle(ask)
    assert untouched.specimen is before


def test_a_measurement_that_cannot_be_made_says_why(session: Session) -> None:
    answer = session.handle(
        {"do": "add", "photo": "photo-1", "clicks_px": [[10, 10], [10, 10]], "snap": False}
    )
    assert "coincide" in answer["error"]
    assert session.specimen.measurements[0].result is None
    assert "coincide" in session.state()["measurements"][0]["trouble"]


def test_an_unsaved_record_says_so(session: Session, tmp_path: Path) -> None:
    wait_for(lambda: session.saved)
    session.record = tmp_path / "plain.jpg" / "no-folder.specimen.json"
    add_bar(session, snap=False)
    wait_for(lambda: session.save_trouble)
    assert session.state()["saved"]["mark"] == "wrong"


def test_a_photo_through_the_page_lands_beside_the_record(empty: Session, photo_bytes: bytes) -> None:
    empty.take_photo("../../a photo<>.jpg", photo_bytes)
    wait_for(lambda: empty.specimen.photos)
    record = empty.record
    assert record is not None
    assert [path.name for path in record.parent.glob("*.jpg")] == ["a photo_.jpg"]
    with pytest.raises(CalibrationError):
        empty.take_photo("x.jpg", b"no photo")


def test_the_state_is_plain_json(session: Session) -> None:
    add_bar(session)
    json.dumps(session.state(), allow_nan=False)
    json.dumps(session.sheet_view(), allow_nan=False)


def test_the_record_on_disk_is_one_the_commands_read(session: Session, tmp_path: Path) -> None:
    add_bar(session, part="bow-plate", feature="width")
    session.handle({"do": "observe", "part": "lifeboat", "feature": "screws", "value": 4})
    wait_for(lambda: session.specimen.verdict is not None and session.saved)
    read = read_specimen(tmp_path / "toy.specimen.json")
    assert read.measurements[0].result is not None
    assert read.verdict is not None
    assert read.photos[0].camera is not None
