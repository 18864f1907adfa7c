"""Reads measured lengths of specimens whose release is known: from a table, or from specimen records."""

import csv
import io
from collections.abc import Iterator, Sequence
from pathlib import Path

from measure.errors import MeasureError
from measure.json_files import JsonError, read_json
from measure.record import FORMAT, size_at
from references.errors import UnreadableError
from references.learning import Example
from references.limits import MOST_RECORD_BYTES
from references.release_sheet import EXAMPLES, Sheet, parse_length_mm
from references.text_files import read_text_file

Place = tuple[str, str, str]
Placed = tuple[Place, Example]

COLUMNS = ("specimen", "release", "part", "feature", "length", "u")
COVERAGE_FACTOR = 1.96


def read_examples(paths: Sequence[Path], sheet: Sheet, *, release: str | None) -> dict[Place, list[Example]]:
    """Read examples from tables and records, sorted by release, part and feature.

    Parameters
    ----------
    paths : sequence of Path
        ``.csv`` tables with the columns specimen, release, part, feature, length and u (or U, expanded), or
        specimen records in JSON.
    sheet : Sheet
        Gives the unit of bare numbers in a table.
    release : str or None
        Release of every record, and of table rows that name none.

    Raises
    ------
    MeasureError
        Where a file cannot be read or a row is wrong; the message names file, line and column.
    """
    found: dict[Place, list[Example]] = {}
    for path in paths:
        rows = (
            _table(path, sheet, release) if path.suffix.lower() == ".csv" else _record(path, sheet, release)
        )
        for place, example in rows:
            found.setdefault(place, []).append(example)
    return found


def _text(path: Path) -> str:
    try:
        return read_text_file(path, MOST_RECORD_BYTES)
    except UnreadableError as error:
        raise MeasureError(
            f"{path}: cannot be read ({error}); give a CSV table in UTF-8, or a record"
        ) from None


def _table(path: Path, sheet: Sheet, release: str | None) -> Iterator[Placed]:
    text = _text(path)
    delimiter = ";" if ";" in text.partition("\n")[0] else ","
    reader = csv.DictReader(io.StringIO(text), delimiter=delimiter, skipinitialspace=True)
    columns = [column.strip() for column in reader.fieldnames or ()]
    reader.fieldnames = columns
    needed = [column for column in COLUMNS if column not in {"u", "release" if release else ""}]
    missing = [column for column in needed if column not in columns]
    if missing or not {"u", "U"} & set(columns):
        lacking = ", ".join([*missing, *(() if {"u", "U"} & set(columns) else ("u",))])
        raise MeasureError(f"{path}:1: missing column {lacking}; expected {', '.join(COLUMNS)}")
    for row in reader:
        if any((cell or "").strip() for cell in row.values() if not isinstance(cell, list)):
            yield _row(f"{path}:{reader.line_num}", row, sheet, release)


def _row(where: str, row: dict[str, str], sheet: Sheet, release: str | None) -> Placed:
    cells = {key: (cell or "").strip() for key, cell in row.items() if isinstance(cell, str | None) and key}
    length = _length(f"{where}: length", cells["length"], sheet.unit)
    expanded = "U" in cells and not cells.get("u")
    std = _length(f"{where}: u", cells["U"] if expanded else cells["u"], sheet.unit)
    place = (cells.get("release") or release or "", cells["part"], cells["feature"])
    _check_place(where, place, sheet)
    return place, Example(cells["specimen"] or where, length, std / COVERAGE_FACTOR if expanded else std)


def _length(where: str, text: str, unit: str) -> float:
    try:
        return parse_length_mm(text, unit)
    except ValueError as error:
        raise MeasureError(f"{where}: {error}, expected a length such as {EXAMPLES}") from None


def _check_place(where: str, place: Place, sheet: Sheet) -> None:
    release, part_id, feature_id = place
    part = sheet.part(part_id)
    feature = part.feature(feature_id) if part else None
    if sheet.release(release) is None:
        known = ", ".join(sheet.release_ids)
        raise MeasureError(f'{where}: release "{release}" is not in the sheet, expected one of {known}')
    if feature is None or feature.kind != "dimension":
        raise MeasureError(
            f'{where}: the sheet has no dimension "{feature_id}" on a part "{part_id}", expected one of '
            + ", ".join(f"{p.id} {f.id}" for p in sheet.parts for f in p.features if f.kind == "dimension")
        )


def _record(path: Path, sheet: Sheet, release: str | None) -> Iterator[Placed]:
    if release is None:
        raise MeasureError(f"{path}: a record does not say its release; name it with --release")
    try:
        record = read_json(path)
    except JsonError as error:
        raise MeasureError(f"{error}; give a specimen record") from None
    if not isinstance(record, dict) or record.get("format") != FORMAT:
        raise MeasureError(f"{path}: not a specimen record; expected format {FORMAT}")
    name = str(record.get("name") or path.stem)
    entries = record.get("measurements")
    for entry in entries if isinstance(entries, list) else ():
        result = entry.get("result") if isinstance(entry, dict) else None
        if not isinstance(result, dict) or not entry.get("part") or not entry.get("feature"):
            continue
        place = (release, str(entry["part"]), str(entry["feature"]))
        where = f"{path}: measurement {entry.get('id', '')}"
        _check_place(where, place, sheet)
        try:
            length_mm = size_at(result.get("length_mm"), "length_mm")
            std_mm = size_at(result.get("standard_uncertainty_mm"), "standard_uncertainty_mm")
        except ValueError as error:
            raise MeasureError(f"{where} has no length with uncertainty: {error}") from None
        yield place, Example(name, length_mm, std_mm)
