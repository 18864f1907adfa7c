"""Checks of a record's fields: each returns the value, or raises an error that says what was expected."""

import json
from collections.abc import Callable, Mapping
from dataclasses import MISSING, fields
from typing import Any, TypeVar

from measure.record.specimen import Point
from references.limits import (
    LARGEST_COUNT,
    LARGEST_NUMBER,
    LEAST_MM,
    LEAST_NUMBER,
    LONGEST_MM,
    LONGEST_TEXT,
    number_of,
    whole_of,
)

_T = TypeVar("_T")
Check = Callable[[Any, str], Any]


def built(kind: type[_T], data: Any, where: str, checks: Mapping[str, Check]) -> _T:
    """Build a frozen entry from its fields; entries without room for unknown fields refuse them."""
    record = mapping_at(data, where or "record")
    prefix = f"{where}." if where else ""
    values: dict[str, Any] = {}
    for item in fields(kind):  # type: ignore[arg-type]
        if item.name == "extra":
            continue
        if item.name in record:
            values[item.name] = checks[item.name](record[item.name], prefix + item.name)
        elif item.default is MISSING and item.default_factory is MISSING:
            raise ValueError(f"{prefix}{item.name}: missing")
    unknown = {key: value for key, value in record.items() if key not in checks}
    if any(item.name == "extra" for item in fields(kind)):  # type: ignore[arg-type]
        values["extra"] = unknown
    elif unknown:
        raise ValueError(f"{prefix}{next(iter(unknown))}: unknown field; expected {', '.join(checks)}")
    return kind(**values)


def shown(value: Any) -> str:
    """Return a value as short text for messages."""
    text = json.dumps(value, ensure_ascii=False, default=str)
    return text if len(text) <= 40 else text[:37] + "..."


def wrong(where: str, expected: str, value: Any) -> ValueError:
    """Return the error that says what was expected where."""
    return ValueError(f"{where}: expected {expected}, found {shown(value)}")


def mapping_at(value: Any, where: str) -> Mapping[str, Any]:
    """Return an object's fields."""
    if not isinstance(value, dict):
        raise wrong(where, "an object", value)
    return value


def text_at(value: Any, where: str) -> str:
    """Return a text of a length that somebody may have written.

    Parameters
    ----------
    value : Any
        As decoded from JSON.
    where : str
        Its place in the record.

    Returns
    -------
    str
        At most `LONGEST_TEXT` characters.

    Raises
    ------
    ValueError
        It is not a text, or too long; the message starts with the place.
    """
    if not isinstance(value, str) or len(value) > LONGEST_TEXT:
        long = f" of at most {LONGEST_TEXT} characters" if isinstance(value, str) else ""
        raise wrong(where, f"text{long}", value)
    return value


def number_at(value: Any, where: str) -> float:
    """Return a number, neither infinite nor beyond all that is measured."""
    return _within(value, where, "a number", -LARGEST_NUMBER, LARGEST_NUMBER)


def not_negative_at(value: Any, where: str) -> float:
    """Return a number from 0 up."""
    return _within(value, where, "a number that is not negative", 0.0, LARGEST_NUMBER)


def positive_at(value: Any, where: str) -> float:
    """Return a number above 0."""
    return _within(value, where, "a number above 0", LEAST_NUMBER, LARGEST_NUMBER)


def height_at(value: Any, where: str) -> float:
    """Return a length or a height in mm, of either sign."""
    return _within(value, where, "a number of mm", -LONGEST_MM, LONGEST_MM)


def size_at(value: Any, where: str) -> float:
    """Return a length or an uncertainty above 0, in mm.

    Parameters
    ----------
    value : Any
        As decoded from JSON.
    where : str
        Its place in the record.

    Returns
    -------
    float
        In mm, from `LEAST_MM` to `LONGEST_MM`.

    Raises
    ------
    ValueError
        It isn't one; the message starts with the place.
    """
    return _within(value, where, "a number above 0, in mm", LEAST_MM, LONGEST_MM)


def spread_at(value: Any, where: str) -> float:
    """Return an uncertainty that may be 0, in mm.

    Parameters
    ----------
    value : Any
        As decoded from JSON.
    where : str
        Its place in the record.

    Returns
    -------
    float
        In mm, from 0 to `LONGEST_MM`.

    Raises
    ------
    ValueError
        It isn't one; the message starts with the place.
    """
    return _within(value, where, "a number that is not negative, in mm", 0.0, LONGEST_MM)


def _within(value: Any, where: str, expected: str, least: float, most: float) -> float:
    number = number_of(value, least, most)
    if number is None:
        raise wrong(where, f"{expected} ({least:g} to {most:g})", value)
    return number


def whole_at(value: Any, where: str) -> int:
    """Return a whole number above 0."""
    number = whole_of(value, 1, int(LARGEST_NUMBER))
    if number is None:
        raise wrong(where, "a whole number above 0", value)
    return number


def flag_at(value: Any, where: str) -> bool:
    """Return true or false."""
    if not isinstance(value, bool):
        raise wrong(where, "true or false", value)
    return value


def noted_value_at(value: Any, where: str) -> int | str | None:
    """Return a count, a trait's name or None."""
    if value is None or isinstance(value, str):
        return value
    count = whole_of(value, 0, LARGEST_COUNT)
    if count is None:
        raise wrong(where, f"a whole number, a trait's name or null (a number up to {LARGEST_COUNT})", value)
    return count


def one_of(names: tuple[str, ...]) -> Check:
    """Return a check for one of some words."""

    def check(value: Any, where: str) -> str:
        if value not in names:
            raise wrong(where, "one of " + ", ".join(names), value)
        return str(value)

    return check


def or_none(check: Check) -> Check:
    """Return a check that lets null pass.

    Parameters
    ----------
    check : Check
        What any other value has to pass.

    Returns
    -------
    Check
        Takes a value and its place, returns None or what `check` returns, and raises as that does.
    """
    return lambda value, where: None if value is None else check(value, where)


def tuple_of(check: Check) -> Check:
    """Return a check for a list of such values."""

    def checked(value: Any, where: str) -> tuple[Any, ...]:
        if not isinstance(value, list | tuple):
            raise wrong(where, "a list", value)
        return tuple(check(item, f"{where}[{place}]") for place, item in enumerate(value))

    return checked


def exactly(length: int, check: Check) -> Check:
    """Return a check for a list of this length."""

    def checked(value: Any, where: str) -> tuple[Any, ...]:
        values: tuple[Any, ...] = tuple_of(check)(value, where)
        if len(values) != length:
            raise wrong(where, f"a list of {length}", value)
        return values

    return checked


def point_at(value: Any, where: str) -> Point:
    """Return a point (x, y).

    Parameters
    ----------
    value : Any
        As decoded from JSON.
    where : str
        Its place in the record: ``measurements[0].clicks_px[1]``.

    Returns
    -------
    (float, float)
        In px.

    Raises
    ------
    ValueError
        No list of two finite numbers; the message starts with the place.
    """
    x_px, y_px = exactly(2, number_at)(value, where)
    return (x_px, y_px)


def standoffs_at(value: Any, where: str) -> tuple[float, ...]:
    """Return one stand-off or several as a tuple.

    Parameters
    ----------
    value : Any
        As decoded from JSON: a number, or a list of numbers.
    where : str
        Its place in the record.

    Returns
    -------
    tuple of float
        In mm, of either sign.

    Raises
    ------
    ValueError
        One is no number of at most `LONGEST_MM`; the message starts with the place.
    """
    if isinstance(value, list | tuple):
        return tuple(tuple_of(height_at)(value, where))
    return (height_at(value, where),)


def entry_of(kind: type[Any], checks: Mapping[str, Check]) -> Check:
    """Return a check for an entry of fields."""
    return lambda value, where: built(kind, value, where, checks)
