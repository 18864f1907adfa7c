"""What can be opened on the desk: sample photos, earlier records, release sheets."""

import secrets
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

from measure.desk.library import folders
from measure.desk.library.samples import Sample, read_samples

if TYPE_CHECKING:
    from references.release_sheet import Sheet


@dataclass(frozen=True, slots=True)
class _Record:
    handle: str
    path: Path
    name: str
    text: str


class Library:
    """Offers by unguessable handles, so that the page never names a path.

    Parameters
    ----------
    home : Path
        Earlier records made from the page are below it.
    """

    def __init__(self, home: Path) -> None:
        self.samples = read_samples()
        self._records = tuple(_record(path) for path in folders.earlier_records(home))

    def sample(self, handle: object) -> Sample | None:
        """Return the sample of this handle.

        Parameters
        ----------
        handle : object
            As the page sends it, of any type.

        Returns
        -------
        Sample or None
            None where nothing is offered under it.
        """
        return next((one for one in self.samples if one.handle == handle), None)

    def record(self, handle: object) -> Path | None:
        """Return the record of this handle.

        Parameters
        ----------
        handle : object
            As the page sends it, of any type.

        Returns
        -------
        Path or None
            None where nothing is offered under it.
        """
        return next((one.path for one in self._records if one.handle == handle), None)

    def add(self, record: Path, name: str) -> None:
        """Offer a record that was on the desk.

        Parameters
        ----------
        record : Path
            The record; nothing is offered where there is no such file.
        name : str
            What the page calls it.
        """
        if record.exists():
            self._records = (_record(record, name), *(one for one in self._records if one.path != record))

    def handle(self, record: Path) -> str | None:
        """Return the handle of a record, which is offered if it was not.

        Parameters
        ----------
        record : Path
            The record.

        Returns
        -------
        str or None
            None where it isn't there.
        """
        if all(one.path != record for one in self._records):
            self.add(record, record.name)
        return next((one.handle for one in self._records if one.path == record), None)

    def samples_json(self) -> list[dict[str, Any]]:
        """Return the samples for the page."""
        return [{"handle": one.handle, "name": one.name, "text": one.text} for one in self.samples]

    def records_json(self) -> list[dict[str, Any]]:
        """Return the earlier records for the page."""
        return [{"handle": one.handle, "name": one.name, "text": one.text} for one in self._records]

    def sheet_keys(self, record: Path | None, own: str | None) -> list[str]:
        """Return the keys of the sheets on offer.

        Parameters
        ----------
        record : Path or None
            Sheets that lie beside it are offered, too.
        own : str or None
            The sheet in use, offered wherever it lies.

        Returns
        -------
        list of str
            Shipped ones first, each once.
        """
        from references import shipped_keys

        keys = list(shipped_keys())
        if record is not None and record.parent.is_dir():
            keys += sorted(path.name for path in record.parent.glob("*.toml"))
        if own is not None and own not in keys:
            keys.append(own)
        return keys

    def sheets_json(self, record: Path | None, own: str | None) -> list[dict[str, str]]:
        """Return the sheets on offer for the page.

        Parameters
        ----------
        record : Path or None
            As for `sheet_keys`.
        own : str or None
            As for `sheet_keys`.

        Returns
        -------
        list of dict
            "key" and "name" of each.
        """
        return [{"key": key, "name": _sheet_name(key)} for key in self.sheet_keys(record, own)]

    def sheet(self, key: str, record: Path | None, *, given: bool) -> "tuple[Sheet, str]":
        """Read a sheet and return it with the name by which the record keeps it.

        Parameters
        ----------
        key : str
            Key of a shipped sheet, or a path: from the record's folder, or where `given` as the user named
            it.
        record : Path or None
            The record whose sheet it is.
        given : bool
            Named on the command line.

        Returns
        -------
        Sheet, str
            The sheet, and its key or a path from the record's folder.

        Raises
        ------
        SheetError
            It can't be used.
        """
        from references import named_sheet, shipped_keys

        if given and key not in shipped_keys():
            path = Path(key).resolve()
            return named_sheet(str(path)), folders.relative(path, record) if record else path.as_posix()
        return named_sheet(key, record.parent if record else None), key

    def take_sheet(self, record: Path, name: str, data: bytes) -> str:
        """Check a sheet uploaded on the page and keep it beside the record.

        Parameters
        ----------
        record : Path
            The record.
        name : str
            The file's name as the page sends it, made harmless here.
        data : bytes
            The file.

        Returns
        -------
        str
            Its name in the record's folder.

        Raises
        ------
        SheetError
            It has faults.
        """
        from references import read_sheet
        from references.errors import SheetError

        try:
            text = data.decode("utf-8")
        except UnicodeDecodeError as error:
            raise SheetError(f"{name}: not UTF-8 text; save the sheet as UTF-8") from error
        # A text without any line break would be taken for a path.
        read_sheet(f"{text}\n", name=folders.safe_name(name, "sheet.toml"))
        return folders.put(record.parent, name, data, "sheet.toml").name


def _record(path: Path, name: str = "") -> _Record:
    day = datetime.fromtimestamp(path.stat().st_mtime).strftime("%d %B %Y, %H:%M")
    return _Record(secrets.token_urlsafe(8), path, name or path.parent.name, f"last changed {day}")


def _sheet_name(key: str) -> str:
    from references import shipped_keys, shipped_sheet

    if key in shipped_keys():
        return shipped_sheet(key).subject
    return key.rsplit("/", 1)[-1]
