"""What the page sends, and what a record names, goes by the bounds of sheets and records."""

import os
from pathlib import Path

import pytest
from starlette.testclient import TestClient

from measure.desk.server.app import make_app
from measure.desk.session.session import Session
from measure.errors import MeasureError
from measure.record.file import write_specimen
from measure.record.specimen import PhotoEntry, Specimen
from references import shipped_text
from references.limits import LARGEST_COUNT
from tests.desk.waiting import wait_for
from tests.synthetic.from_above import bar_ends

BAR = '{"seq": 7, "do": "add", "kind": "span", "photo": "photo-1", "clicks_px": [[%s, 9], [99, 99]]}'


@pytest.mark.parametrize(
    "text",
    [
        BAR % ("9" * 400),
        BAR % ("9" * 9000),
        BAR % "1e999",
        BAR % "Infinity",
        '{"seq": 7, "do": "undo", "do": "redo"}',
        '{"seq": 7, "do": ' + '{"a":' * 9000 + "1" + "}" * 9000 + "}",
    ],
    ids=["digits", "thousands of digits", "too large", "infinity", "key twice", "deep"],
)
def test_a_message_beyond_bounds_is_answered_in_a_sentence_and_changes_nothing(
    untouched: Session, text: str
) -> None:
    before = untouched.specimen
    with TestClient(make_app(untouched)) as client, client.websocket_connect("/ws") as socket:
        socket.send_text(text)
        while "error" not in (told := socket.receive_json()):
            pass
    assert told["error"] == "This message can't be read."
    assert untouched.specimen == before


@pytest.mark.parametrize(
    ("ask", "said"),
    [
        ({"do": "observe", "part": "lifeboat", "feature": "screws", "value": LARGEST_COUNT + 1}, "from 0 to"),
        ({"do": "add", "photo": "photo-1", "clicks_px": bar_ends(), "standoff_mm": 10**400}, "number"),
        ({"do": "add source", "photo": "photo-1", "marks_px": bar_ends(),
          "source": {"kind": "length", "length": "1 ft " * 1500 + "1 in"}}, "is not a length"),
        ({"do": "add source", "photo": "photo-1", "marks_px": bar_ends(),
          "source": {"kind": "length", "length": "9" * 400}}, "is not a length"),
    ],
)  # fmt: skip
def test_a_number_beyond_any_toy_is_told_in_a_sentence(
    untouched: Session, ask: dict[str, object], said: str
) -> None:
    with pytest.raises(MeasureError, match=said) as caught:
        untouched.handle(ask)
    assert len(str(caught.value)) < 200


def test_a_sheet_of_one_line_is_a_text_and_no_path(empty: Session, tmp_path: Path) -> None:
    other = tmp_path / "other.toml"
    other.write_text(shipped_text("saltmarsh-ferry"), "utf-8")
    with TestClient(make_app(empty), base_url="http://127.0.0.1:5000") as client:
        told = client.post("/api/sheet?name=mine.toml", content=str(other).encode())
    assert told.status_code == 422
    assert told.json()["error"].startswith("mine.toml:1: TOML")
    assert list(tmp_path.rglob("mine.toml")) == []


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="this system has no named pipes")
@pytest.mark.parametrize("what", ["pipe", "device"])
def test_a_record_whose_photo_is_a_pipe_or_a_device_opens(tmp_path: Path, what: str) -> None:
    photo, record = tmp_path / "plain.jpg", tmp_path / "toy.specimen.json"
    if what == "pipe":
        os.mkfifo(photo)
    else:
        photo.symlink_to("/dev/zero")
    write_specimen(record, Specimen("toy", photos=(PhotoEntry("photo-1", photo.name, "0" * 64, 640, 480),)))
    session = Session(tmp_path, record)
    try:
        picture = session.files.picture(session.state()["photos"][0]["handle"])
        assert picture is not None
        wait_for(lambda: picture.stage == "failed", timeout_s=5.0)
        assert "is a pipe or a device" in str(picture.trouble)
    finally:
        session.close()
