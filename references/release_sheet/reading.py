"""Reads a release sheet and finds every fault in one pass."""

import os
import re
import tomllib
from collections.abc import Sequence
from importlib.resources import files
from pathlib import Path

from references.errors import Fault, SheetError, UnknownSheetError, UnreadableError
from references.limits import DEEPEST, MOST_SHEET_BYTES, shortened, too_deep_at
from references.release_sheet.fields import FaultList, Fields
from references.release_sheet.reading_parts import read_part
from references.release_sheet.sheet import FORMAT, Part, Release, Sheet
from references.release_sheet.toml_lines import line_numbers
from references.text_files import read_text_file

DEFAULT_SWAP_RATE = 0.05
DEFAULT_MISSING_RATE = 0.05
DEFAULT_RECAST_RATE = 0.02
PRIOR_SUM_SLACK = 0.01
LARGEST_RATE = 0.5
RESERVED = ("absent", "unknown", "none", "other", "recast")

_ID = re.compile(r"[a-z0-9][a-z0-9_-]{0,99}")
_AT_LINE = re.compile(r"\s*\(at line (\d+), column \d+\)$")


def read_sheet(source: str | Path, *, name: str | None = None) -> Sheet:
    """Read a release sheet.

    Parameters
    ----------
    source : str or Path
        A path, or the TOML text itself (a str with a line break).
    name : str, optional
        What to call the sheet in errors; by default the path, or ``sheet`` for a text.

    Returns
    -------
    Sheet
        Shares of the releases add up to 1; lengths are in mm whatever the file's unit.

    Raises
    ------
    SheetError
        Where the file cannot be read or holds any fault; ``faults`` lists all of them with their lines.
    """
    text, file, key = _load(source, name)
    faults, sheet = _read_text(text, key)
    if faults:
        raise SheetError.from_faults(file, tuple(sorted(faults, key=lambda fault: fault.line)))
    assert sheet is not None
    return sheet


def find_faults(text: str) -> tuple[Fault, ...]:
    """Return every fault of a sheet's text, in the order of the lines.

    Parameters
    ----------
    text : str
        The TOML text.

    Returns
    -------
    tuple of Fault
        Empty for a usable sheet. Text that isn't TOML has one fault.
    """
    return tuple(sorted(_read_text(text, "sheet")[0], key=lambda fault: fault.line))


def shipped_keys() -> tuple[str, ...]:
    """List the sheets that come with the program.

    Returns
    -------
    tuple of str
        The keys, sorted.
    """
    folder = files("references") / "sheets"
    return tuple(
        sorted(entry.name.removesuffix(".toml") for entry in folder.iterdir() if entry.name.endswith(".toml"))
    )


def shipped_text(key: str) -> str:
    """Return the text of a shipped sheet.

    Parameters
    ----------
    key : str
        One of `shipped_keys`.

    Returns
    -------
    str
        The TOML text.

    Raises
    ------
    UnknownSheetError
        No shipped sheet has that name.
    """
    if key not in shipped_keys():
        raise UnknownSheetError(
            f'no sheet is called "{key}": give a file, or one of {", ".join(shipped_keys())}'
        )
    return (files("references") / "sheets" / f"{key}.toml").read_text(encoding="utf-8")


def shipped_sheet(key: str) -> Sheet:
    """Read a sheet that comes with the program.

    Parameters
    ----------
    key : str
        One of `shipped_keys`.

    Returns
    -------
    Sheet

    Raises
    ------
    UnknownSheetError
        No shipped sheet has that name.
    """
    _, sheet = _read_text(shipped_text(key), key)
    assert sheet is not None
    return sheet


def named_sheet(name: str, folder: Path | None = None) -> Sheet:
    """Read the sheet that a user or a record names.

    Parameters
    ----------
    name : str
        The key of a sheet that comes with the program, or a path.
    folder : Path, optional
        Where a relative path starts; the working folder by default.

    Returns
    -------
    Sheet
        A shipped one where there is one of that key, else the file's.

    Raises
    ------
    SheetError
        The file can't be read or holds any fault.
    """
    return shipped_sheet(name) if name in shipped_keys() else read_sheet(_path_of(name, folder))


def named_text(name: str, folder: Path | None = None) -> str:
    """Return the text of the sheet that a user or a record names.

    Parameters
    ----------
    name, folder
        As for `named_sheet`.

    Returns
    -------
    str
        The TOML text.

    Raises
    ------
    UnreadableError
        The file can't be read.
    """
    if name in shipped_keys():
        return shipped_text(name)
    return read_text_file(_path_of(name, folder), MOST_SHEET_BYTES)


def _path_of(name: str, folder: Path | None) -> Path:
    # Relative names are written lexically, so that `..` undoes the last folder named, even if that is a link.
    return Path(name) if folder is None else Path(os.path.normpath(folder / name))


def _load(source: str | Path, name: str | None) -> tuple[str, str, str]:
    if isinstance(source, str) and "\n" in source:
        return source, name or "sheet", Path(name or "sheet").stem
    path = Path(source)
    file = name or str(source)
    try:
        return read_text_file(path, MOST_SHEET_BYTES), file, path.stem
    except UnreadableError as error:
        raise SheetError(
            f"{file}: cannot be read ({error}); give a release sheet in TOML, saved as UTF-8, or the key of"
            f" one that comes along: {', '.join(shipped_keys())}",
            file=file,
        ) from None


def _read_text(text: str, key: str) -> tuple[Sequence[Fault], Sheet | None]:
    if len(text) > MOST_SHEET_BYTES:
        return [Fault(1, "file", f"larger than {MOST_SHEET_BYTES >> 20} MB", "a release sheet")], None
    deep = too_deep_at(text)
    if deep is not None:
        expected = f"at most {DEEPEST} brackets, or keys with dots, within each other"
        return [Fault(deep, "file", "nested too deeply", expected)], None
    try:
        table = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        return [_syntax_fault(text, str(error))], None
    except ValueError:  # Python refuses to read a whole number of thousands of digits
        return [Fault(1, "file", "a number has thousands of digits", "numbers that mean something")], None
    faults = FaultList(line_numbers(text))
    sheet = _read_top(Fields(table, (), "", faults), key)
    return faults.faults, sheet


def _syntax_fault(text: str, message: str) -> Fault:
    match = _AT_LINE.search(message)
    line = int(match[1]) if match else max(1, len(text.rstrip().splitlines()))
    reason = shortened(
        _AT_LINE.sub("", message).replace(" (at end of document)", " at the end of the file"), 200
    )
    return Fault(line, "TOML", reason[:1].lower() + reason[1:], "TOML 1.0 syntax")


TOP_FIELDS = (
    "format", "subject", "maker", "unit", "note", "swap_rate", "missing_rate", "recast_rate", "release",
    "part",
)  # fmt: skip


def _read_top(fields: Fields, key: str) -> Sheet:
    fields.refuse_unknown(TOP_FIELDS)
    if fields.table.get("format") != FORMAT:
        given = fields.table.get("format")
        fields.fault("format", "missing" if given is None else f'"{given}" is another format', f'"{FORMAT}"')
    unit = fields.choice("unit", ("mm", "in")) or "mm"
    releases = _read_releases(fields)
    ids = tuple(release.id for release in releases)
    parts: list[Part] = []
    for part_fields in fields.tables("part", "part"):
        part_id = read_id(part_fields, [part.id for part in parts])
        parts.append(read_part(part_fields, part_id, unit, ids, read_id))
    return Sheet(
        key=key,
        subject=fields.text("subject"),
        maker=fields.text("maker", ""),
        unit=unit,
        swap_rate=fields.share("swap_rate", DEFAULT_SWAP_RATE, most=LARGEST_RATE),
        missing_rate=fields.share("missing_rate", DEFAULT_MISSING_RATE, most=LARGEST_RATE),
        recast_rate=fields.share("recast_rate", DEFAULT_RECAST_RATE, most=LARGEST_RATE),
        releases=releases,
        parts=tuple(parts),
        note=fields.text("note", ""),
    )


def read_id(fields: Fields, taken: Sequence[str]) -> str:
    """Return the id of a table, noting a fault if it is missing, malformed, reserved or already taken."""
    given = fields.table.get("id")
    if given is None:
        fields.fault("id", "missing", 'a short key such as "bow-plate"')
        return ""
    if not isinstance(given, str) or not _ID.fullmatch(given):
        fields.fault("id", f"{given!r} is not a key", "lower-case letters, digits and hyphens")
    elif given in RESERVED:
        fields.fault("id", f'"{given}" is a reserved word in a sheet', "another key")
    elif given in taken:
        fields.fault("id", f'"{given}" is used twice', "an id of its own")
    return str(given)


def _read_releases(fields: Fields) -> tuple[Release, ...]:
    releases: list[Release] = []
    tables = list(fields.tables("release", "release"))
    given = ["prior" in table.table for table in tables]
    for table in tables:
        table.refuse_unknown(("id", "name", "made", "prior", "note"))
        release_id = read_id(table, [release.id for release in releases])
        if any(given) and "prior" not in table.table:
            table.fault("prior", "missing", "a share for every release, or for none (then all are equal)")
        prior = table.share("prior", 1 / len(tables), most=1)
        name, made = table.text("name", release_id), table.text("made", "")
        releases.append(Release(release_id, name, made, prior, table.text("note", "")))
    total = sum(release.prior for release in releases)
    if tables and all(given) and abs(total - 1) > PRIOR_SUM_SLACK:
        tables[0].fault(
            "prior", f"the shares of all releases add up to {total:.4g}", "shares that add up to 1"
        )
    scale = total if total > 0 else 1.0
    return tuple(
        Release(release.id, release.name, release.made, release.prior / scale, release.note)
        for release in releases
    )
