"""Whatever is said to the desk, in whatever order: `update` and `view`, without a disk or a page."""

import ast
import json
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from measure.desk.messages import page, tasks, workers
from measure.desk.state import Desk, Examination, Reading, Settled, Standing, Surroundings
from measure.desk.update import update
from measure.desk.update.common import committed
from measure.desk.view import ScaleViews, page_json
from measure.errors import MeasureError
from measure.record import BudgetEntry, MeasurementEntry, ReferenceEntry, ResultEntry, Specimen
from measure.redo import recorded_length

ROOT = Path(__file__).parent.parent.parent / "measure" / "desk"
CLICKS = ((10.0, 10.0), (90.0, 10.0))
RESULT = ResultEntry(80.0, 0.3, 0.6, 1.96, (BudgetEntry("click", 0.3),))


def measured(task: tasks.Measure) -> workers.Measured:
    """Give each measurement a length, as the workers do."""
    readings, entries = {}, []
    for one in task.specimen.measurements:
        entry = one if one.result is not None else _filled(one)
        entries.append(entry)
        readings[one.id] = Settled(Reading(entry, recorded_length(entry), cautions=("Blurred.",)), None, True)
    same = all(a is b for a, b in zip(entries, task.specimen.measurements, strict=True))
    after = task.specimen if same else Specimen(**{**_fields(task.specimen), "measurements": tuple(entries)})
    return workers.Measured(after, readings, {}, task.quiet)


def _fields(one: object) -> dict[str, object]:
    return {name: getattr(one, name) for name in one.__dataclass_fields__}  # type: ignore[attr-defined]


def _filled(one: MeasurementEntry) -> MeasurementEntry:
    return MeasurementEntry(**{**_fields(one), "result": RESULT, "used_px": one.clicks_px})  # type: ignore[arg-type]


def answered(task: object) -> object:
    """Return what a worker says that does everything well and at once; None where it has nothing to say."""
    answers: dict[type, Callable[[Any], object]] = {
        tasks.Hear: lambda task: task.message,
        tasks.Measure: measured,
        tasks.PlaceRecord: lambda task: workers.RecordPlaced("/toy", task.then),
        tasks.BeginRecord: lambda task: workers.RecordBegun("/next", None, "A new record begins.", task.then),
        tasks.LeaveWhole: lambda task: workers.Cleared(task.whole, None),
        tasks.OpenPictures: lambda task: workers.PicturesSeen(
            {path: Standing("h", width_px=100, height_px=80) for path in task.paths}
        ),
    }
    return answers[type(task)](task) if type(task) in answers else None


def said(desk: Desk, message: object, at_s: float = 0.0) -> Desk:
    """Return what a message leads to."""
    desk, wanted = update(desk, message, at_s)
    for task in wanted:
        told = answered(task)
        if told is not None:
            desk = said(desk, told, at_s)
    return desk


def with_photo() -> Desk:
    """Return a desk with a photo that is ready and searched in vain."""
    desk = said(Desk(), page.OpenPhoto(Path("/toy/a.jpg")))
    desk = said(desk, workers.PictureChanged("/toy/a.jpg", Standing("h", "ready", None, 100, 80, "0" * 64)))
    return said(desk, workers.Examined("photo-1", desk.laid, Examination(reason="No card."), None, True))


IDS = st.sampled_from(["m1", "m2", "m3", "m9"])
PHOTOS = st.sampled_from(["photo-1", "photo-1", "photo-9"])
CHANGES = st.builds(
    page.Changes,
    clicks_px=st.sampled_from([None, CLICKS, ((20.0, 5.0), (500.0, 5.0))]),
    name=st.sampled_from([None, "", "Bar"]),
    standoff_mm=st.sampled_from([None, (0.0,), (5.0,)]),
)
DRAFTS = st.builds(
    page.Draft,
    kind=st.sampled_from(["span", "round"]),
    photo=PHOTOS,
    part=st.sampled_from([None, "bow"]),
    changes=CHANGES,
)
MESSAGES = st.one_of(
    st.builds(page.Add, DRAFTS),
    st.builds(page.Change, IDS, CHANGES, st.booleans()),
    st.builds(page.Delete, IDS),
    st.builds(page.Rename, st.sampled_from([None, "", "Ferry"]), st.sampled_from([None, "", "old"])),
    st.builds(
        page.Observe,
        st.just("bow"),
        st.none(),
        st.sampled_from([None, 3]),
        st.sampled_from(["seen", "clear"]),
    ),
    st.builds(page.RemovePhoto, PHOTOS),
    st.builds(page.SetCorners, PHOTOS, st.just(((1.0, 1.0), (60.0, 1.0), (60.0, 40.0), (1.0, 40.0)))),
    st.builds(page.TurnCard, PHOTOS),
    st.builds(page.FindCard, PHOTOS),
    st.builds(page.OpenPhoto, st.sampled_from([Path("/toy/a.jpg"), Path("/toy/b.jpg")])),
    st.builds(workers.SearchEnded, PHOTOS, st.integers(0, 2)),
    st.builds(workers.Told, st.text(max_size=5)),
    st.just(page.Undo()),
    st.just(page.Redo()),
)


def accepted(desk: Desk, message: object, at_s: float) -> Desk:
    """Return what a message leads to; what is refused leaves the desk as it was."""
    try:
        return said(desk, message, at_s)
    except MeasureError:
        return desk


@settings(max_examples=60, deadline=None)
@given(st.lists(MESSAGES, max_size=25))
def test_no_measurement_is_lost_but_by_being_taken_off(messages: list[object]) -> None:
    desk = with_photo()
    for number, message in enumerate(messages):
        after = accepted(desk, message, 10.0 * number)
        gone = {one.id for one in desk.specimen.measurements} - {
            one.id for one in after.specimen.measurements
        }
        if isinstance(message, page.Delete):
            assert gone <= {message.id}
        elif not isinstance(message, page.RemovePhoto | page.Undo | page.Redo):
            # What comes after all photos were taken off begins a record of its own.
            assert not gone or after.laid > desk.laid
        desk = after


@settings(max_examples=60, deadline=None)
@given(st.lists(MESSAGES, max_size=20))
def test_undo_returns_the_very_state(messages: list[object]) -> None:
    desk = with_photo()
    for number, message in enumerate(messages):
        after = accepted(desk, message, 10.0 * number)
        if after.history.place == desk.history.place + 1 and not isinstance(message, page.Redo):
            back = said(after, page.Undo())
            assert back.specimen is desk.specimen
            assert said(back, page.Redo()).specimen == after.specimen
        desk = after


@settings(max_examples=60, deadline=None)
@given(st.lists(MESSAGES, max_size=20))
def test_a_view_can_always_be_sent_and_warns_only_of_what_is_there(messages: list[object]) -> None:
    desk = with_photo()
    for number, message in enumerate(messages):
        desk = accepted(desk, message, 10.0 * number)
        shown, faults = page_json(desk, Surroundings(), ScaleViews())
        assert faults == ()
        json.dumps(shown, allow_nan=False)
        assert [one["id"] for one in shown["measurements"]] == [one.id for one in desk.specimen.measurements]
        for photo in shown["photos"]:
            # A warning goes with its cause: without a scale there is nothing to be warned of.
            assert photo["cautions"] == [] or photo["scale"] is not None


def test_what_was_seen_of_a_record_put_away_counts_for_nothing() -> None:
    desk = with_photo()
    late = workers.Examined("photo-1", desk.laid + 1, Examination(reason="Of another toy."), None, True)
    assert said(desk, late) is desk


def test_a_late_verdict_on_an_earlier_state_counts_for_nothing() -> None:
    desk = with_photo()
    late = workers.Judged(desk.specimen, None, "late")
    assert said(said(desk, page.Rename("Ferry")), late).verdict_trouble is None


FORBIDDEN = {"threading", "time", "tempfile", "shutil", "subprocess", "socket", "concurrent", "asyncio"}
PURE = [
    path for room in ("state", "messages", "update", "view") for path in sorted((ROOT / room).glob("*.py"))
]


@pytest.mark.parametrize("path", PURE, ids=lambda path: f"{path.parent.name}/{path.name}")
def test_what_is_pure_reaches_no_disk_no_thread_and_no_clock(path: Path) -> None:
    tree = ast.parse(path.read_text("utf-8"))
    named = {alias.name for node in ast.walk(tree) if isinstance(node, ast.Import) for alias in node.names}
    for node in ast.walk(tree):
        if isinstance(node, ast.ImportFrom):
            named |= {str(node.module), *(f"{node.module}.{alias.name}" for alias in node.names)}
    assert not {name for name in named if name.split(".")[0] in FORBIDDEN}
    assert "pathlib.Path" not in named
    assert not {name for name in named if name.startswith(("measure.desk.effects", "measure.desk.library"))}


def card(kind: str, left_px: float, source: str = "found") -> ReferenceEntry:
    """A bank card's outline, 43 px wide, as it was found or marked."""
    corners = ((left_px, 10.0), (left_px + 43.0, 10.0), (left_px + 43.0, 37.0), (left_px, 37.0))
    return ReferenceEntry(kind, 85.6, 53.98, corners, None, 0.2, source, 0.9)


def with_three_cards() -> Desk:
    """Return a desk whose search found two cards beside the first, where one by hand was already."""
    desk = with_photo()
    marked = replace(desk.specimen.photos[0], also=(card("letter", 200.0, "by hand"),))
    desk, _ = committed(desk, replace(desk.specimen, photos=(marked,)), "a further card", 0.0)
    seen = Examination(card("id1", 0.0), also=(card("id1", 60.0), card("id1", 120.0)))
    return said(desk, workers.Examined("photo-1", desk.laid, seen, "id1", False))


def test_cards_found_beside_the_first_are_measured_by_with_those_by_hand() -> None:
    (shot,) = with_three_cards().specimen.photos
    assert [(one.kind, one.source) for one in shot.also] == [
        ("id1", "found"),
        ("id1", "found"),
        ("letter", "by hand"),
    ]


def test_what_the_first_is_said_to_be_holds_for_those_found_with_it_and_undo_takes_it_back() -> None:
    desk = with_three_cards()
    after = said(desk, page.SayKind("photo-1", "bridge"), 10.0)
    (shot,) = after.specimen.photos
    assert [one.kind for one in shot.also] == ["bridge", "bridge", "letter"]
    assert {(one.width_mm, one.height_mm) for one in shot.also[:2]} == {(88.9, 57.15)}
    assert all(one.said for one in shot.also[:2])
    assert said(after, page.Undo(), 20.0).specimen.photos == desk.specimen.photos


def test_another_search_replaces_what_was_found_and_keeps_what_was_marked() -> None:
    desk = with_three_cards()
    again = said(
        desk, workers.Examined("photo-1", desk.laid, Examination(card("id1", 1.0)), "id1", False), 10.0
    )
    (shot,) = again.specimen.photos
    assert [one.source for one in shot.also] == ["by hand"]
