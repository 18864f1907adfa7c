"""What is on the desk: one specimen record with its history, its photos, and what the core says of them."""

import threading
from collections.abc import Callable, Mapping
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from measure.desk import actions, folders, writing
from measure.desk.actions import Ask, AskError
from measure.desk.history import History
from measure.desk.instrument import Reading
from measure.desk.judgement import Judgement
from measure.desk.latest import Latest
from measure.desk.measures import Measures
from measure.desk.notices import Notices
from measure.desk.pictures import thumb_of
from measure.desk.rack import Rack
from measure.desk.readouts import texts
from measure.desk.sheet_view import sheet_json
from measure.desk.shelf import Shelf
from measure.desk.state import state_json
from measure.errors import MeasureError
from measure.record import read_specimen, write_specimen
from measure.specimen import PhotoEntry, Specimen

if TYPE_CHECKING:
    from calibration.plane import Plane


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
        self.judgement = Judgement(self)
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

    def plane(self, shot: PhotoEntry) -> "Plane | None":
        """Return the plane of a photo's card, or None where there is none."""
        with self.lock:
            return self.measures.plane(shot)

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

    # ---- the page's wishes ----

    def handle(self, ask: Ask) -> dict[str, Any]:
        """Do what the page asks and return the answer.

        Raises
        ------
        CalibrationError, MeasureError, SheetError
            It can't be done; the message is for the user.
        """
        name = ask.get("do")
        if name == "write-up":
            # It takes seconds and reads the record on disk: the page goes on meanwhile.
            return self._write_up()
        with self.lock:
            if isinstance(name, str) and name in actions.ACTIONS:
                # The version lets the page wait for the state that goes with the answer.
                return {**self._act(name, ask), "version": self.version}
            method = _WISHES.get(name) if isinstance(name, str) else None
            if method is None:
                raise AskError("The desk does not know this request; load the page again.")
            return method(self, ask)

    def _act(self, name: str, ask: Ask) -> dict[str, Any]:
        title, change = actions.ACTIONS[name]
        if name == "corners" and ask.get("fit"):
            return self.rack.fit(ask)
        before = self.specimen
        after = change(before, ask)
        join = f"{name}:{ask.get('id') or ask.get('photo')}" if ask.get("join") is True else ""
        self.commit(after, title, join=join)
        if name in ("corners", "turn card"):
            self.rack.appraise_later(str(ask["photo"]))
        if name not in ("add", "change"):
            return {}
        touched = self.specimen.measurements[-1].id if name == "add" else str(ask["id"])
        return {"id": touched, **self._answer(self.measures.reading(touched))}

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

    def _answer(self, reading: Reading | None) -> dict[str, Any]:
        if reading is None:
            return {}
        if reading.length is None:
            return {"error": reading.trouble} if reading.trouble else {}
        return {
            "text": texts(reading.length),
            "used_px": [list(point) for point in reading.entry.used_px],
            "curves_px": [[list(point) for point in curve] for curve in reading.curves_px],
        }

    def _try(self, ask: Ask) -> dict[str, Any]:
        if "draft" in ask:
            if not isinstance(ask["draft"], Mapping):
                raise AskError("draft: expected an object")
            entry = actions.drafted(self.specimen, ask["draft"])
        else:
            old = actions.measurement_of(self.specimen, ask)
            entry = actions.with_measurement(old, self.specimen, ask)
        return self._answer(self.measures.trial(self.specimen, entry))

    def _try_corners(self, ask: Ask) -> dict[str, Any]:
        photo = actions.photo_of(self.specimen, ask)
        tried = replace(photo, reference=actions.by_hand(photo, ask))
        return self.measures.with_corners(self.specimen, tried)

    def _undo(self, ask: Ask) -> dict[str, Any]:
        return self._stepped(self.history.undo())

    def _redo(self, ask: Ask) -> dict[str, Any]:
        return self._stepped(self.history.redo())

    def _stepped(self, moved: bool) -> dict[str, Any]:
        if moved:
            self.history.settle(self.measures.settled(self.specimen))
            self.rack.open_all()
            self.judgement.lay(self.specimen.sheet, quiet=True)
            self._follow_up()
        return {}

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

    def _open_sample(self, ask: Ask) -> dict[str, Any]:
        sample = self.shelf.sample(ask.get("sample"))
        if sample is None:
            raise AskError("This sample is not on the shelf.")
        if self.specimen.sheet is None and sample.sheet is not None:
            self.judgement.lay(sample.sheet)
            self.history.amend(lambda state: replace(state, sheet=sample.sheet))
        if not self.specimen.name:
            self.history.amend(lambda state: replace(state, name=sample.name))
        for path in sample.photos:
            self.rack.take(path.name, path.read_bytes())
        return {}

    def _open_record(self, ask: Ask) -> dict[str, Any]:
        path = self.shelf.record(ask.get("record"))
        if path is None or self.specimen.photos:
            raise AskError("This record is not on the shelf.")
        found = read_specimen(path)
        self.record, self.history = path, History(found)
        self.judgement.lay(found.sheet, quiet=True)
        self.rack.open_all()
        self.refresh()
        return {}

    def tile(self, handle: str, level: int, column: int, row: int) -> bytes | None:
        """Return a tile as JPEG, or None where there is none."""
        picture = self.rack.by_handle(handle)
        return picture.tile(level, column, row) if picture else None

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

    def _write_up(self) -> dict[str, Any]:
        if self.record is None or not self.specimen.photos:
            raise AskError("There is nothing to write up yet: open a photo and measure first.")
        self._saving.flush()
        self.kept.write(self.record)
        self.tell()
        return {}

    def close(self) -> None:
        """Finish saving and stop."""
        self.rack.close()
        self.judgement.close()
        self._saving.flush()
        self._saving.close()


_Wish = Callable[[Session, Ask], dict[str, Any]]
_WISHES: dict[str, _Wish] = {
    "try": Session._try,
    "try corners": Session._try_corners,
    "undo": Session._undo,
    "redo": Session._redo,
    "sheet": lambda session, ask: session.judgement.choose(ask),
    "fit": lambda session, ask: session.rack.fit(ask),
    "find": lambda session, ask: session.rack.find(ask),
    "kind": lambda session, ask: session.rack.set_kind(ask),
    "sample": Session._open_sample,
    "record": Session._open_record,
}
