"""The desk at work: messages go through `update` one after the other, and workers do what it wants done."""

import threading
import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from measure.desk.effects import Workers, check_photo
from measure.desk.failures import sentence
from measure.desk.messages import Ask, page, parse, tasks, workers
from measure.desk.session.files import Files
from measure.desk.session.telling import Telling
from measure.desk.state import Desk, Reading, resolved
from measure.desk.update import update
from measure.desk.view import ScaleViews, answer_json, page_json, sheet_json
from measure.record import PhotoEntry, Specimen

if TYPE_CHECKING:
    from calibration.image import Photo
    from measure.kinds import Scale


class Session(Telling):
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
        super().__init__(say)
        self.lock = threading.RLock()
        self.desk = Desk()
        self._closed = False
        self._parting: str | None = None
        self._scale_views = ScaleViews()
        self._workers = Workers(home, self.hear, self.tell, self.announce, sentence)
        self.files = Files(self._workers)
        try:
            found = None if record is None else self._workers.open_record(record)
            self._turn(workers.Started(found, str(record.parent) if record else None, sheet))
        except BaseException:
            self.close()
            raise

    # ---- turns ----

    def _turn(self, message: object) -> list[tasks.Later]:
        """Handle a message with all that it leads to at once; where anything fails, the desk is as it was."""
        with self.lock:
            todo: list[tasks.Later] = []
            self.desk = self._led_to(self.desk, message, time.monotonic(), todo)
            self._workers.begin(todo, self.desk)
        return todo

    def _led_to(self, desk: Desk, message: object, at_s: float, todo: list[tasks.Later]) -> Desk:
        desk, wanted = update(desk, message, at_s)
        for task in wanted:
            if isinstance(task, tasks.Later):
                todo.append(task)
            elif (said := self._workers.do(task)) is not None:
                desk = self._led_to(desk, said, at_s, todo)
        return desk

    def hear(self, message: object) -> None:
        """Handle what a worker says, from any thread.

        Parameters
        ----------
        message : object
            One of the classes of `workers`.
        """
        try:
            self._turn(message)
        except Exception as error:  # told in words; a worker can make nothing of it
            self.failed("Taking up what was found", error)
        self.tell()

    def handle(self, ask: Ask) -> dict[str, Any]:
        """Do what the page asks and return the answer.

        Parameters
        ----------
        ask : Ask
            As the page sent it.

        Returns
        -------
        dict
            JSON values.

        Raises
        ------
        CalibrationError, MeasureError, SheetError
            It can't be done; the message is for the user.
        """
        message = parse(ask)
        with self.lock:
            todo = self._turn(message)
            answer = answer_json(_answer(todo), self.desk)
            version = self.desk.version
        if isinstance(message, page.WriteUp):
            self._workers.write_up()
        tried = isinstance(message, page.TryDraft | page.TryChange | page.TryCorners)
        if not tried:
            self.tell()
        # The version lets the page wait for the state that goes with the answer.
        return answer if tried or isinstance(message, page.WriteUp) else {**answer, "version": version}

    def open_path(self, path: Path) -> None:
        """Open a photo by its path and add it to the record once its size is known.

        Parameters
        ----------
        path : Path
            The photo's path.
        """
        self._turn(page.OpenPhoto(path))
        self.tell()

    def open_ahead(self, path: Path) -> None:
        """Begin to open a photo that is about to join the record; nothing is recorded yet.

        Parameters
        ----------
        path : Path
            The photo's path.
        """
        self._workers.photos.at(str(path))

    def expect_page(self, first_view_s: float) -> None:
        """Let a page show each photo's preview first, but wait no longer than this.

        Parameters
        ----------
        first_view_s : float
            In seconds.
        """
        self._workers.photos.expect_page(first_view_s)

    def take_photo(self, name: str, data: bytes) -> dict[str, Any]:
        """Take in a photo's bytes: kept beside the record, then opened like any other.

        Parameters
        ----------
        name : str
            The file's name as the page sends it, made harmless here.
        data : bytes
            The file.

        Returns
        -------
        dict
            "name", under which it is kept.

        Raises
        ------
        PhotoError
            They are no photo, or a damaged one so far as can be seen at once.
        """
        check_photo(name, data)
        return self._taken(page.UploadPhoto(name, data))

    def take_sheet(self, name: str, data: bytes) -> dict[str, Any]:
        """Take in a sheet uploaded on the page.

        Parameters
        ----------
        name : str
            The file's name as the page sends it, made harmless here.
        data : bytes
            The file.

        Returns
        -------
        dict
            "sheet", the name by which the record keeps it.

        Raises
        ------
        SheetError
            It has faults; the message names them.
        """
        return self._taken(page.UploadSheet(name, data))

    def _taken(self, message: object) -> dict[str, Any]:
        todo = self._turn(message)
        self.tell()
        return dict(_answer(todo).named)

    def learn(self, change: Callable[[Specimen], Specimen]) -> None:
        """Apply what is found out about all states: undo must not revert it.

        Parameters
        ----------
        change : callable
            Takes a state and returns it changed.
        """
        self.hear(workers.Learned(change))

    # ---- showing ----

    def failed(self, doing: str, error: Exception) -> str:
        """Report a fault of the program on page and terminal, and return what was said of it.

        Parameters
        ----------
        doing : str
            What was being done, as the beginning of a sentence.
        error : Exception
            What came of it.

        Returns
        -------
        str
        """
        text = sentence(doing, error)
        try:
            self._turn(workers.Told(text))
        except Exception:  # where not even that can be taken up, the terminal is told
            self.complain(text)
        self.tell()
        return text

    def state(self) -> dict[str, Any]:
        """Return everything that the page shows."""
        with self.lock:
            desk = self.desk
            shown, faults = page_json(desk, self._workers.surroundings(desk), self._scale_views)
        for text in faults:
            self.complain(text)
        return shown

    def sheet_view(self) -> dict[str, Any] | None:
        """Return the sheet's checklist."""
        return sheet_json(self.desk.sheet)

    @property
    def version(self) -> int:
        """Counts the changes."""
        return self.desk.version

    @property
    def specimen(self) -> Specimen:
        """The present state of the record."""
        return self.desk.specimen

    @property
    def record(self) -> Path | None:
        """Where the present state is kept, if it is kept at all."""
        return None if self.desk.is_bare else self._workers.keeper.path

    @record.setter
    def record(self, path: Path | None) -> None:
        self._workers.keeper.point_at(path)
        self._turn(workers.Moved(str(path.parent) if path else None))

    @property
    def save_trouble(self) -> str | None:
        """Why what is on the desk is not in its record, and where it is kept meanwhile."""
        return self._workers.keeper.why()

    @property
    def saved(self) -> bool:
        """Whether the present state is on disk."""
        return self._workers.keeper.has(self.desk.to_keep)

    @property
    def judging(self) -> bool:
        """Whether a verdict is being computed."""
        return self._workers.judging

    def opening(self) -> list[str]:
        """Return the names of the photos that are being opened."""
        return [Path(path).name for path in self.desk.pending]

    def scale(self, shot: PhotoEntry) -> "Scale | None":
        """Return what a photo is measured by, or None where there is nothing.

        Parameters
        ----------
        shot : PhotoEntry
            Of the present state.

        Returns
        -------
        Scale or None
        """
        return self.desk.scale(shot.id)

    def reading(self, measurement_id: str) -> Reading | None:
        """Return the present reading of a measurement.

        Parameters
        ----------
        measurement_id : str
            Its id in the record.

        Returns
        -------
        Reading or None
        """
        return self.desk.reading(measurement_id)

    def photo(self, photo_id: str) -> "Photo | None":
        """Return a photo's pixels, or None while they are not there.

        Parameters
        ----------
        photo_id : str
            Its id in the record.

        Returns
        -------
        Photo or None
        """
        for shot in self.specimen.photos:
            if shot.id == photo_id:
                return self._workers.photos.photo(shot, self.record)
        return None

    def only_photo(self) -> str | None:
        """Return the handle of the photo that a page shows first: the only one, even while opening."""
        desk = self.desk
        photos = (
            [] if desk.folder is None else [resolved(one.file, desk.folder) for one in desk.specimen.photos]
        )
        paths = [*photos, *desk.pending]
        picture = self._workers.photos.at(paths[0]) if len(paths) == 1 else None
        return picture.handle if picture is not None and picture.stage != "failed" else None

    def close(self) -> str | None:
        """Finish saving and stop; returns what there is to say of it, the same each time."""
        if not self._closed:
            self._closed = True
            self._parting = self._workers.close()
        return self._parting


def _answer(todo: list[tasks.Later]) -> tasks.Answer:
    """Return what is answered to who asked: all that was said, the last of each kind."""
    found = tasks.Answer()
    for one in todo:
        if isinstance(one, tasks.Answer):
            given = {name: value for name in tasks.ANSWER_FIELDS if (value := getattr(one, name))}
            found = replace(found, **given)
    return found
