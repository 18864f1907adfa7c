"""What is on the desk: one specimen record with its history, its photos, and what the core says of them."""

import threading
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

from measure.desk.changes import Ask, AskError, History, Notices
from measure.desk.failures import sentence
from measure.desk.library import Library
from measure.desk.photos import PhotoStore, Picture, thumb_of
from measure.desk.session import writing
from measure.desk.session.handlers import MessageHandlers
from measure.desk.session.in_hand import InHand
from measure.desk.session.judgement import Judgement
from measure.desk.session.measures import Measures
from measure.desk.session.page_state import state_json
from measure.desk.view import ScaleViews, sheet_json
from measure.record import PhotoEntry, Specimen

if TYPE_CHECKING:
    from measure.kinds import Scale


class Session:
    """One specimen on the desk.

    Parameters
    ----------
    home : Path
        Folder below which a new record gets its own folder if no photo determines its place.
    record : Path, optional
        The record; it is read if it exists, else created when there is something to keep.
    sheet : str, optional
        Key of a shipped sheet or path of a sheet, in place of the record's.
    say : callable, optional
        Takes what the terminal is to say, a sentence at a time, from any thread.

    Raises
    ------
    MeasureError, SheetError
        The record or the sheet can't be used.
    """

    def __init__(
        self,
        home: Path,
        record: Path | None = None,
        sheet: str | None = None,
        say: Callable[[str], None] = lambda text: None,
    ) -> None:
        self.lock = threading.RLock()
        self.home = home
        self.notices = Notices()
        self.library = Library(home)
        self.kept = writing.KeptFiles()
        self.version = 0
        self._say = say
        self._complaints: set[str] = set()
        self._closed = False
        self._parting: str | None = None
        # Not the lock of the state: who waits for a save while holding that one must not keep the saver from
        # telling.
        self._listening = threading.Lock()
        self._listeners: list[Callable[[], None]] = []
        self.history = History(Specimen(name=""))
        self.in_hand = InHand(self)
        self.photo_store = PhotoStore(self)
        self.measures = Measures(self.photo_store)
        self.scale_views = ScaleViews()
        self.judgement = Judgement(self)
        self.handlers = MessageHandlers(self)
        try:
            self._open_first(record, sheet)
        except BaseException:
            self.close()
            raise

    def _open_first(self, record: Path | None, sheet: str | None) -> None:
        found = None if record is None else self.in_hand.keeper.open(record)
        if found is not None:
            self.history = History(found)
        if sheet is not None:
            self.judgement.lay(sheet, given=True)
        elif self.specimen.sheet is not None:
            self.judgement.lay(self.specimen.sheet)
        self.judgement.check_recorded()
        self.photo_store.open_all()
        self.history.settle(self.measures.settled(self.specimen))
        self.save()

    @property
    def specimen(self) -> Specimen:
        """The present state of the record."""
        return self.history.present

    @property
    def record(self) -> Path | None:
        """Where the present state is kept, if it is kept at all."""
        return self.in_hand.path

    @record.setter
    def record(self, path: Path | None) -> None:
        self.in_hand.keeper.point_at(path)

    @property
    def save_trouble(self) -> str | None:
        """Why what is on the desk is not in its record, and where it is kept meanwhile."""
        return self.in_hand.keeper.why()

    @property
    def saved(self) -> bool:
        """Whether the present state is on disk."""
        return self.in_hand.saved

    def scale(self, shot: PhotoEntry) -> "Scale | None":
        """Return what a photo is measured by, or None where there is nothing."""
        with self.lock:
            return self.measures.scale(shot)

    # ---- listening ----

    def listen(self, told: Callable[[], None]) -> Callable[[], None]:
        """Call something after every change.

        Parameters
        ----------
        told : callable
            Called without arguments, from any thread.

        Returns
        -------
        callable
            Stops that.
        """
        with self._listening:
            self._listeners.append(told)

        def forget() -> None:
            with self._listening:
                self._listeners.remove(told)

        return forget

    def tell(self) -> None:
        """Tell the listeners that something changed."""
        with self._listening:
            listeners = list(self._listeners)
        for told in listeners:
            told()

    def complain(self, text: str) -> None:
        """Say on the terminal, once, what the page can't be told by its state.

        Parameters
        ----------
        text : str
            A sentence.
        """
        if text not in self._complaints:
            self._complaints.add(text)
            self._say(text)

    def announce(self, text: str) -> None:
        """Say on the terminal what the page shows for as long as it holds."""
        self._say(text)
        self.tell()

    def report(self, text: str) -> None:
        """Say something that went wrong on page and terminal."""
        self.notices.add(text, wrong=True)
        self._say(text)
        self.tell()

    def failed(self, doing: str, error: Exception) -> str:
        """Report a fault of the program, and return what was said of it."""
        text = sentence(doing, error)
        self.report(text)
        return text

    def state(self) -> dict[str, Any]:
        """Return everything that the page shows."""
        with self.lock:
            return state_json(self)

    def handle(self, ask: Ask) -> dict[str, Any]:
        """Do what the page asks and return the answer.

        Parameters
        ----------
        ask : Ask
            As the page sent it, of a known form.

        Returns
        -------
        dict
            JSON values.

        Raises
        ------
        CalibrationError, MeasureError, SheetError
            It can't be done; the message is for the user.
        """
        return self.handlers.handle(ask)

    # ---- changing ----

    def commit(self, after: Specimen, title: str, *, join: str = "") -> None:
        """Make a new state of the record: measured, judged, saved and shown."""
        after = self.in_hand.readied(after)
        self.history.push(self.measures.settled(after), title, join=join)
        self._follow_up()

    def learn(self, change: Callable[[Specimen], Specimen]) -> None:
        """Apply what the desk found out itself: undo must not revert it."""
        with self.lock, self.history.unless_it_fails():
            self.history.amend(change)
            self.history.settle(self.measures.settled(self.specimen))
            self._follow_up()

    def refresh(self) -> None:
        """Measure again what could not be measured before, such as on a photo that is open now."""
        with self.lock, self.history.unless_it_fails():
            self.history.settle(self.measures.settled(self.specimen))
            self._follow_up()

    def push(self, after: Specimen, title: str) -> None:
        """Make a new state that needs no measuring."""
        self.history.push(after, title)
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
            self.lay_out()

    def lay(self, history: History[Specimen]) -> None:
        """Put another record's states on the desk, and forget what was known of the one before."""
        self.history = history
        self.kept = writing.KeptFiles()
        self.photo_store.cards.forget()
        self.measures.forget()
        self.scale_views = ScaleViews()

    def lay_out(self) -> None:
        """Open the photos and the sheet of the present state."""
        self.photo_store.open_all()
        self.judgement.lay(self.specimen.sheet, quiet=True)
        self.judgement.check_recorded()
        self.refresh()

    # ---- keeping ----

    def need_record(self, photo: Path | None = None) -> Path:
        """Return where the record lies, choosing a place when there is none yet."""
        with self.lock:
            return self.in_hand.need(photo)

    def save(self) -> None:
        """Request that the present state is written."""
        self.in_hand.save()

    def tile(self, handle: str, level: int, column: int, row: int) -> bytes | None:
        """Return a tile of a photo.

        Parameters
        ----------
        handle : str
            As in a tile's address.
        level, column, row : int
            As for `Picture.tile`.

        Returns
        -------
        bytes or None
            A JPEG; None where there is none.
        """
        picture = self.photo_store.by_handle(handle)
        return picture.tile(level, column, row) if picture else None

    def picture(self, handle: str) -> Picture | None:
        """Return the picture of a handle.

        Parameters
        ----------
        handle : str
            As in a tile's address.

        Returns
        -------
        Picture or None
            None where there is none.
        """
        return self.photo_store.by_handle(handle)

    def only_photo(self) -> str | None:
        """Return the handle of the photo that a page shows first: the only one, even while opening."""
        picture = self.photo_store.only()
        return picture.handle if picture is not None and picture.stage != "failed" else None

    def thumb(self, handle: str) -> bytes | None:
        """Return a small picture.

        Parameters
        ----------
        handle : str
            Of a photo or a sample.

        Returns
        -------
        bytes or None
            A JPEG; None where there is none.
        """
        picture = self.photo_store.by_handle(handle)
        if picture is not None:
            return picture.thumb()
        sample = self.library.sample(handle)
        return thumb_of(sample.photos[0].read_bytes()) if sample else None

    def sheet_view(self) -> dict[str, Any] | None:
        """Return the sheet's checklist."""
        return sheet_json(self.judgement.sheet)

    def kept_file(self, handle: str) -> Path | None:
        """Return a file of the write-up.

        Parameters
        ----------
        handle : str
            As the page names it.

        Returns
        -------
        Path or None
            None where nothing is kept under it.
        """
        return self.kept.path(handle)

    def write_up(self) -> None:
        """Write the record on disk up.

        Raises
        ------
        MeasureError, SheetError
            There is nothing to write up, or it can't be written.
        """
        with self.lock:
            record, specimen = self.record, self.specimen
            if record is None or not specimen.photos:
                raise AskError("There is nothing to write up yet: open a photo and measure first.")
            # Written up is what lies on disk, so that must be what is on the desk.
            self.in_hand.keeper.ask(specimen, always=True)
        if not self.in_hand.keeper.settle() or self.save_trouble is not None:
            raise AskError(f"The record isn't saved, so it can't be written up. {self.save_trouble or ''}")
        self.kept.write(self.record or record)
        self.tell()

    def close(self) -> str | None:
        """Finish saving and stop; returns what there is to say of it, the same each time."""
        if not self._closed:
            self._closed = True
            self.photo_store.close()
            self.judgement.close()
            self._parting = self.in_hand.keeper.close()
        return self._parting
