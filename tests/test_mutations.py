"""Sheets and records, each a little wrong by chance: never a traceback, an odd exit status or a NaN."""

import json
import random
import re
from copy import deepcopy
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner

from measure.cli import cli
from measure.commands.common import ERRORS, exit_status
from measure.record.file import specimen_to_json
from references import shipped_text
from tests.measure.commands.test_number_options import CARD, PHOTO, SPAN
from tests.measure.test_record import example

SHEETS, RECORDS, SPANS = 60, 100, 30
SHEET = shipped_text("saltmarsh-ferry")
_VALUE = re.compile(r'(?<== )("[^"\n]*"|\[[^\[\]\n]*\]|[-\w.+]+)')
VALUES: list[Any] = [
    -1, 0, 1, 0.5, 10**7, 10**20, 10**400, 1e308, -1e308, 1e-300, 5e-324, float("nan"), float("inf"), 1e5,
    1e9, True, None, [], {}, "", "x", "a" * 50_000, "nan", "1 ft " * 1500 + "1 in", "9" * 400 + " mm",
    "absent", "unknown", "/dev/zero", [1, 2, 3], [[1, 2]], {"a": {"b": 1}},
]  # fmt: skip
LITERALS = [
    "nan",
    "inf",
    "1e999",
    "9" * 5000,
    "0." + "3" * 400,
    "[" * 500 + "]" * 500,
    "true",
    "{}",
    "1e-7",
    '"""',
]


def as_toml(value: Any) -> str:
    if isinstance(value, bool | float | int):
        return str(value).lower()
    return json.dumps(value) if isinstance(value, str | list) else "{}"


def mutated_sheet(rng: random.Random) -> str:
    text = SHEET
    for _ in range(rng.choice([1, 1, 2])):
        place = rng.choice(list(_VALUE.finditer(text)))
        new = as_toml(rng.choice(VALUES)) if rng.random() < 0.7 else rng.choice(LITERALS)
        text = text[: place.start()] + new + text[place.end() :]
    return text


def places(value: Any, path: tuple[Any, ...] = ()) -> list[tuple[Any, ...]]:
    inner = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    return [path, *(place for key, one in inner for place in places(one, (*path, key)))]


def mutated_record(rng: random.Random) -> str:
    record = json.loads(json.dumps(specimen_to_json(example())))
    *way, last = rng.choice(places(record)[1:])
    inner = record
    for key in way:
        inner = inner[key]
    if rng.random() < 0.15:
        del inner[last]
    else:
        inner[last] = deepcopy(rng.choice(VALUES))
    text = json.dumps(record)
    chance = rng.random()
    if chance < 0.05:
        text = text.replace(":", ":" + "[" * 100_000 + "]" * 100_000 + ",", 1)
    elif chance < 0.1:
        text = '{"name": "twice", ' + text[1:]
    return text


def status_of(*arguments: str) -> tuple[int, str]:
    """Run a command as `cardspan` does; whatever is no known error is a failure."""
    done = CliRunner().invoke(cli, list(arguments))
    if isinstance(done.exception, ERRORS()):
        said = str(done.exception)
        assert "\n" not in said
        assert len(said) < 3000
        return exit_status(done.exception), said
    if done.exception is not None and not isinstance(done.exception, SystemExit):
        raise done.exception
    return done.exit_code, done.output


@pytest.fixture(scope="module")
def record(tmp_path_factory: pytest.TempPathFactory) -> str:
    path = tmp_path_factory.mktemp("record") / "toy.specimen.json"
    path.write_text(json.dumps(specimen_to_json(example())), "utf-8")
    return str(path)


def test_a_sheet_that_chance_changed_is_checked_and_judged_by(tmp_path: Path, record: str) -> None:
    rng, path, seen = random.Random(1), tmp_path / "ferry.toml", set()
    for _ in range(SHEETS):
        path.write_text(mutated_sheet(rng), "utf-8")
        checked, _ = status_of("sheet", "check", str(path))
        judged, said = status_of("judge", record, "--sheet", str(path))
        seen.add((checked, judged))
        assert "nan %" not in said
        assert checked in (0, 4)
        assert judged in ((0, 3, 4) if checked == 0 else (4,))
    assert {checked for checked, _ in seen} == {0, 4}


def test_a_record_that_chance_changed_is_judged_or_refused(tmp_path: Path) -> None:
    rng, path, seen = random.Random(2), tmp_path / "toy.specimen.json", set()
    for _ in range(RECORDS):
        path.write_text(mutated_record(rng), "utf-8")
        judged, said = status_of("judge", str(path))
        seen.add(judged)
        assert "nan %" not in said
    assert 4 in seen
    assert seen <= {0, 3, 4}


def test_a_record_that_chance_changed_is_added_to_or_left_as_it_was(tmp_path: Path) -> None:
    rng, path, seen = random.Random(3), tmp_path / "toy.specimen.json", set()
    more = ("--specimen", str(path), "--part", "bow-plate", "--feature", "width")
    for _ in range(SPANS):
        path.write_text(mutated_record(rng), "utf-8")
        before = path.read_bytes()
        status, _ = status_of("span", PHOTO, SPAN, *CARD, *more)
        seen.add(status)
        assert (path.read_bytes() == before) == (status != 0)
    assert {0, 4} <= seen <= {0, 2, 3, 4}
