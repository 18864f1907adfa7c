"""Several programs on one record: every measurement is kept, and nothing is written over unseen."""

import json
import subprocess
import sys
import threading
from pathlib import Path

import pytest

from measure.errors import RecordChangedError, RecordError
from measure.record.file import read_specimen, write_specimen
from measure.record.shared_file import Claim, RecordFile, record_lock
from measure.record.specimen import Specimen
from tests.synthetic.shapes import View

VIEW = View(tilt_deg=(8.0, -6.0, 5.0), distance_mm=300.0, looked=(60.0, 55.0))
# Two at once on each of as many records, by the real command in processes of their own.
TRIALS = 20
# Waits for both to be ready before each trial, so that they come as close together as can be.
WRITER = """
import sys, time
from pathlib import Path
from measure.cli import cli
me, other, folder, trials, photo, ends, corners = sys.argv[1:]
for trial in range(int(trials)):
    (Path(folder) / f"{trial}.{me}").touch()
    while not (Path(folder) / f"{trial}.{other}").exists():
        time.sleep(0.0005)
    record = str(Path(folder) / f"{trial}.specimen.json")
    code = cli.main(
        ["span", photo, ends, "--object", "id1", "--corners", corners, "--no-snap", "--json",
         "--click-std-px", "2" if me == "b" else "1", "--specimen", record],
        standalone_mode=False,
    )
    assert not code, code
"""
# Dies as a program dies that is killed: without giving anything back.
DYING = """
import os, sys
from pathlib import Path
from measure.record.shared_file import Claim, record_lock
path = Path(sys.argv[1])
assert Claim(path).take()
lock = record_lock(path)
lock.__enter__()
print(len(list(path.parent.glob(".*"))), flush=True)
os._exit(1)
"""


def points(marks_mm):
    return " ".join(f"{x:.1f},{y:.1f}" for x, y in VIEW.see(marks_mm))


@pytest.fixture(scope="module")
def photo(tmp_path_factory):
    import cv2

    path = tmp_path_factory.mktemp("photos") / "scene.png"
    cv2.imwrite(str(path), VIEW.photo(lambda mm: abs(mm[:, 0] - 60) < 30).pixels_bgr)
    return path


def test_two_at_once_are_both_kept(photo, tmp_path):
    corners = points([[0, 0], [85.6, 0], [85.6, 53.98], [0, 53.98]])
    ends = points([[30, 95], [90, 95]])
    rest = [str(tmp_path), str(TRIALS), str(photo), ends, corners]
    both = [
        subprocess.Popen([sys.executable, "-c", WRITER, *names, *rest], stdout=subprocess.DEVNULL)
        for names in ("ab", "ba")
    ]
    assert [one.wait(120) for one in both] == [0, 0]
    records = [read_specimen(tmp_path / f"{trial}.specimen.json") for trial in range(TRIALS)]
    kept = [sorted(one.click_std_px[0] for one in record.measurements) for record in records]
    assert kept == [[1.0, 2.0]] * TRIALS
    assert all({one.id for one in record.measurements} == {"m1", "m2"} for record in records)
    assert not list(tmp_path.glob(".*"))


def test_what_another_wrote_is_not_written_over(tmp_path):
    path = tmp_path / "toy.specimen.json"
    first, second = RecordFile(path), RecordFile(path)
    first.write(Specimen("first"))
    with pytest.raises(RecordChangedError, match="another program has changed it"):
        second.write(Specimen("second"))
    assert second.read().name == "first"
    second.write(Specimen("second"))
    with pytest.raises(RecordChangedError):
        first.write(Specimen("first, later"))
    assert read_specimen(path).name == "second"


def test_what_is_there_already_is_not_written_again(tmp_path):
    path = tmp_path / "toy.specimen.json"
    write_specimen(path, Specimen("toy"))
    # As a person may lay it out, with a field of another program.
    path.write_text(json.dumps({**json.loads(path.read_text()), "mine": 1}))
    before = path.read_bytes()
    file = RecordFile(path)
    file.write(file.read())
    assert path.read_bytes() == before
    assert not path.with_name(path.name + ".bak").exists()


def test_a_record_that_has_gone_is_written_anew(tmp_path):
    path = tmp_path / "toy.specimen.json"
    file = RecordFile(path)
    file.write(Specimen("toy"))
    path.unlink()
    file.write(Specimen("toy"))
    assert read_specimen(path).name == "toy"


def test_a_program_that_dies_locks_nobody_out(tmp_path):
    path = tmp_path / "toy.specimen.json"
    died = subprocess.run(
        [sys.executable, "-c", DYING, str(path)], capture_output=True, text=True, check=False
    )
    assert (died.returncode, died.stdout) == (1, "2\n")
    assert len(list(tmp_path.glob(".*"))) == 2
    with record_lock(path, most_wait_s=5.0):
        write_specimen(path, Specimen("toy"))
    claim = Claim(path)
    assert claim.take()
    claim.give_free()
    assert [one.name for one in tmp_path.iterdir()] == [path.name]


def test_a_record_that_stays_locked_is_told_of(tmp_path):
    path = tmp_path / "toy.specimen.json"
    held, done = threading.Event(), threading.Event()

    def hold():
        with record_lock(path):
            held.set()
            done.wait(10.0)

    other = threading.Thread(target=hold)
    other.start()
    held.wait(10.0)
    with (
        pytest.raises(RecordError, match=r"toy\.specimen\.json: another program"),
        record_lock(path, most_wait_s=0.0),
    ):
        pass
    done.set()
    other.join()


def test_a_folder_that_cannot_be_locked_in_says_so_when_written_to(tmp_path):
    (tmp_path / "file").write_text("")
    path = Path(tmp_path / "file" / "toy.specimen.json")
    assert Claim(path).take()
    with pytest.raises(RecordError.__base__, match="can't be written"):
        RecordFile(path).write(Specimen("toy"))
