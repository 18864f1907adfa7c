"""JSON that people and programs give: what no file of ours may hold is refused in one line."""

import json
import os
from pathlib import Path

import pytest

from measure.cameras.store import read_store
from measure.errors import MeasureError, RecordError
from measure.json_files import JsonError, parse_json, read_json
from measure.kinds.terms import Choices
from measure.length.units import parse_length
from measure.record.file import parse_specimen, read_specimen, specimen_to_json
from measure.requests.span_file import RequestError, read_requests
from measure.writeup.manifest import read_manifest
from references.limits import LARGEST_COUNT, LARGEST_NUMBER, LONGEST_MM, LONGEST_TEXT
from tests.measure.test_record import example

DEEP = "[" * 100_000 + "]" * 100_000
CHOKING = {
    "a token that is no number": ('{"a": NaN}', "NaN is not allowed"),
    "an infinity": ('{"a": [-Infinity]}', "-Infinity is not allowed"),
    "an infinity in disguise": ('{"a": 1e999}', "too large"),
    "a key twice": ('{"b": {"a": 1, "c": 2, "a": 3}}', '"a" is given twice'),
    "deep lists": (f'{{"a": {DEEP}}}', "nested too deeply"),
    "deep objects": ('{"a":' * 5000 + "1" + "}" * 5000, "nested too deeply"),
    "digits": (f'{{"a": {"9" * 400}}}', "too many digits"),
    "thousands of digits": (f'{{"a": -{"9" * 9000}}}', "too many digits"),
    "many decimals": (f'{{"a": 0.{"3" * 400}}}', "too many digits"),
    "no JSON": ("{'a': 1}", "not valid JSON"),
    "nothing": ("", "not valid JSON"),
}


@pytest.mark.parametrize(("text", "said"), CHOKING.values(), ids=CHOKING)
def test_what_no_file_may_hold_is_refused_in_one_short_line(text: str, said: str, tmp_path: Path) -> None:
    with pytest.raises(JsonError, match=said) as caught:
        parse_json(text)
    assert "\n" not in str(caught.value)
    assert len(str(caught.value)) < 200
    path = tmp_path / "a.json"
    path.write_text(text, "utf-8")
    with pytest.raises(JsonError, match=r"a\.json"):
        read_json(path)


def test_json_is_read_as_it_is_written() -> None:
    value = {"a": [1, -2.5e-7, "[[[{{{...", None, True, {"b": []}], "": 12345678901234567890}
    assert parse_json(json.dumps(value)) == value


READERS = {
    "record": (read_specimen, RecordError),
    "spans": (lambda path: read_requests(path, Choices()), RequestError),
    "cameras": (read_store, RecordError),
    "write-up": (lambda path: read_manifest(path.parent), MeasureError),
}


@pytest.mark.parametrize("reader", READERS)
@pytest.mark.parametrize("text", ['{"format": NaN}', f'{{"format": {DEEP}}}', '{"a": 1, "a": 1}'])
def test_every_reader_of_json_goes_by_that(reader: str, text: str, tmp_path: Path) -> None:
    read, error = READERS[reader]
    path = tmp_path / "write-up.json"
    path.write_text(text, "utf-8")
    with pytest.raises(error, match=r"write-up\.json.*(not allowed|too deeply|twice)"):
        read(path)


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="this system has no named pipes")
@pytest.mark.parametrize("reader", READERS)
@pytest.mark.parametrize("what", ["pipe", "folder", "device"])
def test_no_reader_waits_for_a_pipe_or_a_device(reader: str, what: str, tmp_path: Path) -> None:
    read, error = READERS[reader]
    path = tmp_path / "write-up.json"
    if what == "pipe":
        os.mkfifo(path)
    elif what == "folder":
        path.mkdir()
    else:
        path.symlink_to("/dev/zero")
    with pytest.raises(error, match=r"write-up\.json.*(folder|pipe or a device)"):
        read(path)


@pytest.mark.parametrize(
    ("keys", "value"),
    [
        (["name"], "a" * (LONGEST_TEXT + 1)),
        (["photos", 0, "width_px"], 10**20),
        (["photos", 0, "reference", "width_mm"], 2 * LONGEST_MM),
        (["photos", 0, "reference", "corners_px", 0, 0], 2 * LARGEST_NUMBER),
        (["measurements", 0, "clicks_px", 0, 1], 10**400),
        (["measurements", 0, "standoff_mm"], 1e308),
        (["measurements", 0, "standoff_std_mm"], 1e308),
        (["measurements", 0, "result", "length_mm"], 1e308),
        (["measurements", 0, "result", "standard_uncertainty_mm"], 1e-300),
        (["measurements", 0, "result", "coverage_factor"], 5e-324),
        (["measurements", 0, "result", "budget", 0, "u_mm"], 1e308),
        (["observations", 0, "value"], LARGEST_COUNT + 1),
    ],
    ids=str,
)
def test_a_number_beyond_any_toy_is_refused_in_its_field(keys: list[int | str], value: object) -> None:
    data = json.loads(json.dumps(specimen_to_json(example())))
    inner = data
    for key in keys[:-1]:
        inner = inner[key]
    inner[keys[-1]] = value
    with pytest.raises(ValueError, match="expected") as caught:
        parse_specimen(data)
    assert str(caught.value).startswith(str(keys[0]))
    assert len(str(caught.value)) < 200


@pytest.mark.parametrize("text", ["9" * 400, "1 ft " * 1500 + "1 in", "100001 mm", "1/" + "9" * 5000 + " in"])
def test_a_length_typed_on_the_page_goes_by_the_same_bounds(text: str) -> None:
    with pytest.raises(MeasureError, match="is not a length") as caught:
        parse_length(text)
    assert len(str(caught.value)) < 200
