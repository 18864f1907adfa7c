"""Each toy has a record of its own: what comes after one was put away does not get into its record."""

import threading
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from measure.desk.photos import inspection
from measure.desk.session.session import Session
from measure.desk.state.history import History
from measure.errors import MeasureError
from measure.record.file import read_specimen
from references import shipped_text
from tests.desk.waiting import wait_for
from tests.synthetic.from_above import bar_ends, plain_photo


@pytest.fixture
def first(session: Session, tmp_path: Path) -> Iterator[Session]:
    """A desk with the first toy: named, measured, noted and saved."""
    session.handle({"do": "name", "name": "The first toy"})
    session.handle({"do": "add", "photo": "photo-1", "name": "Bar", "clicks_px": bar_ends()})
    session.handle({"do": "observe", "part": "lifeboat", "feature": "screws", "value": 5})
    settled(session)
    yield session
    settled(session)
    # However the desk went on, the first toy's record is complete.
    kept = read_specimen(tmp_path / "toy.specimen.json")
    assert (kept.name, len(kept.photos), len(kept.measurements), len(kept.observations)) == (
        *("The first toy", 1, 1, 1),
    )


def settled(session: Session) -> None:
    wait_for(lambda: not session.judging and session.saved)


def take_off(session: Session) -> None:
    for shot in session.specimen.photos:
        session.handle({"do": "remove photo", "photo": shot.id})


def bring(session: Session, data: bytes, name: str = "other.jpg") -> None:
    count = len(session.specimen.photos)
    session.take_photo(name, data)
    wait_for(lambda: len(session.specimen.photos) > count and session.specimen.photos[-1].reference)
    settled(session)


def sample(session: Session, place: int) -> str:
    wait_for(lambda: not session.opening())
    offered = session.state()["samples"][place]
    session.handle({"do": "sample", "sample": offered["handle"]})
    wait_for(lambda: not session.opening() and session.specimen.photos)
    return str(offered["name"])


def test_photos_after_the_last_was_taken_off_begin_a_record(
    first: Session, tmp_path: Path, photo_bytes: bytes
) -> None:
    before = (tmp_path / "toy.specimen.json").read_bytes()
    take_off(first)
    shown = first.state()
    assert (shown["name"], shown["photos"], shown["measurements"], shown["observations"]) == ("", [], [], [])
    assert shown["record"] is None
    assert shown["left"] == {"name": "The first toy", "record": str(tmp_path / "toy.specimen.json")}
    bring(first, photo_bytes)
    assert first.record is not None
    assert first.record.parent.parent == tmp_path / "cardspan-specimens"
    assert first.state()["record"] == str(first.record)
    assert str(first.record) in first.state()["notices"][-1]["text"]
    kept = read_specimen(first.record)
    assert (kept.name, len(kept.photos), kept.measurements, kept.observations) == ("Other", 1, (), ())
    assert (tmp_path / "toy.specimen.json").read_bytes() == before


def test_the_sheet_stays_on_the_desk_for_the_next_toy(first: Session, photo_bytes: bytes) -> None:
    take_off(first)
    bring(first, photo_bytes)
    assert first.record is not None
    assert read_specimen(first.record).sheet == "saltmarsh-ferry"


def test_a_sheet_of_ones_own_is_found_from_the_next_record(
    session: Session, photo_bytes: bytes, tmp_path: Path
) -> None:
    session.take_sheet("mine.toml", shipped_text("saltmarsh-ferry").encode())
    take_off(session)
    bring(session, photo_bytes)
    record = session.record
    assert record is not None
    kept = read_specimen(record)
    assert kept.sheet == "../../mine.toml"
    session.close()
    again = Session(tmp_path, record)
    assert again.desk.sheet is not None
    again.close()


def test_undo_brings_the_toy_and_its_record_back(first: Session, tmp_path: Path) -> None:
    before = first.specimen
    take_off(first)
    first.handle({"do": "undo"})
    assert first.specimen == before
    assert first.record == tmp_path / "toy.specimen.json"
    assert first.state()["left"] is None
    first.handle({"do": "redo"})
    assert first.record is None
    first.handle({"do": "undo"})
    first.handle({"do": "name", "note": "went on"})
    settled(first)
    assert read_specimen(tmp_path / "toy.specimen.json").note == "went on"


def test_undo_does_not_reach_behind_the_beginning_of_a_record(first: Session, photo_bytes: bytes) -> None:
    take_off(first)
    bring(first, photo_bytes)
    assert first.state()["undo"] is None
    first.handle({"do": "undo"})
    assert first.specimen.name == "Other"


def test_of_several_photos_taken_off_one_by_one_all_stay_in_the_record(
    session: Session, tmp_path: Path, photo_bytes: bytes
) -> None:
    bring(session, photo_bytes + b"x", "second.jpg")
    session.handle({"do": "add", "photo": "photo-1", "name": "Bar", "clicks_px": bar_ends()})
    settled(session)
    before = session.specimen
    take_off(session)
    settled(session)
    assert read_specimen(tmp_path / "toy.specimen.json").photos == before.photos
    assert len(read_specimen(tmp_path / "toy.specimen.json").measurements) == 1


def test_a_name_or_note_after_the_last_photo_belongs_to_the_next_toy(first: Session) -> None:
    take_off(first)
    first.handle({"do": "name", "name": "The next toy"})
    settled(first)
    assert first.record is not None
    assert read_specimen(first.record).name == "The next toy"


def test_another_sample_begins_a_record(empty: Session, tmp_path: Path) -> None:
    one = sample(empty, 0)
    empty.handle({"do": "observe", "part": "lifeboat", "feature": "screws", "value": 5})
    settled(empty)
    record, photos = empty.record, len(empty.specimen.photos)
    assert record is not None
    other = sample(empty, 1)
    settled(empty)
    assert (empty.specimen.name, empty.specimen.observations) == (other, ())
    assert empty.record != record
    kept = read_specimen(record)
    assert (kept.name, len(kept.photos), len(kept.observations)) == (one, photos, 1)
    assert {path.parent for path in (tmp_path / "cardspan-specimens").rglob("*.jpg")} == {
        record.parent,
        empty.record.parent,  # type: ignore[union-attr]
    }


def test_a_sample_beside_ones_own_toy_begins_a_record(first: Session) -> None:
    name = sample(first, 0)
    assert (first.specimen.name, first.specimen.measurements) == (name, ())


def test_the_toy_that_was_put_away_can_be_taken_up_again(
    first: Session, photo_bytes: bytes, tmp_path: Path
) -> None:
    take_off(first)
    bring(first, photo_bytes)
    second = first.record
    assert second is not None
    (offered,) = [one for one in first.state()["records"] if one["name"] == "The first toy"]
    first.handle({"do": "record", "record": offered["handle"]})
    assert first.record == tmp_path / "toy.specimen.json"
    assert first.state()["name"] == "The first toy"
    assert read_specimen(second).name == "Other"


def test_what_is_seen_late_of_the_first_toy_does_not_get_into_the_second(
    empty: Session, tmp_path: Path, photo_bytes: bytes, monkeypatch: pytest.MonkeyPatch
) -> None:
    real: Callable[..., Any] = inspection.examine
    looking, may_end = threading.Event(), threading.Event()

    def slow(photo: Any, shot: Any, key: Any) -> Any:
        seen = real(photo, shot, key)
        looking.set()
        may_end.wait(20.0)
        return seen

    monkeypatch.setattr(inspection, "examine", slow)
    empty.take_photo("one.jpg", photo_bytes)
    wait_for(looking.is_set)
    take_off(empty)
    monkeypatch.setattr(
        inspection, "examine", lambda photo, shot, key: inspection.Examination(reason="nothing here")
    )
    empty.take_photo("two.jpg", plain_photo(tmp_path / "bare.jpg", card=False).read_bytes())
    wait_for(lambda: [one.file for one in empty.specimen.photos] == ["two.jpg"])
    may_end.set()
    wait_for(lambda: empty.state()["photos"][0]["why"])
    assert empty.specimen.photos[0].reference is None
    assert empty.state()["photos"][0]["why"] == "nothing here"


def test_a_toy_stays_while_a_photo_of_it_is_still_being_opened(
    session: Session, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(session, "desk", replace(session.desk, pending=("late.jpg",)))
    handle = session.state()["samples"][0]["handle"]
    with pytest.raises(MeasureError, match="still being opened"):
        session.handle({"do": "sample", "sample": handle})
    assert session.specimen.photos


def test_a_new_record_does_not_take_the_place_of_one_that_is_there(empty: Session, tmp_path: Path) -> None:
    photo = plain_photo(tmp_path / "plain.jpg")
    (tmp_path / "plain.specimen.json").write_text("of another program")
    empty.open_path(photo)
    wait_for(lambda: empty.specimen.photos)
    settled(empty)
    assert empty.record == tmp_path / "plain-2.specimen.json"
    assert (tmp_path / "plain.specimen.json").read_text() == "of another program"


def test_a_history_knows_the_state_before_a_row_of_like_steps() -> None:
    history = History((0,))
    for value, name in enumerate(["b", "a", "b", "b"], 1):
        history = history.push(value, name)
    assert history.before("b") == 2
    assert history.before("a") == 4
