"""The list of a write-up's files with their digests, and how they were made."""

import hashlib
import json
from collections.abc import Mapping
from dataclasses import dataclass
from importlib.metadata import version
from pathlib import Path
from typing import Any

from measure.errors import MeasureError
from measure.json_files import JsonError, read_json
from measure.writeup.draw import fallbacks
from measure.writeup.gather import Evidence, bare_name

FORMAT = "cardspan-write-up/1"
MANIFEST = "write-up.json"
RECORD = "record.specimen.json"
OTHER = "other.specimen.json"
# Software that can change a picture or a page without changing a number.
_MAKERS = ("fpdf2", "matplotlib", "numpy", "opencv-python", "pillow")


@dataclass(frozen=True, slots=True)
class Manifest:
    """How a write-up was made, and its files.

    Attributes
    ----------
    program : str
        Program and version.
    made_with : mapping of str to str
        Versions of the packages that can change a picture or a page.
    show_card, inches_first : bool
    paper, date : str
        As asked for.
    photos_shown : tuple of bool
        Whether each photo of the records was at hand.
    files : mapping of str to str
        SHA-256 of each, by its bare name.
    """

    program: str
    made_with: Mapping[str, str]
    show_card: bool
    inches_first: bool
    paper: str
    date: str
    photos_shown: tuple[bool, ...]
    files: Mapping[str, str]


def manifest(
    files: Mapping[str, bytes], specimens: tuple[Evidence, ...], *, show_card: bool, paper: str, date: str
) -> bytes:
    """Return the manifest of a folder, as JSON.

    Parameters
    ----------
    files : mapping of str to bytes
        The write-up's files by name, without the manifest itself.
    specimens : tuple of Evidence
        The one written up, and the other that it is compared with.
    show_card : bool
        Whether the reference's face was left uncovered.
    paper : str
        "a4" or "letter".
    date : str
        The ISO date asked for, or the empty text.

    Returns
    -------
    bytes
        In UTF-8, with the SHA-256 of each file and photo.
    """
    words = files["evidence.html"].decode("utf-8") if "evidence.html" in files else ""
    fonts, unset = fallbacks("".join(sorted({c for c in words if ord(c) > 0x24F})))
    data = {
        "format": FORMAT,
        "program": specimens[0].program,
        "made_with": {name: version(name) for name in _MAKERS},
        "fonts_added": [font.name for font in fonts],
        "characters_not_set": sorted(unset),
        "options": {
            "show_card": show_card, "paper": paper, "inches_first": specimens[0].inches_first, "date": date,
        },
        "photos": [
            {"file": bare_name(p.entry.file), "sha256": p.entry.sha256, "shown": p.photo is not None}
            for evidence in specimens
            for p in evidence.photos
        ],
        "files": {name: hashlib.sha256(data).hexdigest() for name, data in sorted(files.items())},
    }  # fmt: skip
    return (json.dumps(data, ensure_ascii=False, indent=1) + "\n").encode("utf-8")


def read_manifest(folder: Path) -> Manifest:
    """Read a folder's manifest.

    Parameters
    ----------
    folder : Path
        A write-up's folder.

    Returns
    -------
    Manifest

    Raises
    ------
    MeasureError
        There is none, or it is not a manifest.
    """
    path = folder / MANIFEST
    try:
        data = read_json(path)
    except JsonError as error:
        raise MeasureError(
            f"{error}; expected the folder of a write-up; if it is damaged, make the write-up again"
        ) from error
    files = data.get("files") if isinstance(data, dict) else None
    if not isinstance(files, dict) or data.get("format") != FORMAT:
        raise MeasureError(f'{path}: format: expected "{FORMAT}"; make the write-up again')
    if not all(_is_plain_name(name) for name in files):
        raise MeasureError(f"{path}: files: expected bare file names; make the write-up again")
    try:
        return _manifest_of(data)
    except (AttributeError, TypeError, ValueError) as error:
        raise MeasureError(f"{path}: can't be used ({error}); make the write-up again") from error


def _manifest_of(data: Mapping[str, Any]) -> Manifest:
    options = data.get("options") or {}
    return Manifest(
        program=str(data.get("program")),
        made_with=dict(data.get("made_with") or {}),
        show_card=bool(options.get("show_card")),
        inches_first=bool(options.get("inches_first")),
        paper=str(options.get("paper", "a4")),
        date=str(options.get("date", "")),
        photos_shown=tuple(bool(photo.get("shown")) for photo in data.get("photos", ())),
        files=data["files"],
    )


def _is_plain_name(name: str) -> bool:
    return Path(name).name == name and "\\" not in name and name not in ("", ".", "..")


def stale_files(folder: Path, files: Mapping[str, bytes]) -> tuple[str, ...]:
    """Name files that an earlier write-up left here, unchanged since, that the new one lacks.

    Parameters
    ----------
    folder : Path
        Where a write-up goes.
    files : mapping of str to bytes
        The new one's files by name.

    Returns
    -------
    tuple of str
        Empty without an earlier manifest that can be read.
    """
    try:
        old = read_manifest(folder).files
    except MeasureError:
        return ()
    return tuple(
        name
        for name, digest in old.items()
        if name not in files
        and (folder / name).is_file()
        and hashlib.sha256((folder / name).read_bytes()).hexdigest() == digest
    )
