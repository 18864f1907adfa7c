"""Specimen records on disk: JSON, checked field by field, written atomically with the last version kept."""

import json
from collections.abc import Mapping
from dataclasses import fields
from pathlib import Path
from typing import Any

from calibration.camera import Camera
from measure.errors import RecordError
from measure.files import write_atomic
from measure.json_files import JsonError, parse_json
from measure.record.camera_entry import camera_at, camera_entry
from measure.record.checks import (
    Check,
    built,
    entry_of,
    exactly,
    flag_at,
    height_at,
    mapping_at,
    not_negative_at,
    noted_value_at,
    number_at,
    one_of,
    or_none,
    point_at,
    positive_at,
    shown,
    size_at,
    spread_at,
    standoffs_at,
    text_at,
    tuple_of,
    whole_at,
)
from measure.record.source_checks import line_at, source_at
from measure.record.specimen import (
    FORMAT,
    KINDS,
    STATES,
    BudgetEntry,
    MeasurementEntry,
    ObservationEntry,
    PhotoEntry,
    ReferenceEntry,
    ResultEntry,
    SeenEntry,
    SourceEntry,
    Specimen,
)
from measure.record.verdict_entry import VerdictEntry
from references.errors import UnreadableError
from references.limits import MOST_RECORD_BYTES
from references.text_files import read_text_file


def read_specimen(path: Path) -> Specimen:
    """Read a record.

    Parameters
    ----------
    path : Path
        The JSON file.

    Returns
    -------
    Specimen
        Checked field by field, each id unique, each measurement's photo among the photos.

    Raises
    ------
    RecordError
        Missing, not JSON, or a field that is not as expected; the message names file and field.
    """
    try:
        text = read_text_file(path, MOST_RECORD_BYTES)
    except UnreadableError as error:
        raise RecordError(f"{path}: {error}; give a specimen record (*.specimen.json)") from error
    if path.suffix.lower() != ".json" and not text.lstrip().startswith("{"):
        raise RecordError(f"{path}: this is no specimen record; give a *.specimen.json file")
    try:
        return parse_specimen(parse_json(text))
    except JsonError as error:
        earlier = path.with_name(f"{path.name}.bak")
        hint = f"; an earlier one is in {earlier.name}" if earlier.exists() else ""
        where = path if error.line is None else f"{path}:{error.line}"
        raise RecordError(f"{where}: {error}; expected a specimen record (*.specimen.json){hint}") from error
    except ValueError as error:
        raise RecordError(f"{path}: {error}") from error


def write_specimen(path: Path, specimen: Specimen) -> None:
    """Write a record atomically; the previous version stays beside it as ``.bak``.

    Parameters
    ----------
    path : Path
        The JSON file; its folder is made where it is missing.
    specimen : Specimen
        What it is to hold.

    Raises
    ------
    MeasureError
        The folder can't be written to, or the record holds what can't be stored.
    """
    try:
        text = json.dumps(specimen_to_json(specimen), ensure_ascii=False, indent=1, allow_nan=False)
        raw = f"{text}\n".encode()
    except UnicodeEncodeError as error:
        # Texts are clean where they come in; what is left is the name of a file.
        text, at = error.object, error.start
        odd = ascii(text[text.rfind('"', 0, at) + 1 : text.find('"', at)])
        raise RecordError(
            f"{path}: the name {odd} isn't UTF-8, so no record can hold it; rename it"
        ) from error
    except ValueError as error:
        raise RecordError(f"{path}: can't be stored ({error})") from error
    write_atomic(path, raw, backup=True)


def parse_specimen(data: Any) -> Specimen:
    """Check a decoded record and return it as values.

    Raises
    ------
    ValueError
        A field is not as expected; the message starts with the field's place.
    """
    record = mapping_at(data, "record")
    if record.get("format") != FORMAT:
        raise ValueError(f'format: expected "{FORMAT}", found {shown(record.get("format"))}')
    specimen = built(Specimen, {k: v for k, v in record.items() if k != "format"}, "", _SPECIMEN)
    _check_links(specimen)
    return specimen


def specimen_to_json(specimen: Specimen) -> dict[str, Any]:
    """Return the record as plain JSON values, unknown keys included.

    Parameters
    ----------
    specimen : Specimen
        The record.

    Returns
    -------
    dict
        What `parse_specimen` takes, the format's name first.
    """
    plain: dict[str, Any] = _plain(specimen)
    return {"format": FORMAT, **plain}


def _plain(value: Any) -> Any:
    if isinstance(value, VerdictEntry | Camera):
        return value.to_json() if isinstance(value, VerdictEntry) else camera_entry(value)
    if isinstance(value, Mapping):
        return {key: _plain(item) for key, item in value.items()}
    if isinstance(value, tuple | list):
        return [_plain(item) for item in value]
    if hasattr(value, "__dataclass_fields__"):
        known = {f.name: _plain(getattr(value, f.name)) for f in fields(value) if f.name != "extra"}
        if isinstance(value, SourceEntry | SeenEntry):  # most fields concern other kinds
            return {name: one for name, one in known.items() if one is not None and one != []}
        return {**known, **_plain(getattr(value, "extra", {}))}
    return value


def _check_links(specimen: Specimen) -> None:
    photo_ids = _unique([p.id for p in specimen.photos], "photos")
    _unique([m.id for m in specimen.measurements], "measurements")
    for place, shot in enumerate(specimen.photos):
        if shot.also and (shot.reference is None or shot.reference.corners_px is None):
            raise ValueError(f"photos[{place}].also: expected a reference with corners for them to add to")
        for index, other in enumerate(shot.also):
            if other.corners_px is None:
                raise ValueError(f"photos[{place}].also[{index}].corners_px: missing")
    for place, entry in enumerate(specimen.measurements):
        if entry.photo is not None and entry.photo not in photo_ids:
            raise ValueError(f"measurements[{place}].photo: no photo '{entry.photo}' in photos")
        if entry.photo is None and entry.result is None:
            raise ValueError(
                f"measurements[{place}].result: a length taken without a photo must be given here"
            )


def _unique(ids: list[str], name: str) -> set[str]:
    for place, entry_id in enumerate(ids):
        if entry_id in ids[:place]:
            raise ValueError(f"{name}[{place}].id: '{entry_id}' is used twice; each id must be its own")
    return set(ids)


_REFERENCE: dict[str, Check] = {
    "kind": text_at, "width_mm": size_at, "height_mm": size_at,
    "corners_px": or_none(exactly(4, point_at)),
    "corners_cov_px2": or_none(exactly(64, number_at)), "corner_std_px": positive_at, "source": text_at,
    "confidence": or_none(not_negative_at), "said": flag_at, "radii": tuple_of(point_at),
}  # fmt: skip
_PHOTO: dict[str, Check] = {
    "id": text_at, "file": text_at, "sha256": text_at, "width_px": whole_at, "height_px": whole_at,
    "reference": or_none(entry_of(ReferenceEntry, _REFERENCE)), "camera": or_none(camera_at),
    "also": tuple_of(entry_of(ReferenceEntry, _REFERENCE)), "sources": tuple_of(source_at),
    "straight_px": tuple_of(line_at), "profile": or_none(text_at),
}  # fmt: skip
_BUDGET: dict[str, Check] = {"source": text_at, "u_mm": spread_at, "shared": flag_at}
_RESULT: dict[str, Check] = {
    "length_mm": height_at, "standard_uncertainty_mm": size_at, "expanded_uncertainty_mm": size_at,
    "coverage_factor": positive_at, "budget": tuple_of(entry_of(BudgetEntry, _BUDGET)),
}  # fmt: skip
_MEASUREMENT: dict[str, Check] = {
    "id": text_at, "kind": one_of(KINDS), "photo": or_none(text_at), "part": or_none(text_at),
    "feature": or_none(text_at), "name": text_at, "clicks_px": tuple_of(point_at),
    "used_px": tuple_of(point_at), "click_std_px": tuple_of(positive_at), "snap": flag_at,
    "standoff_mm": standoffs_at,
    "standoff_std_mm": spread_at, "edge_fit": tuple_of(flag_at), "lean_std_mm": or_none(size_at),
    "result": or_none(entry_of(ResultEntry, _RESULT)),
}  # fmt: skip
_OBSERVATION: dict[str, Check] = {
    "part": text_at, "feature": or_none(text_at), "value": noted_value_at, "state": one_of(STATES),
}  # fmt: skip
_SPECIMEN: dict[str, Check] = {
    "name": text_at, "sheet": or_none(text_at), "note": text_at,
    "photos": tuple_of(entry_of(PhotoEntry, _PHOTO)),
    "measurements": tuple_of(entry_of(MeasurementEntry, _MEASUREMENT)),
    "observations": tuple_of(entry_of(ObservationEntry, _OBSERVATION)), "verdict": or_none(mapping_at),
    "program": text_at,
}  # fmt: skip
