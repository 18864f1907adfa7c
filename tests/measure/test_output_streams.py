"""The program's streams as the system hands them over: encodings, gone readers, full disks, none at all."""

import json
import os
import struct
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from measure.cameras.store import read_store, save_profile
from measure.cli import COMMANDS
from measure.errors import MeasureError
from measure.files import utf8_name, write_atomic
from references import shipped_text
from tests.writeup import scene

PROGRAM = [sys.executable, "-c", "from measure.cli import main; main()"]
SHOW = ["sheet", "show", "saltmarsh-ferry"]
# Byte 0xE9 is é in Latin 1 and nothing in UTF-8; Python reads such a name by PEP 383.
LATIN = os.fsdecode(b"caf\xe9")
ODD_NAMES = pytest.mark.skipif(sys.platform != "linux", reason="file names are any bytes on Linux only")


def run(*arguments: str, **variables: str) -> "subprocess.CompletedProcess[bytes]":
    return subprocess.run(
        [*PROGRAM, *arguments], capture_output=True, check=False, env=os.environ | variables, timeout=120
    )


@pytest.mark.parametrize("encoding", ["ascii", "latin-1"])
def test_a_terminal_of_few_characters_gets_what_it_can_show(encoding: str) -> None:
    done = run(*SHOW, PYTHONIOENCODING=encoding, PYTHONUTF8="0")
    assert (done.returncode, done.stderr) == (0, b"")
    assert b"#####" in done.stdout
    assert b"\\u" not in done.stdout


def test_help_reaches_a_terminal_of_ascii() -> None:
    each = "import sys\nfrom measure.cli import COMMANDS, main\n"
    each += "for name in COMMANDS:\n    sys.argv = ['cardspan', name, '--help']\n"
    each += "    try:\n        main()\n    except SystemExit as ended:\n        assert ended.code == 0\n"
    variables = {"PYTHONIOENCODING": "ascii", "PYTHONUTF8": "0"}
    done = subprocess.run(
        [sys.executable, "-c", each], capture_output=True, check=False, env=os.environ | variables
    )
    assert (done.returncode, done.stderr) == (0, b"")
    assert done.stdout.isascii()
    assert done.stdout.count(b"Usage: ") == len(COMMANDS)


def test_json_for_ascii_is_ascii_and_says_the_same(tmp_path: Path) -> None:
    path = tmp_path / "s.toml"
    path.write_text(shipped_text("saltmarsh-ferry").replace("Saltmarsh Ferry", "Größe 船"), "utf-8")
    show = ("sheet", "show", str(path), "--json")
    plain, few = (run(*show, PYTHONIOENCODING=name).stdout for name in ("utf-8", "ascii"))
    assert "Größe 船" in plain.decode("utf-8")
    assert few.isascii()
    assert json.loads(few) == json.loads(plain)


@pytest.mark.skipif(os.name == "nt", reason="needs a pipe as Unix has it")
@pytest.mark.parametrize("arguments", [SHOW, ["sheet", "check", "no-such-sheet"], ["--help"]])
def test_a_reader_who_has_seen_enough_changes_neither_work_nor_status(arguments: list[str]) -> None:
    reading, writing = os.pipe()
    os.close(reading)
    done = subprocess.run([*PROGRAM, *arguments], stdout=writing, stderr=subprocess.PIPE, check=False)
    os.close(writing)
    assert (done.returncode, done.stderr) == (4 if "check" in arguments else 0, b"")


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="needs a device that is always full")
def test_a_full_disk_is_told_in_one_line() -> None:
    with Path("/dev/full").open("wb") as full:
        done = subprocess.run([*PROGRAM, *SHOW], stdout=full, stderr=subprocess.PIPE, check=False)
    assert done.returncode == 4
    assert done.stderr == b"cardspan: the output can't be written (No space left on device)\n"


@pytest.mark.skipif(os.name == "nt", reason="needs a shell as Unix has it")
@pytest.mark.parametrize("closed", [">&-", "2>&-", ">&- 2>&-"])
def test_streams_that_are_closed_are_no_reason_to_fail(closed: str) -> None:
    shell = ["sh", "-c", f'exec "$@" {closed}', "sh", *PROGRAM, *SHOW]
    done = subprocess.run(shell, capture_output=True, check=False)
    assert (done.returncode, done.stderr) == (0, b"")


def test_python_warnings_of_a_damaged_exif_block_are_not_for_the_terminal(tmp_path: Path) -> None:
    # TIFF 6.0: a directory of twenty texts, all said to lie far behind the end of the block.
    entries = b"".join(struct.pack("<HHII", 0x010E + number, 2, 999, 99999) for number in range(20))
    exif = b"Exif\0\0II*\0" + struct.pack("<IH", 8, 20) + entries + b"\0\0\0\0"
    path = tmp_path / "damaged.jpg"
    Image.fromarray(np.full((480, 640, 3), 90, np.uint8)).save(path, exif=exif, dpi=(72, 72))
    with pytest.warns(UserWarning, match="Corrupt|corrupt|larger"), Image.open(path) as image:
        image.getexif().get(0x010E)
    done = run("locate", str(path), "--corners", "100,100 500,100 500,350 100,350", "--object", "id1")
    assert done.returncode == 0
    assert done.stderr == b""
    assert b"Warning" not in done.stdout


@ODD_NAMES
def test_a_photo_whose_name_is_not_utf_8_is_measured(tmp_path: Path) -> None:
    path = tmp_path / f"{LATIN}.jpg"
    Image.fromarray(np.full((480, 640, 3), 90, np.uint8)).save(path)
    corners = ("--corners", "100,100 500,100 500,350 100,350", "--object", "id1", "--json")
    done = run("locate", os.fspath(path), *corners)
    assert done.returncode == 0
    assert json.loads(done.stdout)["photo"]["name"] == path.name
    assert b"caf\\xe9.jpg: 640 x 480 pixels" in done.stderr


@ODD_NAMES
def test_records_whose_names_are_not_utf_8_are_written_up(tmp_path: Path) -> None:
    record = scene.specimen(tmp_path)
    scene.save(tmp_path, scene.replace(record, photos=(), measurements=()), f"{LATIN}.specimen.json")
    done = run("write-up", os.fspath(tmp_path), "--out", os.fspath(tmp_path / "o"))
    assert done.returncode == 0, done.stderr
    assert "caf_" in {path.name for path in (tmp_path / "o").iterdir()}


@ODD_NAMES
def test_the_desk_takes_no_photo_that_a_record_could_not_name(tmp_path: Path) -> None:
    path = tmp_path / f"{LATIN}.jpg"
    Image.fromarray(np.full((80, 96, 3), 90, np.uint8)).save(path)
    done = run("desk", os.fspath(path), "--no-browser")
    assert done.returncode == 4
    assert b"no record can hold this file name" in done.stderr


def test_a_camera_learnt_from_photos_of_odd_names_is_kept(tmp_path: Path) -> None:
    from calibration.lens_profiles.profile import Profile, ViewResidual

    profile = Profile(
        width_px=4000, height_px=3000, focal_px=3000.0, focal_std_px=3.0, principal_point_px=(2000.0, 1500.0),
        principal_point_std_px=3.0, distortion=(0.0,) * 5, k1_std=0.001, model="none", rms_px=0.1,
        held_out_rms_px=0.1, views=(ViewResidual(f"{LATIN}.jpg", 0.1, 20.0, True),),
    )  # fmt: skip
    path = save_profile("mine", profile, path=tmp_path / "cameras.json")
    assert read_store(path)["mine"].views[0].name == "caf\ufffd.jpg"


def test_a_text_that_no_file_can_hold_gives_one_line_and_no_file(tmp_path: Path) -> None:
    with pytest.raises(MeasureError, match="isn't UTF-8"):
        write_atomic(tmp_path / "s.toml", f"subject = '{LATIN}'")
    assert list(tmp_path.iterdir()) == []


def test_a_name_for_documents_is_utf_8() -> None:
    assert (utf8_name(LATIN), utf8_name("Größe")) == ("caf_", "Größe")
