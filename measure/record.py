"""Specimen records on disk: JSON, checked field by field, written atomically with the last version kept."""

import json
from collections.abc import Callable, Mapping
from dataclasses import MISSING, fields
from math import isfinite
from pathlib import Path
from typing import Any, TypeVar

from measure.errors import RecordError
from measure.files import write_atomic
from measure.specimen import (
    FORMAT,
    KINDS,
    STATES,
    BudgetEntry,
    MeasurementEntry,
    ObservationEntry,
    PhotoEntry,
    Point,
    ReferenceEntry,
    ResultEntry,
    Specimen,
)

_T = TypeVar("_T")
Check = Callable[[Any, str], Any]


def read_specimen(path: Path) -> Specimen:
    """Read a record.

    Parameters
    ----------
    path : Path
        The JSON file.

    Raises
    ------
    RecordError
        Missing, not JSON, or a field that is not as expected; the message names file and field.
    """
    try:
        text = path.read_text("utf-8")
    except FileNotFoundError as error:
        raise RecordError(f"{path}: no such file; give a specimen record (*.specimen.json)") from error
    except (OSError, UnicodeDecodeError) as error:
        raise RecordError(
            f"{path}: can't be read as UTF-8 text; give a specimen record (*.specimen.json)"
        ) from error
    try:
        return parse_specimen(json.loads(text, parse_constant=_no_constant))
    except json.JSONDecodeError as error:
        raise RecordError(
            f"{path}:{error.lineno}: not valid JSON ({error.msg}); an earlier one may be in {path.name}.bak"
        ) from error
    except (ValueError, RecursionError) as error:
        raise RecordError(f"{path}: {error}") from error


def write_specimen(path: Path, specimen: Specimen) -> None:
    """Write a record atomically; the previous version stays beside it as ``.bak``.

    Raises
    ------
    MeasureError
        The folder can't be written to.
    """
    text = json.dumps(specimen_to_json(specimen), ensure_ascii=False, indent=1, allow_nan=False)
    write_atomic(path, text + "\n", backup=True)


def parse_specimen(data: Any) -> Specimen:
    """Check a decoded record and return it as values.

    Raises
    ------
    ValueError
        A field is not as expected; the message starts with the field's place.
    """
    record = _mapping(data, "record")
    if record.get("format") != FORMAT:
        raise ValueError(f'format: expected "{FORMAT}", found {_shown(record.get("format"))}')
    specimen = _build(Specimen, {k: v for k, v in record.items() if k != "format"}, "", _SPECIMEN)
    _check_links(specimen)
    return specimen


def specimen_to_json(specimen: Specimen) -> dict[str, Any]:
    """Return the record as plain JSON values, unknown keys included."""
    plain: dict[str, Any] = _plain(specimen)
    return {"format": FORMAT, **plain}


def _plain(value: Any) -> Any:
    if isinstance(value, Mapping):
        return {key: _plain(item) for key, item in value.items()}
    if isinstance(value, tuple | list):
        return [_plain(item) for item in value]
    if hasattr(value, "__dataclass_fields__"):
        known = {f.name: _plain(getattr(value, f.name)) for f in fields(value) if f.name != "extra"}
        return {**known, **_plain(getattr(value, "extra", {}))}
    return value


def _check_links(specimen: Specimen) -> None:
    photo_ids = _unique([p.id for p in specimen.photos], "photos")
    _unique([m.id for m in specimen.measurements], "measurements")
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


def _build(kind: type[_T], data: Any, where: str, checks: Mapping[str, Check]) -> _T:
    record = _mapping(data, where or "record")
    prefix = f"{where}." if where else ""
    values: dict[str, Any] = {}
    for item in fields(kind):  # type: ignore[arg-type]
        if item.name == "extra":
            continue
        if item.name in record:
            values[item.name] = checks[item.name](record[item.name], prefix + item.name)
        elif item.default is MISSING and item.default_factory is MISSING:
            raise ValueError(f"{prefix}{item.name}: missing")
    if kind is not BudgetEntry:
        values["extra"] = {key: value for key, value in record.items() if key not in checks}
    return kind(**values)


def _shown(value: Any) -> str:
    text = json.dumps(value, ensure_ascii=False, default=str)
    return text if len(text) <= 40 else text[:37] + "..."


def _no_constant(name: str) -> float:
    raise ValueError(f"the number {name} is not allowed; every number must be finite")


def _wrong(where: str, expected: str, value: Any) -> ValueError:
    return ValueError(f"{where}: expected {expected}, found {_shown(value)}")


def _mapping(value: Any, where: str) -> Mapping[str, Any]:
    if not isinstance(value, dict):
        raise _wrong(where, "an object", value)
    return value


def _text(value: Any, where: str) -> str:
    if not isinstance(value, str):
        raise _wrong(where, "text", value)
    return value


def _number(value: Any, where: str) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float) or not isfinite(value):
        raise _wrong(where, "a number", value)
    return float(value)


def _not_negative(value: Any, where: str) -> float:
    number = _number(value, where)
    if number < 0.0:
        raise _wrong(where, "a number that is not negative", value)
    return number


def _positive(value: Any, where: str) -> float:
    number = _number(value, where)
    if number <= 0.0:
        raise _wrong(where, "a number above 0", value)
    return number


def _whole(value: Any, where: str) -> int:
    if isinstance(value, bool) or not isinstance(value, int) or value < 1:
        raise _wrong(where, "a whole number above 0", value)
    return value


def _flag(value: Any, where: str) -> bool:
    if not isinstance(value, bool):
        raise _wrong(where, "true or false", value)
    return value


def _value(value: Any, where: str) -> int | str | None:
    if value is None or isinstance(value, str):
        return value
    if isinstance(value, bool) or not isinstance(value, int) or value < 0:
        raise _wrong(where, "a whole number, a trait's name or null", value)
    return value


def _one_of(names: tuple[str, ...]) -> Check:
    def check(value: Any, where: str) -> str:
        if value not in names:
            raise _wrong(where, "one of " + ", ".join(names), value)
        return str(value)

    return check


def _or_none(check: Check) -> Check:
    return lambda value, where: None if value is None else check(value, where)


def _tuple_of(check: Check) -> Check:
    def checked(value: Any, where: str) -> tuple[Any, ...]:
        if not isinstance(value, list | tuple):
            raise _wrong(where, "a list", value)
        return tuple(check(item, f"{where}[{place}]") for place, item in enumerate(value))

    return checked


def _exactly(length: int, check: Check) -> Check:
    def checked(value: Any, where: str) -> tuple[Any, ...]:
        values: tuple[Any, ...] = _tuple_of(check)(value, where)
        if len(values) != length:
            raise _wrong(where, f"a list of {length}", value)
        return values

    return checked


def _point(value: Any, where: str) -> Point:
    x_px, y_px = _exactly(2, _number)(value, where)
    return (x_px, y_px)


def _standoffs(value: Any, where: str) -> tuple[float, ...]:
    if isinstance(value, list | tuple):
        return tuple(_tuple_of(_number)(value, where))
    return (_number(value, where),)


def _entry(kind: type[Any], checks: Mapping[str, Check]) -> Check:
    return lambda value, where: _build(kind, value, where, checks)


_REFERENCE: dict[str, Check] = {
    "kind": _text, "width_mm": _positive, "height_mm": _positive, "corners_px": _or_none(_exactly(4, _point)),
    "corners_cov_px2": _or_none(_exactly(64, _number)), "corner_std_px": _positive, "source": _text,
    "confidence": _or_none(_not_negative),
}  # fmt: skip
_PHOTO: dict[str, Check] = {
    "id": _text, "file": _text, "sha256": _text, "width_px": _whole, "height_px": _whole,
    "reference": _or_none(_entry(ReferenceEntry, _REFERENCE)), "camera": _or_none(_mapping),
}  # fmt: skip
_BUDGET: dict[str, Check] = {"source": _text, "u_mm": _not_negative, "shared": _flag}
_RESULT: dict[str, Check] = {
    "length_mm": _number, "standard_uncertainty_mm": _positive, "expanded_uncertainty_mm": _positive,
    "coverage_factor": _positive, "budget": _tuple_of(_entry(BudgetEntry, _BUDGET)),
}  # fmt: skip
_MEASUREMENT: dict[str, Check] = {
    "id": _text, "kind": _one_of(KINDS), "photo": _or_none(_text), "part": _or_none(_text),
    "feature": _or_none(_text), "name": _text, "clicks_px": _tuple_of(_point), "used_px": _tuple_of(_point),
    "click_std_px": _tuple_of(_positive), "snap": _flag, "standoff_mm": _standoffs,
    "standoff_std_mm": _not_negative, "result": _or_none(_entry(ResultEntry, _RESULT)),
}  # fmt: skip
_OBSERVATION: dict[str, Check] = {
    "part": _text, "feature": _or_none(_text), "value": _value, "state": _one_of(STATES),
}  # fmt: skip
_SPECIMEN: dict[str, Check] = {
    "name": _text, "sheet": _or_none(_text), "note": _text, "photos": _tuple_of(_entry(PhotoEntry, _PHOTO)),
    "measurements": _tuple_of(_entry(MeasurementEntry, _MEASUREMENT)),
    "observations": _tuple_of(_entry(ObservationEntry, _OBSERVATION)), "verdict": _or_none(_mapping),
    "program": _text,
}  # fmt: skip
