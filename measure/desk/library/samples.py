"""The sample specimens offered on the page."""

import secrets
from dataclasses import dataclass
from pathlib import Path

from measure.demo import SampleSpecimen, samples_folder
from measure.demo import read_samples as read_installed
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
        samples = read_installed(folder)
    except MeasureError:
        return ()
    found = [_sample(one, folder, samples.sheet) for one in samples.specimens]
    return tuple(one for one in found if one is not None)


def _sample(shown: SampleSpecimen, folder: Path, sheet: str) -> Sample | None:
    photos = tuple(folder / photo.file for photo in shown.photos if (folder / photo.file).is_file())
    if not photos:
        return None
    count = "one photo" if len(photos) == 1 else f"{len(photos)} photos"
    text = f"{shown.note} {count[:1].upper()}{count[1:]}.".strip()
    return Sample(secrets.token_urlsafe(8), photos, shown.name, text, sheet)
