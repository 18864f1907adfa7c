"""Finds a record's photos: beside the record, in the folder above, or in another folder by their digest."""

import hashlib
from pathlib import Path
from typing import TYPE_CHECKING

from measure.record import PhotoEntry

if TYPE_CHECKING:
    from calibration.image import Photo

_ENDINGS = {".jpg", ".jpeg", ".png", ".tif", ".tiff", ".webp", ".heic", ".heif", ".avif", ".mpo"}
_MOST_FILES = 2000
MISSING = "the photo was not found; its numbers are shown as recorded"
CHANGED = "the file of this name is not the photo that was measured (its SHA-256 differs); it was not used"


def found_photos(
    entries: tuple[PhotoEntry, ...], folder: Path, elsewhere: Path | None = None
) -> "list[tuple[Photo | None, str]]":
    """Find and read photos.

    Parameters
    ----------
    entries : tuple of PhotoEntry
        What the record says of each.
    folder : Path
        The record's folder; the one above it is searched too, since a write-up often lies beside its photos.
    elsewhere : Path, optional
        Another folder, where they may have any name.

    Returns
    -------
    list of (Photo or None, str)
        Each photo whose digest is the recorded one, or None and why.

    Raises
    ------
    PhotoError
        A file with the right digest can't be read as a photo.
    """
    by_digest = _digests(elsewhere) if elsewhere is not None else {}
    return [_found(entry, folder, by_digest) for entry in entries]


def _found(entry: PhotoEntry, folder: Path, by_digest: dict[str, Path]) -> "tuple[Photo | None, str]":
    from calibration.image import read_photo

    beside = folder / entry.file
    known = by_digest.get(entry.sha256)
    for place in (beside, folder.parent / entry.file, *([known] if known else [])):
        if place.is_file() and digest(place) == entry.sha256:
            return read_photo(place), ""
    return None, CHANGED if beside.is_file() else MISSING


def digest(path: Path) -> str:
    """Return a file's SHA-256."""
    with path.open("rb") as stream:
        return hashlib.file_digest(stream, "sha256").hexdigest()


def _digests(folder: Path) -> dict[str, Path]:
    files = [path for path in sorted(folder.rglob("*")) if path.suffix.lower() in _ENDINGS and path.is_file()]
    return {digest(path): path for path in reversed(files[:_MOST_FILES])}
