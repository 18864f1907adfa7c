"""Two desks on one record, as they are started: the second is told, and a killed one is in nobody's way."""

import os
import select
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from measure.desk.session.session import Session
from measure.record.file import read_specimen, write_specimen
from measure.record.specimen import Specimen
from tests.desk.waiting import wait_for

START = "import sys; from measure.cli import main; sys.argv = ['cardspan', *sys.argv[1:]]; main()"


class Running:
    """A desk in a process of its own."""

    def __init__(self, record: Path) -> None:
        words = [sys.executable, "-c", START, "desk", "--no-browser", "--specimen", str(record)]
        self.process = subprocess.Popen(
            words, stdout=subprocess.PIPE, stderr=subprocess.PIPE, cwd=record.parent, bufsize=0
        )
        assert self.process.stdout is not None
        # The link is the first line; by then the record is open.
        assert self.process.stdout.readline().startswith(b"http://127.0.0.1:")

    def told(self, what: str) -> bool:
        """Whether this is said on standard error within some time."""
        assert self.process.stderr is not None
        said, end = "", time.monotonic() + 20.0
        while what not in said and time.monotonic() < end:
            if select.select([self.process.stderr], [], [], 0.1)[0]:
                data = os.read(self.process.stderr.fileno(), 4096)
                if not data:
                    break
                said += data.decode()
        return what in said

    def end(self, by: signal.Signals = signal.SIGKILL) -> None:
        if self.process.poll() is None:
            self.process.send_signal(by)
        self.process.wait(20.0)
        for pipe in (self.process.stdout, self.process.stderr):
            if pipe is not None:
                pipe.close()


@pytest.fixture
def record(tmp_path: Path) -> Path:
    path = tmp_path / "toy.specimen.json"
    write_specimen(path, Specimen("Ferry", note="seen at a fair"))
    return path


@pytest.fixture
def first(record: Path) -> Iterator[Running]:
    one = Running(record)
    yield one
    one.end()


@pytest.mark.skipif(os.name == "nt", reason="signals and select on pipes are those of POSIX")
def test_a_second_desk_is_told_on_the_terminal(first: Running, record: Path) -> None:
    second = Running(record)
    try:
        assert second.told("toy.specimen.json is open in another desk as well")
    finally:
        second.end()


@pytest.mark.skipif(os.name == "nt", reason="signals and select on pipes are those of POSIX")
def test_a_killed_desk_is_in_nobodys_way(first: Running, record: Path) -> None:
    first.end(signal.SIGKILL)
    assert list(record.parent.glob(".*"))
    again = Session(record.parent, record)
    try:
        assert again.state()["moved"] is None
        again.handle({"do": "name", "name": "Went on"})
        wait_for(lambda: again.saved)
        assert read_specimen(record).name == "Went on"
    finally:
        again.close()
    assert not list(record.parent.glob(".*"))


@pytest.mark.skipif(os.name == "nt", reason="signals and select on pipes are those of POSIX")
def test_a_desk_that_is_stopped_says_where_everything_is_saved(first: Running, record: Path) -> None:
    assert first.told("Stop with Ctrl C.")
    first.process.send_signal(signal.SIGINT)
    assert first.told(f"Everything is saved in {record}.")
    first.end()
