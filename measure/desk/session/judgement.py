"""The release sheet on the desk, and the verdict that follows the findings."""

import threading
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any, Protocol

from measure.desk.changes import Ask, AskError, History, Notices
from measure.desk.library import Library, folders
from measure.desk.session import writing
from measure.desk.session.latest import Latest
from measure.errors import MeasureError, RecordError
from measure.record import Specimen, VerdictEntry, read_verdict
from references.errors import SheetError

if TYPE_CHECKING:
    from references.release_sheet import Sheet


class Desk(Protocol):
    """What is needed of the session."""

    lock: threading.RLock
    history: History[Specimen]
    record: Path | None
    notices: Notices
    library: Library

    def commit(self, after: Specimen, title: str) -> None:
        """Make a new state."""

    def save(self) -> None:
        """Keep the present state."""

    def tell(self) -> None:
        """Tell the page."""

    def need_record(self, photo: Path | None = None) -> Path:
        """Return where the record lies."""

    def failed(self, doing: str, error: Exception) -> str:
        """Report a fault of the program."""


class Judgement:
    """The sheet in use, and judging in the background.

    Parameters
    ----------
    desk : Desk
        The session.

    Attributes
    ----------
    sheet : Sheet or None
        What is compared with.
    mark : str
        The name by which the record keeps it; changes with the sheet.
    trouble : str or None
        Why there is no verdict.
    """

    def __init__(self, desk: Desk) -> None:
        self._desk = desk
        self._work = Latest("judge", desk.tell, self._failed)
        self.sheet: Sheet | None = None
        self.mark = ""
        self.trouble: str | None = None

    @property
    def verdict(self) -> VerdictEntry | None:
        """The verdict on the present state; one from a file is read."""
        kept = self._desk.history.present.verdict
        return kept if isinstance(kept, VerdictEntry | None) else read_verdict(kept)

    @property
    def busy(self) -> bool:
        """Whether a verdict is being computed."""
        return self._work.busy

    def lay(self, key: str | None, *, given: bool = False, quiet: bool = False) -> None:
        """Read a sheet.

        Parameters
        ----------
        key : str or None
            A shipped sheet's key or a path; None takes the sheet away.
        given : bool
            Named on the command line; it joins the record.
        quiet : bool
            Tell the page of a bad sheet instead of raising.

        Raises
        ------
        MeasureError, SheetError
            It can't be used.
        """
        if key is None:
            self.sheet, self.mark = None, ""
            return
        if key == self.mark and self.sheet is not None:
            return
        try:
            self.sheet, self.mark = self._desk.library.sheet(key, self._desk.record, given=given)
        except (MeasureError, SheetError) as error:
            if not quiet:
                raise
            self.sheet, self.mark = None, ""
            self._desk.notices.add(str(error), wrong=True)
            return
        if given:
            named = self.mark
            self._desk.history.amend(lambda state: replace(state, sheet=named))

    def named_for(self, record: Path | None) -> str | None:
        """Return the name by which another record keeps the sheet; for none, one that holds anywhere."""
        from references import shipped_keys

        if self.sheet is None or self.mark in shipped_keys():
            return self.mark or None
        own = self._desk.record
        path = folders.resolve(self.mark, own) if own is not None else Path(self.mark).absolute()
        return path.as_posix() if record is None else folders.relative(path, record)

    def check_recorded(self) -> None:
        """Drop a recorded verdict that can't be shown: it is recomputed."""
        from measure.desk.view import verdict_json

        specimen = self._desk.history.present
        if self.sheet is None:
            return
        try:
            judged = self.verdict
            if judged is not None:
                verdict_json(judged, specimen, self.sheet)
        except (RecordError, ArithmeticError, LookupError, ValueError):
            self._desk.history.settle(replace(specimen, verdict=None))
            self.follow()

    def choose(self, ask: Ask) -> dict[str, Any]:
        """Use another sheet, from those on offer."""
        desk, key = self._desk, ask.get("sheet")
        present = desk.history.present
        if key is not None and key not in desk.library.sheet_keys(desk.record, present.sheet):
            raise AskError("This sheet is not among those offered.")
        self.lay(key)
        desk.commit(replace(present, sheet=key, verdict=None), "choice of sheet")
        return {}

    def take(self, name: str, data: bytes) -> dict[str, Any]:
        """Take in a sheet uploaded on the page.

        Raises
        ------
        SheetError
            It has faults; the message names them.
        """
        desk = self._desk
        with desk.lock:
            named = desk.library.take_sheet(desk.need_record(), name, data)
            self.sheet = None
            self.lay(named)
            desk.commit(replace(desk.history.present, sheet=named, verdict=None), "choice of sheet")
        return {"sheet": named}

    def follow(self) -> None:
        """Judge the present state again, in the background."""
        specimen, sheet = self._desk.history.present, self.sheet
        if sheet is None or not writing.anything_to_judge(specimen):
            self._work.drop()
            self.trouble = None
            if specimen.verdict is not None:
                self._desk.history.settle(replace(specimen, verdict=None))
            return
        task: Callable[[], None] = lambda: self._judge(specimen, sheet)  # noqa: E731 - names the type
        self._work.ask(task)

    def _judge(self, specimen: Specimen, sheet: "Sheet") -> None:
        verdict, trouble = writing.judged(specimen, sheet)
        with self._desk.lock:
            if self._desk.history.present is not specimen:
                return
            self.trouble = trouble
            self._desk.history.settle(replace(specimen, verdict=verdict))
            self._desk.save()

    def _failed(self, error: Exception) -> None:
        self.trouble = self._desk.failed("Working out the verdict", error)

    def close(self) -> None:
        """Finish and stop."""
        self._work.flush()
        self._work.close()
