"""Release sheets: read for the desk, and taken in from the page."""

from pathlib import Path
from typing import TYPE_CHECKING

from measure.desk.library import Library
from measure.desk.messages import AskError, tasks, workers
from measure.desk.view import verdict_json, verdict_of
from measure.errors import MeasureError, RecordError
from measure.record import Specimen
from references.errors import SheetError

if TYPE_CHECKING:
    from references.release_sheet import Sheet

_HOW = {"offered": "chosen", "given": "learned", "first": "laid"}


def read_sheet(task: tasks.ReadSheet, library: Library, record: Path | None) -> object:
    """Read a sheet, as `ReadSheet` says.

    Parameters
    ----------
    task : ReadSheet
        What is wanted.
    library : Library
        Has the sheets.
    record : Path or None
        Whose sheet it is.

    Returns
    -------
    SheetRead or SheetRefused
    """
    key, how, own = task.key, task.how, task.specimen
    if how == "offered" and key is not None and key not in library.sheet_keys(record, own.sheet):
        raise AskError("This sheet is not among those offered.")
    if key is None:
        return workers.SheetRead(None, None, _HOW.get(how, how))
    try:
        sheet, mark = library.sheet(key, record, given=how == "given")
    except (MeasureError, SheetError) as error:
        if how == "laid":
            return workers.SheetRefused(str(error))
        raise
    return workers.SheetRead(sheet, mark, _HOW.get(how, how), _showable(own, sheet))


def keep_sheet(task: tasks.KeepSheet, library: Library, record: Path) -> workers.SheetRead:
    """Check a sheet from the page and keep it beside the record."""
    key = library.take_sheet(record, task.name, task.data)
    return workers.SheetRead(library.sheet(key, record, given=False)[0], key, "uploaded")


def _showable(specimen: Specimen, sheet: "Sheet") -> bool:
    """Tell whether a recorded verdict can be shown."""
    try:
        judged = verdict_of(specimen)
        if judged is not None:
            verdict_json(judged, specimen, sheet)
    except (RecordError, ArithmeticError, LookupError, ValueError):
        return False
    return True
