"""The sample photos, offered to try."""

import json
import secrets
from dataclasses import dataclass
from importlib.resources import files
from pathlib import Path
from typing import Any

_REGISTER = "register.json"


@dataclass(frozen=True, slots=True)
class Sample:
    """One sample photo as the start page offers it.

    Attributes
    ----------
    handle : str
        Unguessable name in addresses.
    path : Path
    name, text : str
        For people.
    sheet : str or None
        The sheet that goes with it.
    """

    handle: str
    path: Path
    name: str
    text: str
    sheet: str | None


def samples_folder() -> Path | None:
    """Return where the samples lie: in the package, or beside it in a checkout."""
    package = Path(str(files("measure")))
    for folder in (package / "samples", package.parent / "sample_images"):
        if (folder / _REGISTER).is_file():
            return folder
    return None


def read_samples() -> tuple[Sample, ...]:
    """Return the sample photos of the register; none where it is missing or unreadable."""
    folder = samples_folder()
    if folder is None:
        return ()
    try:
        register = json.loads((folder / _REGISTER).read_text("utf-8"))
    except (OSError, ValueError):
        return ()
    entries = register.get("photos", register.get("files", [])) if isinstance(register, dict) else register
    return tuple(
        sample for entry in entries if isinstance(entry, dict) and (sample := _sample(folder, entry))
    )


def _sample(folder: Path, entry: dict[str, Any]) -> Sample | None:
    path = folder / str(entry.get("file", ""))
    if path.suffix.lower() not in (".jpg", ".jpeg", ".png") or not path.is_file():
        return None
    name = str(entry.get("name") or path.stem.replace("-", " ").replace("_", " ").capitalize())
    return Sample(
        secrets.token_urlsafe(8),
        path,
        name,
        str(entry.get("text", "")),
        entry.get("sheet", "saltmarsh-ferry"),
    )
