"""Links, sharing and the QR code."""

import os
import re
import socket
import subprocess
import sys
from pathlib import Path

import cv2
import numpy as np
import pytest
from click.testing import CliRunner

from measure.cli import cli
from measure.desk.server.qr import qr_modules, qr_text
from measure.desk.server.serve import Server, checked_address
from measure.desk.session.session import Session
from measure.errors import MeasureError


def test_only_the_loopback_address_is_served_by_default(empty: Session) -> None:
    server = Server(empty)
    try:
        assert [one.getsockname()[0] for one in server._sockets] == ["127.0.0.1"]
        assert server.links.here.startswith("http://127.0.0.1:")
        assert server.links.shared is None
    finally:
        server.close()


def test_each_desk_has_its_own_unguessable_link(empty: Session) -> None:
    servers = [Server(empty), Server(empty)]
    tokens = {one.links.here.split("?t=")[1] for one in servers}
    for server in servers:
        server.close()
    assert len(tokens) == 2
    # 16 random bytes, the entropy that OWASP's session guidance asks for (64 bits) twice over.
    assert all(len(token) >= 22 for token in tokens)


def test_sharing_adds_one_address_and_a_link_for_it(empty: Session) -> None:
    # A second loopback address stands in for one on the network.
    server = Server(empty, share="127.0.0.2")
    try:
        assert [one.getsockname()[0] for one in server._sockets] == ["127.0.0.1", "127.0.0.2"]
        assert server.links.shared is not None
        assert server.links.shared.startswith("http://127.0.0.2:")
        assert server.links.shared.split("=")[1] != server.links.here.split("=")[1]
    finally:
        server.close()


@pytest.mark.parametrize("address", ["0.0.0.0", "::", "8.8.8.8", "224.0.0.1", "my-laptop", ""])
def test_only_one_address_of_the_own_network_is_shared(address: str) -> None:
    with pytest.raises(MeasureError, match="--share"):
        checked_address(address)


def test_an_address_of_the_own_network_is_taken() -> None:
    assert checked_address(" 192.168.1.20 ") == "192.168.1.20"


def test_small_answers_leave_at_once(empty: Session) -> None:
    # asyncio turns Nagle's algorithm (RFC 896) off only for a socket that says it is TCP; where it stays on,
    # an answer in two pieces waits for the acknowledgement of the first, up to 40 ms on Linux.
    server = Server(empty)
    try:
        assert [one.proto for one in server._sockets] == [socket.IPPROTO_TCP]
    finally:
        server.close()


def test_a_port_in_use_is_told(empty: Session) -> None:
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        port = taken.getsockname()[1]
        with pytest.raises(MeasureError, match=str(port)):
            Server(empty, port)


def test_the_qr_code_reads_back() -> None:
    # Read by OpenCV's own reader, a second implementation of ISO/IEC 18004.
    link = "http://192.168.1.20:40123/open?t=AbCdEfGhIjKlMnOpQrStUv"
    picture = np.where(qr_modules(link), 0, 255).astype(np.uint8)
    picture = cv2.resize(picture, None, fx=8, fy=8, interpolation=cv2.INTER_NEAREST)
    assert cv2.QRCodeDetector().detectAndDecode(picture)[0] == link


def test_the_qr_code_in_the_terminal_is_square_and_has_its_margin() -> None:
    lines = qr_text("http://192.168.1.20:40123/open?t=x", colour=False).splitlines()
    modules = qr_modules("http://192.168.1.20:40123/open?t=x")
    assert len(lines) == -(-len(modules) // 2)
    assert {len(line) for line in lines} == {len(modules)}
    assert set(lines[0]) == {"█"}


@pytest.mark.parametrize(
    ("arguments", "named"),
    [
        (["no-such.jpg"], "no-such.jpg"),
        (["--specimen", "broken.json"], "broken.json"),
        (["--sheet", "no-such-sheet"], "no-such-sheet"),
        (["--share", "0.0.0.0"], "--share"),
    ],
)
def test_a_wrong_start_is_one_line_and_leaves_nothing_behind(
    arguments: list[str], named: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    (tmp_path / "broken.json").write_text("{")
    done = CliRunner().invoke(cli, ["desk", "--no-browser", *arguments])
    assert done.exit_code != 0
    assert named in str(done.exception)
    assert "\n" not in str(done.exception)
    assert [path.name for path in tmp_path.iterdir()] == ["broken.json"]


def test_a_photo_whose_name_no_record_can_hold_is_refused(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    name = os.fsdecode(b"caf\xe9.jpg")
    try:
        Path(name).write_bytes(b"")
    except OSError:
        pytest.skip("this file system takes only names that are text")
    done = CliRunner().invoke(cli, ["desk", "--no-browser", name])
    assert re.fullmatch(
        r"'caf.*jpg': no record can hold this file name; rename the photo", str(done.exception)
    )
    assert len(list(tmp_path.iterdir())) == 1


def test_a_wrong_start_with_a_photo_records_nothing(tmp_path: Path, photo_bytes: bytes) -> None:
    photo = tmp_path / "plain.jpg"
    photo.write_bytes(photo_bytes)
    done = CliRunner().invoke(cli, ["desk", str(photo), "--no-browser", "--share", "0.0.0.0"])
    assert done.exit_code != 0
    assert [path.name for path in tmp_path.iterdir()] == ["plain.jpg"]


def test_the_desk_imports_nothing_that_a_first_view_does_not_need() -> None:
    # Each takes a good part of a second, which the user would wait for.
    program = "import sys, measure.desk.server.serve; print(*sys.modules)"
    done = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=True)
    late = {
        "scipy.special",
        "scipy.signal",
        "scipy.stats",
        "matplotlib",
        "skimage",
        "references.verdict.verdict",
    }
    assert not late & set(done.stdout.split())
