"""What is on the desk: one specimen record with its history, its photos, and what the core says of them."""

import threading
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

from measure.desk import folders, writing
from measure.desk.actions import Ask, AskError
from measure.desk.history import History
from measure.desk.judgement import Judgement
from measure.desk.latest import Latest
from measure.desk.measures import Measures
from measure.desk.notices import Notices
from measure.desk.pictures import Picture, thumb_of
from measure.desk.rack import Rack
from measure.desk.scale_view import ScaleViews
from measure.desk.sheet_view import sheet_json
from measure.desk.shelf import Shelf
from measure.desk.state import state_json
from measure.desk.wishes import Wishes
from measure.errors import MeasureError
from measure.record import read_specimen, write_specimen
from measure.specimen import PhotoEntry, Specimen

if TYPE_CHECKING:
    from measure.kind_planes import Scale


class Session:
    """One specimen on the desk.

    Parameters
    ----------
    home : Path
        Folder below which a new record gets a folder of its own when no photo says where it belongs.
    record : Path, optional
        The record; it is read where it exists, else made when there is something to keep.
    sheet : str, optional
        Key of a shipped sheet or path of a sheet, in place of the record's.

    Raises
    ------
    MeasureError, SheetError
        The record or the sheet can't be used.
    """

    def __init__(self, home: Path, record: Path | None = None, sheet: str | None = None) -> None:
        self.lock = threading.RLock()
        self.home = home
        self.record = record
        self.notices = Notices()
        self.shelf = Shelf(home)
        self.kept = writing.KeptFiles()
        self.save_trouble: str | None = None
        self.version = 0
        self._listeners: list[Callable[[], None]] = []
        self._saving = Latest("save", self.tell)
        self.history = History(Specimen(name=""))
        self.rack = Rack(self)
        self.measures = Measures(self.rack)
        self.scale_views = ScaleViews()
        self.judgement = Judgement(self)
        self.wishes = Wishes(self)
        if record is not None and record.exists():
            self.history = History(read_specimen(record))
        if sheet is not None:
            self.judgement.lay(sheet, given=True)
        elif self.specimen.sheet is not None:
            self.judgement.lay(self.specimen.sheet)
        self.rack.open_all()
        self.history.settle(self.measures.settled(self.specimen))

    @property
    def specimen(self) -> Specimen:
        """The present state of the record."""
        return self.history.present

    @property
    def saved(self) -> bool:
        """Whether the present state is on disk."""
        return not self._saving.busy and self.save_trouble is None

    def scale(self, shot: PhotoEntry) -> "Scale | None":
        """Return what a photo is measured by, or None where there is nothing."""
        with self.lock:
            return self.measures.scale(shot)

    # ---- listening ----

    def listen(self, told: Callable[[], None]) -> Callable[[], None]:
        """Call `told` after every change, from any thread; returns how to stop that."""
        with self.lock:
            self._listeners.append(told)

        def forget() -> None:
            with self.lock:
                self._listeners.remove(told)

        return forget

    def tell(self) -> None:
        """Tell the listeners that something changed."""
        with self.lock:
            listeners = list(self._listeners)
        for told in listeners:
            told()

    def state(self) -> dict[str, Any]:
        """Return everything that the page shows."""
        with self.lock:
            return state_json(self)

    def handle(self, ask: Ask) -> dict[str, Any]:
        """Do what the page asks and return the answer.

        Raises
        ------
        CalibrationError, MeasureError, SheetError
            It can't be done; the message is for the user.
        """
        return self.wishes.handle(ask)

    # ---- changing ----

    def commit(self, after: Specimen, title: str, *, join: str = "") -> None:
        """Make a new state of the record: measured, judged, saved and shown."""
        self.history.push(self.measures.settled(after), title, join=join)
        self._follow_up()

    def learn(self, change: Callable[[Specimen], Specimen]) -> None:
        """Take up what the desk found out by itself: undoing must not take it back."""
        with self.lock:
            self.history.amend(change)
            self.history.settle(self.measures.settled(self.specimen))
            self._follow_up()

    def refresh(self) -> None:
        """Measure again what could not be measured before, such as on a photo that is open now."""
        with self.lock:
            self.history.settle(self.measures.settled(self.specimen))
            self._follow_up()

    def _follow_up(self) -> None:
        self.version += 1
        self.judgement.follow()
        self.save()
        self.tell()

    def step(self, *, back: bool) -> None:
        """Undo or redo."""
        moved = self.history.undo() if back else self.history.redo()
        if moved:
            self._lay_out()

    def take_up(self, record: Path, specimen: Specimen) -> None:
        """Put another record on the desk."""
        self.record, self.history = record, History(specimen)
        self._lay_out()

    def _lay_out(self) -> None:
        self.rack.open_all()
        self.judgement.lay(self.specimen.sheet, quiet=True)
        self.refresh()

    # ---- keeping ----

    def need_record(self, photo: Path | None = None) -> Path:
        """Return where the record lies, choosing a place when there is none yet."""
        if self.record is None:
            self.record = folders.record_beside(photo) if photo else folders.new_record(self.home)
        return self.record

    def save(self) -> None:
        """Ask for the present state to be written."""
        record, specimen = self.record, self.specimen
        if record is not None and (specimen.photos or specimen.measurements or specimen.observations):
            self._saving.ask(lambda: self._save_now(record, specimen))

    def _save_now(self, record: Path, specimen: Specimen) -> None:
        try:
            write_specimen(record, specimen)
            self.save_trouble = None
        except (MeasureError, ValueError) as error:
            self.save_trouble = str(error)

    def tile(self, handle: str, level: int, column: int, row: int) -> bytes | None:
        """Return a tile as JPEG, or None where there is none."""
        picture = self.rack.by_handle(handle)
        return picture.tile(level, column, row) if picture else None

    def picture(self, handle: str) -> Picture | None:
        """Return the picture of this handle, or None where there is none."""
        return self.rack.by_handle(handle)

    def only_photo(self) -> str | None:
        """Return the handle of the photo that a page shows first: the only one, though just being opened."""
        picture = self.rack.only()
        return picture.handle if picture is not None and picture.stage != "failed" else None

    def thumb(self, handle: str) -> bytes | None:
        """Return a small picture of a photo or a sample as JPEG, or None where there is none."""
        picture = self.rack.by_handle(handle)
        if picture is not None:
            return picture.thumb()
        sample = self.shelf.sample(handle)
        return thumb_of(sample.photos[0].read_bytes()) if sample else None

    def sheet_view(self) -> dict[str, Any] | None:
        """Return the sheet's checklist."""
        return sheet_json(self.judgement.sheet)

    def kept_file(self, handle: str) -> Path | None:
        """Return a file of the write-up, or None."""
        return self.kept.path(handle)

    def write_up(self) -> None:
        """Write the record on disk up.

        Raises
        ------
        MeasureError, SheetError
            There is nothing to write up, or it can't be written.
        """
        if self.record is None or not self.specimen.photos:
            raise AskError("There is nothing to write up yet: open a photo and measure first.")
        self._saving.flush()
        self.kept.write(self.record)
        self.tell()

    def close(self) -> None:
        """Finish saving and stop."""
        self.rack.close()
        self.judgement.close()
        self._saving.flush()
        self._saving.close()
