"""Texts are fit to be kept, sent and printed, whatever was pasted."""

import json
import os

import pytest
from click.testing import CliRunner
from hypothesis import given
from hypothesis import strategies as st

from measure.errors import RecordError
from measure.record.file import parse_specimen, read_specimen, specimen_to_json, write_specimen
from measure.record.specimen import PhotoEntry, Specimen
from measure.texts import clean_text, cleaned

ANY = st.text(st.characters(codec=None, exclude_categories=()))
CAMERA = {
    "width_px": 1200, "height_px": 900, "focal_px": 1000.0, "log_focal_std": 0.25,
    "principal_point_px": [599.5, 449.5], "principal_point_std_px": 12.0,
}  # fmt: skip


@given(ANY)
def test_a_clean_text_can_be_stored_and_stays_clean(text):
    clean = clean_text(text)
    assert clean.encode().decode() == clean
    assert all(char.isprintable() or char in "\n\t" or ord(char) > 0x9F for char in clean)
    assert clean_text(clean) == clean


@pytest.mark.parametrize(
    ("text", "clean"),
    [
        ("Grandmother’s ferry, 12 €, 渡船 ⛴️\tœ\n", "Grandmother’s ferry, 12 €, 渡船 ⛴️\tœ\n"),
        ("a\ud83d b", "a\ufffd b"),
        ("\udce9t\u00e9", "\ufffdt\u00e9"),
        ("one\r\ntwo\rthree\x0bfour\u2028five", "one\ntwo\nthree\nfour\nfive"),
        ("\x1b[31mred\x00\x9b", "\ufffd[31mred\ufffd\ufffd"),
    ],
)
def test_what_cannot_be_stored_is_marked(text, clean):
    assert clean_text(text) == clean


def test_values_are_cleaned_to_their_depth():
    assert cleaned({"a\ud800": ["\x00", 1, None, {"b": "\udfff"}]}) == {
        "a\ufffd": ["\ufffd", 1, None, {"b": "\ufffd"}]
    }


def test_a_record_with_half_a_character_is_read_and_can_be_written(tmp_path):
    path = tmp_path / "toy.specimen.json"
    data = {**specimen_to_json(Specimen("toy", note="x")), "mine": {"k": "\udc00"}}
    path.write_text(json.dumps(data).replace('"x"', '"\\ud83d half"'))
    specimen = read_specimen(path)
    assert specimen.note == "\ufffd half"
    write_specimen(path, specimen)
    assert read_specimen(path) == specimen


def test_options_for_a_record_are_cleaned():
    import click

    @click.command
    @click.option("--part", type=clean_text)
    def command(part):
        click.echo(ascii(part))

    # As Python takes an argument that isn't UTF-8.
    told = CliRunner().invoke(command, ["--part", os.fsdecode(b"caf\xe9")])
    assert told.output == "'caf\\ufffd'\n"


def test_a_file_name_that_no_record_can_hold_is_named(tmp_path):
    photo = PhotoEntry("photo-1", os.fsdecode(b"caf\xe9.jpg"), "0", 4, 3)
    path = tmp_path / "toy.specimen.json"
    with pytest.raises(RecordError, match=r"caf.*rename it") as told:
        write_specimen(path, Specimen("toy", photos=(photo,)))
    str(told.value).encode()
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(
    ("field", "value"),
    [
        ("focal_px", "wide"),
        ("focal_px", [1000]),
        ("focal_px", 1e300),
        ("width_px", 12.5),
        ("principal_point_px", [1]),
        ("principal_point_px", 600),
        ("principal_point_std_px", 1e300),
        ("log_focal_std", 1e300),
        ("k1_std", 1e300),
        ("distortion", {"k1": 0}),
        ("distortion", [0, 0, 0, 0, "x"]),
        ("source", ["Exif"]),
        ("source", None),
        ("cautions", "one"),
        ("cautions", [3]),
    ],
)
def test_an_odd_camera_is_refused_by_its_field(field, value):
    photo = {"id": "p", "file": "a.jpg", "sha256": "0", "width_px": 1200, "height_px": 900}
    data = {**specimen_to_json(Specimen("toy")), "photos": [{**photo, "camera": CAMERA}]}
    parse_specimen(data)
    data["photos"] = [{**photo, "camera": {**CAMERA, field: value}}]
    with pytest.raises(ValueError, match=rf"^photos\[0\]\.camera\.{field}"):
        parse_specimen(data)
