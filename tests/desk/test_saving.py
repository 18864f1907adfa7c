"""What was done on the desk is saved, or told not to be and kept aside; and nothing of another's is lost."""

import json
import os
from pathlib import Path
from typing import Any

import pytest
from starlette.testclient import TestClient

from measure.desk.effects import keeper
from measure.desk.effects.latest import Latest
from measure.desk.messages import workers
from measure.desk.server.app import make_app
from measure.desk.session.session import Session
from measure.desk.update import common
from measure.desk.view import page
from measure.errors import MeasureError
from measure.record.file import read_specimen
from measure.record.specimen import Specimen
from tests.desk.conftest import opened
from tests.desk.waiting import wait_for
from tests.synthetic.from_above import bar_ends


@pytest.fixture(autouse=True)
def quick(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(keeper, "RETRY_S", 0.05)


def add_bar(session: Session) -> None:
    session.handle({"do": "add", "photo": "photo-1", "name": "Bar", "clicks_px": bar_ends()})


def settled(session: Session) -> None:
    wait_for(lambda: not session.judging and session.saved)


def saved(session: Session) -> dict[str, Any]:
    return dict(session.state()["saved"])


# ---- two on one record ----


def test_a_second_desk_on_a_record_is_told_and_both_keep_all(session: Session, tmp_path: Path) -> None:
    add_bar(session)
    settled(session)
    told: list[str] = []
    record = tmp_path / "toy.specimen.json"
    second = Session(tmp_path, record, say=told.append)
    try:
        moved = second.state()["moved"]
        assert "open in another desk" in moved["text"]
        assert "toy-2.specimen.json" in moved["text"]
        assert told == [moved["text"]]
        assert moved["open"] is None
        wait_for(lambda: second.photo("photo-1"))
        second.handle({"do": "name", "name": "By the second"})
        session.handle({"do": "name", "name": "By the first"})
        settled(second)
        settled(session)
        assert second.record == tmp_path / "toy-2.specimen.json"
        assert read_specimen(record).name == "By the first"
        kept = read_specimen(second.record)
        assert (kept.name, len(kept.measurements)) == ("By the second", 1)
    finally:
        second.close()
    assert session.state()["moved"] is None


def test_a_desk_that_was_closed_leaves_its_record_to_the_next(session: Session, tmp_path: Path) -> None:
    settled(session)
    session.close()
    again = Session(tmp_path, tmp_path / "toy.specimen.json")
    assert again.state()["moved"] is None
    assert again.record == tmp_path / "toy.specimen.json"
    again.close()
    assert not list(tmp_path.glob(".*"))


def test_two_new_records_of_one_name_are_two(tmp_path: Path, photo_bytes: bytes) -> None:
    first = opened(tmp_path, photo_bytes)
    second = opened(tmp_path, photo_bytes)
    settled(first)
    settled(second)
    assert [first.record, second.record] == [tmp_path / f"toy{n}.specimen.json" for n in ("", "-2")]
    first.close()
    second.close()


def changed_by_another(record: Path) -> bytes:
    data = json.loads(record.read_text("utf-8"))
    record.write_text(json.dumps({**data, "note": "by another program"}))
    return record.read_bytes()


def test_a_record_that_another_program_changed_is_not_written_over(session: Session, tmp_path: Path) -> None:
    add_bar(session)
    settled(session)
    record = tmp_path / "toy.specimen.json"
    theirs = changed_by_another(record)
    session.handle({"do": "name", "note": "mine"})
    settled(session)
    assert record.read_bytes() == theirs
    assert session.record == tmp_path / "toy-2.specimen.json"
    assert read_specimen(session.record).note == "mine"
    moved = session.state()["moved"]
    assert moved["text"].startswith("Another program has changed toy.specimen.json")
    # The other's can be opened instead, and then both are still there.
    session.handle({"do": "record", "record": moved["open"]})
    assert (session.specimen.note, session.record) == ("by another program", record)
    assert session.state()["moved"] is None
    assert read_specimen(tmp_path / "toy-2.specimen.json").note == "mine"


def test_a_write_up_tells_of_what_is_on_the_desk(session: Session, tmp_path: Path) -> None:
    add_bar(session)
    settled(session)
    changed_by_another(tmp_path / "toy.specimen.json")
    session.handle({"do": "write-up"})
    assert session.record == tmp_path / "toy-2.specimen.json"
    assert (tmp_path / "toy-2-write-up").is_dir()
    assert not (tmp_path / "toy-write-up").exists()


# ---- what can't be saved ----


def blocked(session: Session, folder: Path) -> Path:
    """Let the record's folder be one that nothing can be written to."""
    away = folder.with_name("away")
    folder.rename(away)
    folder.write_text("in the way")
    session.handle({"do": "name", "name": "Late"})
    wait_for(lambda: session.save_trouble)
    return away


def test_what_cannot_be_saved_is_kept_aside_until_it_can(
    tmp_path: Path, photo_bytes: bytes, monkeypatch: pytest.MonkeyPatch
) -> None:
    home, data = tmp_path / "home", tmp_path / "data"
    home.mkdir()
    monkeypatch.setenv("CARDSPAN_DATA", str(data))
    told: list[str] = []
    session = opened(home, photo_bytes, told.append)
    add_bar(session)
    settled(session)
    away = blocked(session, home)
    aside = data / "kept-aside" / "toy.specimen.json"
    assert saved(session)["mark"] == "wrong"
    assert str(aside) in str(saved(session)["why"])
    kept = read_specimen(aside)
    assert (kept.name, len(kept.measurements)) == ("Late", 1)
    assert kept.photos[0].file == str(home / "plain.jpg")
    assert len(told) == 1
    assert told[0].startswith("Not saved: ")
    home.unlink()
    away.rename(home)
    wait_for(lambda: session.saved)
    assert saved(session)["mark"] == "good"
    assert read_specimen(home / "toy.specimen.json").name == "Late"
    assert not aside.exists()
    assert told[1:] == [f"Saved again, in {home / 'toy.specimen.json'}."]
    assert session.close() == f"Everything is saved in {home / 'toy.specimen.json'}."


def test_what_can_be_kept_nowhere_is_never_called_saved(
    tmp_path: Path, photo_bytes: bytes, monkeypatch: pytest.MonkeyPatch
) -> None:
    home = tmp_path / "home"
    home.mkdir()
    session = opened(home, photo_bytes)
    settled(session)
    monkeypatch.setattr(keeper.folders, "places_aside", lambda record: [home / "x" / record.name])
    away = blocked(session, home)
    assert "kept nowhere else" in str(saved(session)["why"])
    # Another toy would drop the only copy.
    with pytest.raises(MeasureError, match="isn't saved"):
        session.handle({"do": "remove photo", "photo": "photo-1"})
    assert session.specimen.photos
    assert str(session.close()).startswith("Not saved: ")
    home.unlink()
    away.rename(home)


def test_a_fault_while_saving_is_told_and_the_next_save_is_made(
    session: Session, monkeypatch: pytest.MonkeyPatch
) -> None:
    settled(session)
    with monkeypatch.context() as patch:
        patch.setattr("measure.record.shared_file.write_specimen", lambda path, specimen: 1 / 0)
        session.handle({"do": "name", "name": "First"})
        wait_for(lambda: session.save_trouble)
        assert "ZeroDivisionError" in str(saved(session)["why"])
    session.handle({"do": "name", "name": "Second"})
    settled(session)
    assert session.record is not None
    assert read_specimen(session.record).name == "Second"


def test_nothing_is_called_saved_where_there_is_nothing(empty: Session) -> None:
    assert saved(empty) == {"mark": "none", "text": "Nothing to save yet", "why": None}
    assert empty.close() is None


def test_a_name_alone_is_saved(empty: Session) -> None:
    empty.handle({"do": "name", "name": "Ferry"})
    settled(empty)
    assert empty.record is not None
    assert read_specimen(empty.record).name == "Ferry"


def test_work_in_the_background_goes_on_after_a_fault() -> None:
    told: list[str] = []
    work = Latest("test", lambda: told.append("idle"), lambda error: told.append(str(error)))

    def broken() -> None:
        raise LookupError("odd")

    work.ask(broken)
    assert work.flush()
    work.ask(lambda: told.append("done"))
    assert work.flush()
    work.close()
    assert [one for one in told if one != "idle"] == ["odd", "done"]


# ---- texts ----


@pytest.mark.parametrize("where", ["name", "note"])
def test_half_a_character_pasted_stops_neither_saving_nor_showing(session: Session, where: str) -> None:
    with TestClient(make_app(session)) as client, client.websocket_connect("/ws") as socket:
        socket.send_text(json.dumps({"seq": 1, "do": "name", where: "half \ud83d here\x00"}))
        told = []
        while len(told) < 2:
            message = json.loads(socket.receive_text())
            if message.get("seq") == 1 or message.get("state", {}).get(where, "").startswith("half"):
                told.append(message)
        settled(session)
    assert getattr(session.specimen, where) == "half \ufffd here\ufffd"
    assert session.record is not None
    assert getattr(read_specimen(session.record), where) == "half \ufffd here\ufffd"


def test_a_folder_whose_name_is_no_text_is_shown(tmp_path: Path) -> None:
    odd = tmp_path / os.fsdecode(b"caf\xe9")
    try:
        odd.mkdir()
    except OSError:
        pytest.skip("this file system takes only names that are text")
    session = Session(odd, odd / "toy.specimen.json")
    with TestClient(make_app(session)) as client, client.websocket_connect("/ws") as socket:
        assert "caf\ufffd" in json.loads(socket.receive_text())["state"]["record"]


def test_whatever_a_text_holds_the_page_can_read_it(empty: Session) -> None:
    empty.hear(workers.Told("a\u2028b\x85c\x7fd\x00e\ud83d"))
    with TestClient(make_app(empty)) as client, client.websocket_connect("/ws") as socket:
        (notice,) = json.loads(socket.receive_text())["state"]["notices"]
    assert notice["text"] == "a\u2028b\x85c\x7fd\x00e\ufffd"


# ---- what can't be shown or answered ----


def with_camera(folder: Path, record: Path, camera: dict[str, Any]) -> None:
    data = json.loads(record.read_text("utf-8"))
    (shot,) = data["photos"]
    odd = {**shot, "camera": {**shot["camera"], **camera}}
    record.write_text(json.dumps({**data, "photos": [odd, {**shot, "id": "photo-2"}]}))


def test_a_photo_that_cannot_be_shown_leaves_the_others(
    session: Session, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    settled(session)
    session.close()
    with_camera(tmp_path, tmp_path / "toy.specimen.json", {"distortion": [1, 1, 1, 1, 1]})
    # What no check of a record thought of.
    real = page.camera_json

    def odd_camera(shot: Any, *rest: Any) -> dict[str, Any]:
        if shot.camera is not None and any(shot.camera.distortion):
            raise ZeroDivisionError
        return real(shot, *rest)

    monkeypatch.setattr(page, "camera_json", odd_camera)
    told: list[str] = []
    again = Session(tmp_path, tmp_path / "toy.specimen.json", say=told.append)
    try:
        wait_for(lambda: again.photo("photo-2"))
        odd, plain = again.state()["photos"]
        assert odd["stage"] == "failed"
        assert "plain.jpg failed" in odd["trouble"]
        assert plain["stage"] == "ready"
        assert plain["scale"]["gives"]
        assert odd["trouble"] in told
    finally:
        again.close()


def test_a_record_with_an_odd_camera_is_refused_by_its_field(session: Session, tmp_path: Path) -> None:
    settled(session)
    session.close()
    with_camera(tmp_path, tmp_path / "toy.specimen.json", {"source": 5})
    with pytest.raises(MeasureError, match=r"toy\.specimen\.json: photos\[0\]\.camera\.source"):
        Session(tmp_path, tmp_path / "toy.specimen.json")
    assert not list(tmp_path.glob(".*"))


def test_a_recorded_verdict_that_cannot_be_shown_is_worked_out_anew(session: Session, tmp_path: Path) -> None:
    session.handle({"do": "observe", "part": "lifeboat", "feature": "screws", "value": 5})
    settled(session)
    session.close()
    record = tmp_path / "toy.specimen.json"
    data = json.loads(record.read_text("utf-8"))
    record.write_text(json.dumps({**data, "verdict": {"outcome": 3, "parts": 7}}))
    again = Session(tmp_path, record)
    try:
        wait_for(lambda: again.state()["verdict"])
    finally:
        again.close()


def test_a_state_that_cannot_be_made_is_told_on_page_and_terminal(
    tmp_path: Path, photo_bytes: bytes, monkeypatch: pytest.MonkeyPatch
) -> None:
    told: list[str] = []
    session = opened(tmp_path, photo_bytes, told.append)
    settled(session)

    def trouble(socket: Any, *, told: bool) -> dict[str, Any]:
        while True:
            message = json.loads(socket.receive_text())
            if bool(message.get("trouble") or message.get("state", {}).get("trouble")) == told:
                return dict(message)

    with TestClient(make_app(session)) as client, client.websocket_connect("/ws") as socket:
        assert trouble(socket, told=False)
        with monkeypatch.context() as patch:
            patch.setattr(page, "_saved", lambda *_: 1 / 0)
            session.tell()
            last = trouble(socket, told=True)["state"]
            assert "ZeroDivisionError" in last["trouble"]
            # The last good one is still shown.
            assert last["photos"][0]["name"] == "plain.jpg"
            session.tell()
            trouble(socket, told=True)
        assert [one for one in told if "ZeroDivisionError" in one] == told
        assert len(told) == 1
        session.tell()
        while "state" not in (message := trouble(socket, told=False)):
            pass
        assert message["state"]["saved"]["mark"] == "good"


def test_a_page_opened_while_no_state_can_be_made_is_told(
    empty: Session, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(page, "_saved", lambda *_: 1 / 0)
    with TestClient(make_app(empty)) as client, client.websocket_connect("/ws") as socket:
        assert "ZeroDivisionError" in json.loads(socket.receive_text())["trouble"]


def test_a_fault_while_answering_is_told_and_changes_nothing(
    session: Session, monkeypatch: pytest.MonkeyPatch
) -> None:
    settled(session)
    before = session.specimen

    def broken(desk: object) -> None:
        raise KeyError("odd")

    with TestClient(make_app(session)) as client, client.websocket_connect("/ws") as socket:
        with monkeypatch.context() as patch:
            patch.setattr(common, "judged_anew", broken)
            socket.send_text(json.dumps({"seq": 7, "do": "name", "name": "Never"}))
            while "seq" not in (message := json.loads(socket.receive_text())):
                pass
            assert "KeyError" in message["error"]
        assert session.specimen is before
        socket.send_text(json.dumps({"seq": 8, "do": "name", "name": "After"}))
        while message.get("seq") != 8:
            message = json.loads(socket.receive_text())
        assert "error" not in message
        settled(session)
    assert isinstance(session.specimen, Specimen)
    assert session.specimen.name == "After"


def test_a_fault_while_opening_a_photo_is_told(
    empty: Session, tmp_path: Path, photo_bytes: bytes, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("measure.desk.photos.pictures.Picture.decode", lambda self, data: 1 / 0)
    (tmp_path / "plain.jpg").write_bytes(photo_bytes)
    empty.open_path(tmp_path / "plain.jpg")
    wait_for(lambda: any("ZeroDivisionError" in one["text"] for one in empty.state()["notices"]))
    wait_for(lambda: empty.state()["photos"][0]["stage"] == "failed")
