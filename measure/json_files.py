"""Reads the JSON that people and programs give: finite numbers, no key twice, nothing nested without end."""

import json
from pathlib import Path
from typing import Any

from measure.texts import cleaned
from references.errors import UnreadableError
from references.limits import DEEPEST, MOST_RECORD_BYTES, number_in, shortened, too_deep_at, whole_in
from references.text_files import read_text_file


class JsonError(ValueError):
    """A text that is no JSON, or holds what no file of ours may.

    Attributes
    ----------
    line : int or None
        Where, counted from 1; None where the parser doesn't tell.
    """

    def __init__(self, message: str, line: int | None = None) -> None:
        super().__init__(message)
        self.line = line


def parse_json(text: str) -> Any:
    """Return the value of a JSON text, its texts clean (see `texts.cleaned`).

    Parameters
    ----------
    text : str
        The whole text.

    Returns
    -------
    Any
        Dictionaries, lists, texts, finite numbers, true, false and None.

    Raises
    ------
    JsonError
        It is no JSON, nests deeper than `DEEPEST`, gives a key of one object twice, or holds NaN, an
        infinity or a number with too many digits.
    """
    deep = too_deep_at(text)
    if deep is not None:
        raise JsonError(f"nested too deeply; expected at most {DEEPEST} brackets within each other", deep)
    try:
        return cleaned(_DECODER.decode(text))
    except json.JSONDecodeError as error:
        raise JsonError(f"not valid JSON ({error.msg})", error.lineno) from error
    except ValueError as error:
        raise JsonError(str(error)) from error


def read_json(path: Path, *, most_bytes: int = MOST_RECORD_BYTES) -> Any:
    """Return the value of a JSON file.

    Parameters
    ----------
    path : Path
        A regular file in UTF-8.
    most_bytes : int
        A larger file is refused.

    Returns
    -------
    Any
        As for `parse_json`.

    Raises
    ------
    JsonError
        It can't be read, or as for `parse_json`; the message starts with the file, and the line where known.
    """
    try:
        return parse_json(read_text_file(path, most_bytes))
    except UnreadableError as error:
        raise JsonError(f"{path}: can't be read ({error})") from error
    except JsonError as error:
        where = path if error.line is None else f"{path}:{error.line}"
        raise JsonError(f"{where}: {error}", error.line) from error


def _once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    found = dict(pairs)
    if len(found) < len(pairs):
        keys = [key for key, _ in pairs]
        twice = next(key for key in found if keys.count(key) > 1)
        raise ValueError(f'"{shortened(twice)}" is given twice in one object; give it once')
    return found


def _no_constant(name: str) -> float:
    raise ValueError(f"the number {name} is not allowed; every number must be finite")


_DECODER = json.JSONDecoder(
    object_pairs_hook=_once, parse_constant=_no_constant, parse_float=number_in, parse_int=whole_in
)
