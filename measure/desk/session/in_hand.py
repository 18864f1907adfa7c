"""Which record is on the desk, and the change from one to another: each toy has a record of its own."""

from dataclasses import replace
from pathlib import Path
from typing import Protocol

from measure.desk.changes import ACTIONS, AskError, History, Notices
from measure.desk.library import Library, folders
from measure.desk.photos import PhotoStore
from measure.desk.session.judgement import Judgement
from measure.desk.session.keeper import Keeper
from measure.record import Specimen

# The step by which photos are taken off.
REMOVED = ACTIONS["remove photo"][0]


class Desk(Protocol):
    """What is needed of the session."""

    home: Path
    history: History[Specimen]
    notices: Notices
    library: Library
    photo_store: PhotoStore
    judgement: Judgement

    def tell(self) -> None:
        """Tell the page."""

    def announce(self, text: str) -> None:
        """Say on the terminal what the page shows for as long as it holds."""

    def push(self, after: Specimen, title: str) -> None:
        """Make a new state."""

    def lay(self, history: History[Specimen]) -> None:
        """Put another record's states on the desk."""

    def lay_out(self) -> None:
        """Open the photos and the sheet of the present state."""


class InHand:
    """The record that the present state goes to.

    Parameters
    ----------
    desk : Desk
        The session.

    Attributes
    ----------
    keeper : Keeper
        Saves it.
    laid : int
        Counts the records that were on the desk; the page forgets what it knew of an earlier one.
    """

    def __init__(self, desk: Desk) -> None:
        self._desk = desk
        self.keeper = Keeper(desk.tell, desk.announce)
        self.laid = 0
        # The state with all photos taken off, and what its record still holds.
        self._bare: Specimen | None = None
        self._whole = Specimen("")

    # ---- the present one ----

    @property
    def bare(self) -> bool:
        """Whether all photos were taken off, so that what comes next begins a record of its own."""
        return self._bare is not None and self._desk.history.present is self._bare

    @property
    def path(self) -> Path | None:
        """Where the present state is kept, if it is kept at all."""
        return None if self.bare else self.keeper.path

    @property
    def left(self) -> tuple[str, Path] | None:
        """Name and place of the record whose photos were all taken off, while nothing has followed."""
        path = self.keeper.kept_in
        return (self._whole.name, path) if self.bare and path is not None else None

    @property
    def saved(self) -> bool:
        """Whether the present state is on disk."""
        return self.keeper.has(self._to_keep)

    @property
    def anything(self) -> bool:
        """Whether there is anything worth a record."""
        one = self._to_keep
        return bool(one.photos or one.measurements or one.observations or one.name or one.note)

    @property
    def _to_keep(self) -> Specimen:
        return self._whole if self.bare else self._desk.history.present

    def need(self, photo: Path | None) -> Path:
        """Return where the record lies; chosen where there is none yet, beside the photo if one is given."""
        if self.bare:
            self._begin(photo)
        return self.keeper.path or self._choose(photo)

    def save(self) -> None:
        """Ask for the present state to be written."""
        if self.anything:
            if not self.bare:
                self.need(None)
            self.keeper.ask(self._to_keep)

    # ---- from one to another ----

    def clear(self) -> None:
        """Take the last photos off: their record stays as it was, and what comes next begins another."""
        whole = self._desk.history.before(REMOVED)
        sheet = self._desk.judgement.named_for(None)
        self._leave(whole)
        self._whole, self._bare = whole, Specimen("", sheet=sheet)
        self._desk.judgement.mark = sheet or ""
        self._desk.push(self._bare, REMOVED)

    def readied(self, after: Specimen) -> Specimen:
        """Return a new state as it is to be taken; where all photos were taken off, it begins a record."""
        if not self.bare:
            return after
        before = self._desk.history.present
        self._begin(None)
        return (
            replace(after, sheet=self._desk.history.present.sheet) if after.sheet == before.sheet else after
        )

    def begin(self) -> None:
        """Leave the record that is on the desk, complete, and begin another for what comes next."""
        one = self._desk.history.present
        if self.bare or one.photos or one.measurements or one.observations:
            self._begin(None)

    def take_up(self, record: Path) -> None:
        """Put another record on the desk; the one that was there stays as it is.

        Raises
        ------
        RecordError
            It can't be used.
        """
        self._leave(self._to_keep)
        found = self.keeper.open(record)
        self._lay(found or Specimen(""))
        self._desk.lay_out()

    def _begin(self, photo: Path | None) -> None:
        name, left = self._to_keep.name, self._leave(self._to_keep)
        judgement = self._desk.judgement
        sheet = judgement.named_for(None)
        self._lay(Specimen(""))
        record = self._choose(photo)
        if sheet is not None:
            judgement.mark = folders.relative(Path(sheet), record) if Path(sheet).is_absolute() else sheet
            self._desk.history.settle(Specimen("", sheet=judgement.mark))
        if left is not None:
            self._desk.notices.add(f"A new record begins, in {record}. “{name}” stays as it is in {left}.")

    def _choose(self, photo: Path | None) -> Path:
        if photo is not None:
            return self.keeper.begin(folders.record_beside(photo))
        return self.keeper.begin(folders.new_record(self._desk.home))

    def _leave(self, whole: Specimen) -> Path | None:
        """Make sure that a record is kept before it goes from the desk; returns where, None without one."""
        if self._desk.photo_store.opening():
            raise AskError("A photo is still being opened; try again in a moment.")
        if self.keeper.path is None or not self.anything:
            return None
        self.keeper.ask(whole)
        if not self.keeper.settle():
            raise AskError(f"What is on the desk isn't saved, so it stays there. {self.keeper.why() or ''}")
        kept_in = self.keeper.kept_in
        if kept_in is not None:
            self._desk.library.add(kept_in, whole.name)
        return kept_in

    def _lay(self, specimen: Specimen) -> None:
        self._bare = None
        self._desk.lay(History(specimen))
        self.laid += 1
