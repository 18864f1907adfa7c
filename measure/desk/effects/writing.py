"""What follows from the record: the verdict, and the files of the write-up."""

import secrets
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from measure.desk.library import folders
from measure.errors import MeasureError
from measure.record import Specimen, VerdictEntry
from references.errors import SheetError

if TYPE_CHECKING:
    from references.release_sheet import Sheet


def judged(specimen: Specimen, sheet: "Sheet") -> tuple[VerdictEntry | None, str | None]:
    """Return the verdict, or the reason why there is none."""
    from measure.redo import judge_specimen

    ready = tuple(one for one in specimen.measurements if one.result is not None)
    try:
        return judge_specimen(replace(specimen, measurements=ready), sheet), None
    except (MeasureError, SheetError) as error:
        return None, str(error)


class KeptFiles:
    """The files of the last write-up, by unguessable handles."""

    def __init__(self) -> None:
        self.folder: Path | None = None
        self._files: dict[str, Path] = {}

    def path(self, handle: str) -> Path | None:
        """Return the file of this handle, or None."""
        return self._files.get(handle)

    def to_json(self) -> list[dict[str, str]]:
        """Return name and size of each file."""
        return [
            {"handle": handle, "name": path.name, "size": _size(path.stat().st_size)}
            for handle, path in self._files.items()
            if path.is_file()
        ]

    def write(self, record: Path) -> None:
        """Write the record up, into a folder beside it.

        Raises
        ------
        MeasureError
            It can't be written.
        """
        from measure.writeup import write_up

        stem = record.name.removesuffix(folders.SUFFIX)
        folder = record.parent / f"{stem}-write-up"
        write_up(record, folder)
        self.folder = folder
        found = sorted(path for path in folder.rglob("*") if path.is_file() and not path.name.startswith("."))
        self._files = {secrets.token_urlsafe(8): path for path in found}


def _size(size_bytes: int) -> str:
    return f"{size_bytes / 2**20:.1f} MB" if size_bytes > 2**20 else f"{max(1, size_bytes // 1024)} kB"
