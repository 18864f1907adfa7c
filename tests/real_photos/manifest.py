"""The list of real photographs, and the folder that holds them on this machine.

No photograph is kept in this repository. `manifest.json` names for each one the public repository, commit,
path and checksum, and what is known of it (its truth). Tests that need photographs are skipped until these
have been fetched (`python -m tests.real_photos.fetch --into FOLDER`) and CARDSPAN_REAL_PHOTOS names their
folder.
"""

import json
import os
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

HERE = Path(__file__).resolve().parent
VARIABLE = "CARDSPAN_REAL_PHOTOS"
BESIDE = HERE.parents[2] / "shared"
"""Where photographs lie beside the checkout, if nothing else is said."""

Truth = dict[str, Any]


@dataclass(frozen=True)
class Photo:
    """One photograph of the list.

    Parameters
    ----------
    file : str
        Name inside the folder, such as ``photos/opencv_left03.jpg``.
    repository : str
        Address that git can fetch from.
    commit : str or None
        All 40 digits; None where nobody knows it, and then the photograph cannot be fetched.
    path : str
        Path inside the repository.
    sha256 : str
        Checksum of the file, 64 hexadecimal digits.
    truth : dict
        What is known of the photograph; see "about" in the manifest.
    """

    file: str
    repository: str
    commit: str | None
    path: str
    sha256: str
    truth: Truth


def read_manifest(path: Path = HERE / "manifest.json") -> list[Photo]:
    """Read the list of photographs, in its order."""
    listed = json.loads(path.read_text("utf-8"))["photos"]
    return [Photo(**{name: entry[name] for name in Photo.__dataclass_fields__}) for entry in listed]


@cache
def photos() -> tuple[Photo, ...]:
    """Return this repository's own list."""
    return tuple(read_manifest())


def folder() -> Path:
    """Return the folder of the photographs, whether or not any are there."""
    return Path(os.environ.get(VARIABLE) or BESIDE)


def path_of(file: str) -> Path:
    """Return where a photograph lies, or would lie."""
    return folder() / file


def having(use: str, collection: str = "photos") -> list[Truth]:
    """Return what is known of the photographs of one use that are at hand.

    Parameters
    ----------
    use : str
        ``metrology``, ``detection`` or ``negative``.
    collection : str, default: "photos"
        ``photos`` or ``photos2``.

    Returns
    -------
    list of dict
        The truths, each with the photograph's ``path``.
    """
    wanted = [each for each in photos() if _is_of(each, use, collection)]
    return [each.truth | {"path": path_of(each.file)} for each in wanted if path_of(each.file).exists()]


def at_hand() -> list[Truth]:
    """Return what is known of all photographs that are at hand, each with its ``path``."""
    return [each.truth | {"path": path_of(each.file)} for each in photos() if path_of(each.file).exists()]


def lacking(*uses: str, collection: str = "photos") -> str:
    """Say in one line which photographs of these uses are not at hand; empty if all are."""
    wanted = [each for each in photos() if any(_is_of(each, use, collection) for use in uses)]
    return lacking_files(*(each.file for each in wanted))


def lacking_files(*files: str) -> str:
    """Say in one line which of these photographs are not at hand; empty if all are."""
    missing = [file for file in files if not path_of(file).exists()]
    if not missing:
        return ""
    return (
        f"{len(missing)} of {len(files)} real photographs are missing; fetch them: "
        f"python -m tests.real_photos.fetch --into FOLDER, then set {VARIABLE}=FOLDER"
    )


def _is_of(photo: Photo, use: str, collection: str) -> bool:
    return use in photo.truth["use"] and photo.file.startswith(f"{collection}/")
