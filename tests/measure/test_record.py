"""Specimen records: what is written comes back, and what is wrong is named."""

import json
from pathlib import Path
from typing import Any

import pytest

from measure.errors import RecordError
from measure.record.file import parse_specimen, read_specimen, specimen_to_json, write_specimen
from measure.record.specimen import (
    BudgetEntry,
    MeasurementEntry,
    ObservationEntry,
    PhotoEntry,
    ReferenceEntry,
    ResultEntry,
    Specimen,
)


def example() -> Specimen:
    reference = ReferenceEntry("id1", 85.6, 53.98, ((0.0, 0.0), (10.0, 0.0), (10.0, 6.0), (0.0, 6.0)))
    result = ResultEntry(
        177.2, 0.2, 0.4, 1.96, (BudgetEntry("card size", 0.1, True), BudgetEntry("click", 0.17))
    )
    return Specimen(
        name="Ferry from the harbour sale",
        sheet="saltmarsh-ferry",
        photos=(PhotoEntry("photo-1", "plate.jpg", "0" * 64, 40, 30, reference),),
        measurements=(
            MeasurementEntry(
                "m1",
                "span",
                "photo-1",
                "bow-plate",
                "width",
                "Width",
                ((1.0, 2.0), (3.0, 4.5)),
                result=result,
            ),
        ),
        observations=(
            ObservationEntry("lifeboat", "screws", 5),
            ObservationEntry("hull", None, None, "could not see"),
        ),
        extra={"shelf": "B 12"},
    )


def test_a_record_comes_back_as_it_was_written(tmp_path: Path) -> None:
    path = tmp_path / "ferry.specimen.json"
    write_specimen(path, example())
    assert read_specimen(path) == example()


def test_unknown_keys_are_kept(tmp_path: Path) -> None:
    path = tmp_path / "ferry.specimen.json"
    data = specimen_to_json(example())
    data["photos"][0]["seller"] = "stall 9"
    path.write_text(json.dumps(data))
    write_specimen(path, read_specimen(path))
    again = json.loads(path.read_text())
    assert (again["shelf"], again["photos"][0]["seller"]) == ("B 12", "stall 9")


def test_the_version_before_is_kept(tmp_path: Path) -> None:
    path = tmp_path / "ferry.specimen.json"
    write_specimen(path, Specimen("first"))
    write_specimen(path, Specimen("second"))
    assert read_specimen(path).name == "second"
    assert read_specimen(tmp_path / "ferry.specimen.json.bak").name == "first"
    assert len(list(tmp_path.iterdir())) == 2


@pytest.mark.parametrize(
    ("keys", "value", "said"),
    [
        (["format"], "other/1", "format: expected"),
        (["name"], 3, "name: expected text, found 3"),
        (["photos", 0, "width_px"], 0, r"photos\[0\].width_px: expected a whole number above 0"),
        (["photos", 0, "reference", "corners_px"], [[1, 2]], "corners_px: expected a list of 4"),
        (["measurements", 0, "kind"], "guess", "kind: expected one of span, gap"),
        (["measurements", 0, "photo"], "photo-9", "no photo 'photo-9'"),
        (["measurements", 0, "result", "standard_uncertainty_mm"], 0, "expected a number above 0"),
        (["measurements", 0, "clicks_px"], [["a", 1]], r"clicks_px\[0\]\[0\]: expected a number"),
        (["observations", 0, "value"], 2.5, "whole number, a trait's name or null"),
    ],
)
def test_a_wrong_field_is_named(keys: list[Any], value: object, said: str) -> None:
    data = json.loads(json.dumps(specimen_to_json(example())))
    inner = data
    for key in keys[:-1]:
        inner = inner[key]
    inner[keys[-1]] = value
    with pytest.raises(ValueError, match=said):
        parse_specimen(data)


def test_a_missing_field_is_named() -> None:
    with pytest.raises(ValueError, match="name: missing"):
        parse_specimen({"format": "cardspan-specimen/1"})


@pytest.mark.parametrize("text", ["", "{", "[1]", '{"format": NaN}', "\ud800"])
def test_a_broken_file_gives_one_line(tmp_path: Path, text: str) -> None:
    path = tmp_path / "broken.json"
    path.write_bytes(text.encode("utf-8", "surrogatepass"))
    with pytest.raises(RecordError) as caught:
        read_specimen(path)
    assert "\n" not in str(caught.value)
    assert "broken.json" in str(caught.value)


def test_a_length_taken_on_the_toy_needs_its_result() -> None:
    data = specimen_to_json(example())
    data["measurements"][0]["photo"] = None
    parse_specimen(data)
    data["measurements"][0]["result"] = None
    with pytest.raises(ValueError, match="must be given here"):
        parse_specimen(data)


def test_a_broken_record_names_an_earlier_one_only_where_there_is_one(tmp_path: Path) -> None:
    path = tmp_path / "ferry.specimen.json"
    path.write_text("{", "utf-8")
    with pytest.raises(RecordError, match=r"expected a specimen record \(\*\.specimen\.json\)$"):
        read_specimen(path)
    path.with_name(f"{path.name}.bak").write_text("{}", "utf-8")
    with pytest.raises(RecordError, match=r"an earlier one is in ferry\.specimen\.json\.bak"):
        read_specimen(path)
