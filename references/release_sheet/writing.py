"""Changes values in a sheet's text and keeps its comments, order and layout."""

from collections.abc import Mapping
from typing import Any

import tomlkit
from tomlkit.items import InlineTable, Item

from references.errors import SheetError
from references.release_sheet.lengths import MM_PER_INCH
from references.release_sheet.reading import read_sheet
from references.release_sheet.values import Counts, Marker, Normal, Range, Traits, Value

_DECIMALS = {"mm": 3, "in": 4}


def set_value(text: str, place: tuple[str, str, str], value: Value) -> str:
    """Return the text of a sheet with one feature's value for one release changed.

    Parameters
    ----------
    text : str
        A sheet without faults.
    place : (str, str, str)
        Release, part and feature.
    value : Value
        The new value; lengths are written in the sheet's unit.

    Returns
    -------
    str
        Everything else, comments included, stays as it is.

    Raises
    ------
    SheetError
        Where the sheet has faults, or no such place, before or after the change.
    """
    read_sheet(text)
    document: Any = tomlkit.parse(text)
    release, part_id, feature_id = place
    features = [
        feature
        for part in document["part"]
        if part["id"] == part_id
        for feature in part["feature"]
        if feature["id"] == feature_id
    ]
    if not features or release not in features[0]["by_release"]:
        raise SheetError(
            f'the sheet has no release "{release}" under part "{part_id}", feature "{feature_id}"'
        )
    by_release = features[0]["by_release"]
    old = by_release[release]
    new = tomlkit.item(_plain(value, str(document["unit"])))
    trivia = getattr(old, "trivia", None)
    if trivia is not None and not isinstance(by_release, InlineTable):
        new.trivia.comment_ws, new.trivia.comment = trivia.comment_ws, trivia.comment
    by_release[release] = new
    changed = tomlkit.dumps(document)
    read_sheet(changed)
    return changed


def _plain(value: Value, unit: str) -> Any:
    if isinstance(value, Marker):
        return value.value
    if isinstance(value, Range):
        pairs = {"min": _length(value.low_mm, unit), "max": _length(value.high_mm, unit), "n": value.examples}
    elif isinstance(value, Normal):
        pairs = {"mean": _length(value.mean_mm, unit), "sd": _length(value.sd_mm, unit), "n": value.examples}
    else:
        return _frequencies(value)
    return _inline({**pairs, "source": value.source or None})


def _frequencies(value: Counts | Traits) -> Any:
    pairs: Mapping[str, Any] = {str(key): share for key, share in value.frequencies.items()}
    return _inline({**pairs, "source": value.source or None})


def _inline(pairs: Mapping[str, Any]) -> Item:
    """Write an inline table with a space inside its braces, as people write it."""
    fields = [
        f"{tomlkit.key(key).as_string()} = {tomlkit.item(value).as_string()}"
        for key, value in pairs.items()
        if value is not None
    ]
    return tomlkit.value("{ " + ", ".join(fields) + " }")


def _length(length_mm: float, unit: str) -> float:
    return round(length_mm / (MM_PER_INCH if unit == "in" else 1.0), _DECIMALS[unit])
