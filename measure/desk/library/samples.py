"""The sample specimens offered on the page."""

import secrets
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from measure.demo import read_register, samples_folder
from measure.errors import MeasureError


@dataclass(frozen=True, slots=True)
class Sample:
    """One sample specimen as the start page offers it: its photos, with nothing measured yet.

    Attributes
    ----------
    handle : str
        Unguessable name in addresses.
    photos : tuple of Path
        At least one.
    name, text : str
        For people.
    sheet : str or None
        The sheet that goes with it.
    """

    handle: str
    photos: tuple[Path, ...]
    name: str
    text: str
    sheet: str | None


def read_samples() -> tuple[Sample, ...]:
    """Return the sample specimens of the register; none where it is missing or unreadable."""
    try:
        folder = samples_folder()
        register = read_register(folder)
        files = {str(one["id"]): folder / str(one["file"]) for one in register["photos"]}
        sheet = register.get("sheet")
        found = [_sample(one, files, sheet) for one in register["specimens"]]
    except (MeasureError, ValueError, KeyError, TypeError):
        return ()
    return tuple(one for one in found if one is not None)


def _sample(entry: dict[str, Any], files: dict[str, Path], sheet: str | None) -> Sample | None:
    photos = tuple(files[name] for name in entry["photos"] if files[name].is_file())
    if not photos:
        return None
    count = "one photo" if len(photos) == 1 else f"{len(photos)} photos"
    text = f"{entry.get('note', '')} {count[:1].upper()}{count[1:]}.".strip()
    return Sample(secrets.token_urlsafe(8), photos, str(entry["name"]), text, sheet)
