"""Photos on their way to the desk: each format, damaged files, and faults of the program itself."""

import io
from collections.abc import Iterator

import pillow_heif
import pytest
from PIL import Image
from starlette.testclient import TestClient

from measure.desk.effects import photo_store
from measure.desk.photos import pictures
from measure.desk.server.app import make_app
from measure.desk.session.session import Session
from tests.desk.waiting import wait_for
from tests.synthetic.from_above import left_over


@pytest.fixture
def client(empty: Session) -> Iterator[TestClient]:
    app = make_app(empty)
    with TestClient(app, base_url="http://127.0.0.1:5000", raise_server_exceptions=False) as one:
        yield one


def encoded(photo_bytes: bytes, file_format: str) -> bytes:
    pillow_heif.register_heif_opener()
    stream = io.BytesIO()
    # HEIF alone takes the second setting, which makes it in a fifth of the time.
    quick = {"preset": "ultrafast"}
    Image.open(io.BytesIO(photo_bytes)).save(stream, file_format, quality=92, enc_params=quick)
    return stream.getvalue()


def broken(*args: object, **options: object) -> None:
    raise KeyError("MPO")


@pytest.mark.parametrize("file_format", ["JPEG", "PNG", "WEBP", "TIFF", "HEIF"])
def test_a_photo_of_each_format_is_opened(
    client: TestClient, empty: Session, photo_bytes: bytes, file_format: str
) -> None:
    answer = client.post("/api/photo?name=drop", content=encoded(photo_bytes, file_format))
    assert answer.status_code == 200
    wait_for(lambda: empty.state()["photos"] and empty.state()["photos"][0]["stage"] == "ready")
    assert (empty.state()["photos"][0]["width"], empty.state()["photos"][0]["height"]) == (1200, 900)


def test_a_damaged_png_is_refused_with_the_reason(client: TestClient, photo_bytes: bytes) -> None:
    data = bytearray(encoded(photo_bytes, "PNG"))
    data[len(data) // 2] ^= 1
    answer = client.post("/api/photo?name=drop.png", content=bytes(data))
    assert answer.status_code == 422
    assert "drop.png: the photo is damaged" in answer.json()["error"]
    assert "IDAT" in answer.json()["error"]


def test_a_jpeg_that_turns_out_damaged_says_so_instead_of_a_picture(
    client: TestClient, empty: Session, photo_bytes: bytes
) -> None:
    half = len(photo_bytes) // 2
    client.post("/api/photo?name=drop.jpg", content=photo_bytes[:half] + photo_bytes[half + 900 :])
    wait_for(lambda: empty.state()["photos"] and empty.state()["photos"][0]["stage"] == "failed")
    assert "damaged" in empty.state()["photos"][0]["trouble"]


def test_what_is_damaged_about_a_photo_in_use_is_told(
    client: TestClient, empty: Session, photo_bytes: bytes
) -> None:
    client.post("/api/photo?name=drop.jpg", content=left_over(photo_bytes))
    wait_for(lambda: empty.specimen.photos and empty.specimen.photos[0].reference is not None)
    state = empty.state()
    assert "file is damaged" in state["photos"][0]["cautions"][0]
    assert any("file is damaged" in line for line in state["photos"][0]["grade"]["lines"])
    assert any("drop.jpg: The photo's file is damaged" in one["text"] for one in state["notices"])


def test_a_fault_while_taking_a_photo_is_told_to_the_page(
    client: TestClient, photo_bytes: bytes, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(photo_store, "quick_look", broken)
    answer = client.post("/api/photo?name=drop.jpg", content=photo_bytes)
    assert answer.status_code == 500
    assert "failed by a fault of the program (KeyError: 'MPO'" in answer.json()["error"]


@pytest.mark.parametrize("where", ["quick_look", "decode_photo"])
def test_a_fault_in_the_background_is_told_on_page_and_terminal(
    empty: Session,
    client: TestClient,
    photo_bytes: bytes,
    monkeypatch: pytest.MonkeyPatch,
    where: str,
) -> None:
    said: list[str] = []
    monkeypatch.setattr(empty, "_say", said.append)
    monkeypatch.setattr(pictures, where, broken)
    client.post("/api/photo?name=drop.jpg", content=photo_bytes)
    wait_for(lambda: empty.state()["notices"])
    fault = "drop.jpg: Opening it failed by a fault of the program (KeyError: 'MPO'"
    assert fault in empty.state()["notices"][0]["text"]
    assert empty.state()["opening"] == []
    assert any(fault in line for line in said)
