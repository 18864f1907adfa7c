"""The routes without a browser: the page, its state over the line, uploads with their bounds."""

import json
import re
import threading
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import cv2
import numpy as np
import pytest
from starlette.testclient import TestClient

from measure.desk.photos.pictures import Picture
from measure.desk.server import app as routes
from measure.desk.server.app import make_app
from measure.desk.session.session import Session
from tests.desk.waiting import wait_for
from tests.synthetic.from_above import bar_ends


@pytest.fixture
def client(empty: Session) -> Iterator[TestClient]:
    with TestClient(make_app(empty), base_url="http://127.0.0.1:5000") as one:
        yield one


@pytest.fixture(scope="module")
def line(untouched: Session) -> Iterator[Any]:
    with TestClient(make_app(untouched)) as one, one.websocket_connect("/ws") as socket:
        yield socket


def answer(socket: Any, ask: dict[str, Any] | str) -> dict[str, Any]:
    socket.send_text(ask if isinstance(ask, str) else json.dumps({"seq": 1, **ask}))
    while True:
        message = json.loads(socket.receive_text())
        if "seq" in message:
            return dict(message)


def test_the_first_page_offers_the_samples(client: TestClient) -> None:
    with client.websocket_connect("/ws") as socket:
        state = json.loads(socket.receive_text())["state"]
    assert state["photos"] == []
    assert state["samples"]
    assert client.get(f"/thumb/{state['samples'][0]['handle']}").headers["content-type"] == "image/jpeg"


def test_a_dropped_photo_is_opened_and_shown_in_tiles(
    client: TestClient, empty: Session, photo_bytes: bytes
) -> None:
    assert client.post("/api/photo?name=drop.jpg", content=photo_bytes).json() == {"name": "drop.jpg"}
    wait_for(lambda: empty.state()["photos"] and empty.state()["photos"][0]["stage"] == "ready")
    handle = empty.state()["photos"][0]["handle"]
    tile = client.get(f"/tile/{handle}/0/0/0")
    assert (tile.status_code, tile.headers["content-type"]) == (200, "image/jpeg")
    assert client.get(f"/tile/{handle}/0/9/9").status_code == 404
    assert client.get("/tile/guessed/0/0/0").status_code == 404


def test_a_picture_asked_for_while_it_is_being_decoded_is_still_given(
    photo_bytes: bytes,
) -> None:
    picture = Picture(Path("drop.jpg"))
    picture.preview(photo_bytes)
    asked_for = picture.handle
    picture.decode(photo_bytes)
    assert picture.handle != asked_for
    assert picture.goes_by(asked_for)
    assert not picture.goes_by("guessed")


def test_the_page_brings_its_only_photo_along(untouched: Session) -> None:
    with TestClient(make_app(untouched)) as one:
        page = one.get("/").text
        (address,) = set(re.findall(r'(?:src|href)="(/whole/[^"]+)"', page))
        whole = one.get(address)
        assert one.get("/whole/guessed").status_code == 404
    assert page.index(address) < page.index("modulepreload")
    pixels = cv2.imdecode(np.frombuffer(whole.content, np.uint8), cv2.IMREAD_COLOR)
    photo = untouched.state()["photos"][0]
    assert pixels.shape[1] == -(-photo["width"] // 8)
    assert pixels.shape[0] == -(-photo["height"] // 8)


def test_a_photo_that_is_still_being_looked_at_is_brought_along_and_waited_for(
    empty: Session, photo_bytes: bytes, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    may_look = threading.Event()
    preview = Picture.preview

    def slow(picture: Picture, data: bytes) -> None:
        may_look.wait(10.0)
        preview(picture, data)

    monkeypatch.setattr(Picture, "preview", slow)
    path = tmp_path / "plain.jpg"
    path.write_bytes(photo_bytes)
    with TestClient(make_app(empty)) as one:
        empty.open_path(path)
        (address,) = set(re.findall(r'(?:src|href)="(/whole/[^"]+)"', one.get("/").text))
        threading.Timer(0.1, may_look.set).start()
        assert one.get(address).content[:2] == b"\xff\xd8"


def test_a_photo_that_cannot_be_shown_has_an_empty_first_view(empty: Session, tmp_path: Path) -> None:
    path = tmp_path / "broken.jpg"
    path.write_bytes(b"no photo")
    with TestClient(make_app(empty)) as one:
        empty.open_path(path)
        handle = empty._workers.photos.at(str(path)).handle
        assert one.get(f"/whole/{handle}").status_code == 204


def test_a_page_without_a_photo_brings_none(client: TestClient) -> None:
    assert "/whole/" not in client.get("/").text


def test_an_upload_that_is_no_photo_is_told_in_a_sentence(client: TestClient) -> None:
    told = client.post("/api/photo?name=letter.txt", content=b"dear sir")
    assert told.status_code == 422
    assert "letter.txt" in told.json()["error"]


def test_uploads_are_bounded(client: TestClient, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(routes, "MAX_PHOTO_BYTES", 1000)
    assert client.post("/api/photo?name=x.jpg", content=b"x" * 1001).status_code == 413

    def parts() -> Iterator[bytes]:
        for _ in range(20):
            yield b"y" * 100

    # Without a stated length the body is cut off while it comes in.
    assert client.post("/api/photo?name=x.jpg", content=parts()).status_code == 413


def test_a_picture_that_unpacks_to_too_many_pixels_is_refused(client: TestClient) -> None:
    import struct
    import zlib

    def chunk(kind: bytes, data: bytes) -> bytes:
        return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))

    # A PNG header alone claims 2.5 gigapixels.
    header = chunk(b"IHDR", struct.pack(">IIBBBBB", 50000, 50000, 8, 2, 0, 0, 0))
    bomb = b"\x89PNG\r\n\x1a\n" + header + chunk(b"IDAT", zlib.compress(b"")) + chunk(b"IEND", b"")
    told = client.post("/api/photo?name=bomb.png", content=bomb)
    assert told.status_code == 422
    assert "megapixels" in told.json()["error"]


def test_a_sheet_with_faults_is_refused_by_line(client: TestClient) -> None:
    told = client.post("/api/sheet?name=mine.toml", content=b'format = "cardspan-sheet/1"\nsubject = 3\n')
    assert told.status_code == 422
    assert told.json()["error"].startswith("mine.toml:1: unit")


def test_a_sheet_of_ones_own_is_laid_on_the_desk(client: TestClient, empty: Session) -> None:
    from references import shipped_text

    told = client.post("/api/sheet?name=mine.toml", content=shipped_text("saltmarsh-ferry").encode())
    assert told.json() == {"sheet": "mine.toml"}
    view = empty.sheet_view()
    assert view is not None
    assert view["subject"] == "Saltmarsh Ferry"


def test_the_line_measures(line: Any) -> None:
    draft = {"kind": "span", "photo": "photo-1", "name": "Bar", "clicks_px": bar_ends()}
    told = answer(line, {"do": "try", "draft": draft})
    assert told["text"]["mm"].startswith(("99.", "100."))


@pytest.mark.parametrize(
    "text", ["", "[]", "{", '{"do":', '{"seq":1,"do":"try","draft":{"photo":NaN}}', "[" * 5000, "x" * 70000]
)
def test_nonsense_on_the_line_is_answered_not_fatal(line: Any, text: str) -> None:
    assert answer(line, text)["error"]
    assert "text" in answer(line, {"do": "try", "draft": {"photo": "photo-1", "clicks_px": bar_ends()}})
