"""The workers behind the desk: each task goes to one of them, and what comes of it is a message."""

from collections.abc import Callable
from pathlib import Path
from typing import Any

from measure.desk.effects import examining, sheets, writing
from measure.desk.effects.instrument import Instrument
from measure.desk.effects.keeper import Keeper, Moved
from measure.desk.effects.latest import Latest
from measure.desk.effects.measures import measured, with_corners
from measure.desk.effects.photo_store import PhotoStore
from measure.desk.effects.records import Records
from measure.desk.library import Library, folders
from measure.desk.messages import AskError, page, tasks, workers
from measure.desk.photos import inspection
from measure.desk.state import Desk, Surroundings
from measure.errors import MeasureError
from measure.record import PhotoEntry, Specimen


class Workers:
    """Do what the desk wants done.

    Parameters
    ----------
    home : Path
        Folder below which a new record gets its own folder if no photo determines its place.
    post : callable
        Takes a message that comes of work in the background, from any thread.
    saved : callable
        Called after each save, from its thread.
    say : callable
        Takes a sentence for the terminal, from any thread.
    failed : callable
        Takes what was being done and what it raised; returns that as a sentence.
    """

    def __init__(
        self,
        home: Path,
        post: Callable[[object], None],
        saved: Callable[[], None],
        say: Callable[[str], None],
        failed: Callable[[str, Exception], str],
    ) -> None:
        self._post = post
        self.library = Library(home)
        self.keeper = Keeper(saved, say)
        self.photos = PhotoStore(post, failed)
        self.kept = writing.KeptFiles()
        self._records = Records(home, self.keeper, self.library)
        self._instrument = Instrument()
        self._failed = failed
        self._judging = Latest("judge", saved, self._judging_failed)
        # Of the record on the desk: work begun for an earlier one is not done.
        self._laid = 0
        self._at_once = self._done_at_once()
        self._later: dict[type, Callable[[Any, Desk], None]] = {
            tasks.Save: lambda task, desk: self.keeper.ask(desk.to_keep),
            tasks.Judge: self._judge,
            tasks.DropJudging: lambda task, desk: self._judging.drop(),
            tasks.Search: self._search,
            tasks.Appraise: self._appraise,
            # Written up is what lies on disk, so that must be what is on the desk.
            tasks.WriteUp: lambda task, desk: self.keeper.ask(desk.to_keep, always=True),
            tasks.Say: lambda task, desk: say(task.text),
        }

    def _done_at_once(self) -> dict[type, Callable[[Any], object]]:
        """Return what does each task whose answer belongs to the same turn."""
        return {
            tasks.Hear: lambda task: task.message,
            tasks.Measure: self._measure,
            tasks.TryMeasurement: self._try,
            tasks.TryCorners: lambda task: with_corners(
                task.specimen, task.shot, self._instrument, self._photo(task.shot)
            ),
            tasks.FitOutline: lambda task: examining.outline_fitted(task, self._needed(task.shot)),
            tasks.MakeScale: lambda task: self._scale(task.shot, task.title),
            tasks.RefineCard: lambda task: self._scale(*examining.with_card(task, self._needed(task.shot))),
            tasks.ChangeCamera: self._change_camera,
            tasks.OpenPictures: lambda task: self.photos.open(task.paths),
            tasks.KeepPhoto: self._keep_photo,
            tasks.KeepSheet: lambda task: sheets.keep_sheet(task, self.library, self._record()),
            tasks.ReadSheet: self._read_sheet,
            tasks.BeginRecord: self._records.begin,
            tasks.PlaceRecord: self._records.place,
            tasks.LeaveWhole: self._records.clear,
            tasks.TakeUp: self._records.take_up,
            tasks.FetchSample: self._records.fetch,
            tasks.Forget: self._forget,
        }

    def do(self, task: tasks.AtOnce) -> object:
        """Do a task and return the message that comes of it, None where there is nothing to say.

        Parameters
        ----------
        task : AtOnce
            What is to be done.

        Returns
        -------
        object

        Raises
        ------
        CalibrationError, MeasureError, SheetError
            It can't be done; the message is for the user.
        """
        return self._at_once[type(task)](task)

    def begin(self, todo: list[tasks.Later], desk: Desk) -> None:
        """Begin what is done after a turn; of saving and judging once is enough.

        Parameters
        ----------
        todo : list of Later
            In the order in which it was wanted.
        desk : Desk
            The state with which the turn ended.
        """
        self._laid = desk.laid
        last = {type(task): task for task in todo}
        for task in todo:
            once = isinstance(task, tasks.Save | tasks.Judge | tasks.DropJudging)
            if type(task) in self._later and (not once or last[type(task)] is task):
                self._later[type(task)](task, desk)

    # ---- at once ----

    def _photo(self, shot: PhotoEntry) -> Any:
        return self.photos.photo(shot, self.keeper.path)

    def _needed(self, shot: PhotoEntry) -> Any:
        return self.photos.needed(shot, self.keeper.path)

    def _record(self) -> Path:
        assert self.keeper.path is not None
        return self.keeper.path

    def _measure(self, task: tasks.Measure) -> workers.Measured:
        found = measured(task.specimen, task.known, self._instrument, self._photo)
        return workers.Measured(found.specimen, found.readings, found.scales, task.quiet)

    def _try(self, task: tasks.TryMeasurement) -> workers.Tried:
        return workers.Tried(self._instrument.read(task.entry, task.shot, self._photo(task.shot)))

    def _scale(self, shot: PhotoEntry, title: str) -> workers.ScaleMade:
        return examining.scale_made(shot, title, self._needed(shot), self._instrument)

    def _change_camera(self, task: tasks.ChangeCamera) -> workers.ScaleMade:
        return self._scale(examining.with_camera(task, self._needed(task.shot)), "camera")

    def _keep_photo(self, task: tasks.KeepPhoto) -> page.OpenPhoto:
        return page.OpenPhoto(folders.put(self._record().parent, task.name, task.data, "photo.jpg"))

    def _read_sheet(self, task: tasks.ReadSheet) -> object:
        return sheets.read_sheet(task, self.library, None if task.anywhere else self.keeper.path)

    def _forget(self, task: tasks.Forget) -> None:
        self._instrument, self.kept = Instrument(), writing.KeptFiles()

    # ---- in the background ----

    def _search(self, task: tasks.Search, desk: Desk) -> None:
        shot, record = desk.specimen.photo(task.photo), self.keeper.path
        self.photos.later(lambda: self._search_now(task, shot, record, desk.laid))

    def _search_now(self, task: tasks.Search, shot: PhotoEntry, record: Path | None, laid: int) -> None:
        if laid != self._laid:
            return
        said: object = workers.SearchEnded(task.photo, laid)
        try:
            seen = examining.searched(self.photos.photo(shot, record), shot, task.key)
            said = workers.Examined(task.photo, laid, seen, task.key, task.alone)
        finally:
            self._post(said)
        self.photos.rest(shot, record)

    def _appraise(self, task: tasks.Appraise, desk: Desk) -> None:
        record, laid = self.keeper.path, desk.laid
        shot = next((one for one in desk.specimen.photos if one.id == task.photo), None)
        scale = desk.scale(task.photo)
        if shot is None or scale is None or shot.reference is None or shot.reference.corners_px is None:
            return

        def appraise() -> None:
            photo = self.photos.photo(shot, record)
            if photo is not None and laid == self._laid:
                seen = inspection.appraised(photo, shot, scale.plane)
                self._post(workers.Appraised(shot.id, laid, seen))
                self.photos.rest(shot, record)

        self.photos.later(appraise)

    def _judge(self, task: tasks.Judge, desk: Desk) -> None:
        specimen, sheet = desk.specimen, desk.sheet
        if sheet is not None:
            self._judging.ask(lambda: self._post(workers.Judged(specimen, *writing.judged(specimen, sheet))))

    def _judging_failed(self, error: Exception) -> None:
        self._post(workers.JudgingFailed(self._failed("Working out the verdict", error)))

    @property
    def judging(self) -> bool:
        """Whether a verdict is being computed."""
        return self._judging.busy

    # ---- outside the turns ----

    def open_record(self, record: Path) -> Specimen | None:
        """Take up the record that the desk is opened on.

        Parameters
        ----------
        record : Path
            Its place.

        Returns
        -------
        Specimen or None
            None where there is no such file yet.
        """
        return self.keeper.open(record)

    def write_up(self) -> None:
        """Write the record up, which takes seconds; the page stays usable meanwhile.

        Raises
        ------
        MeasureError
            It isn't saved, or can't be written.
        """
        if not self.keeper.settle() or self.keeper.why() is not None:
            raise AskError(f"The record isn't saved, so it can't be written up. {self.keeper.why() or ''}")
        self.kept.write(self._record())

    def surroundings(self, desk: Desk) -> Surroundings:
        """Return what lies on disk and runs in the background, as it is now.

        Parameters
        ----------
        desk : Desk
            What is on the desk.

        Returns
        -------
        Surroundings
        """
        keeper, library, bare = self.keeper, self.library, desk.is_bare
        record = None if bare else keeper.path
        moved = None if bare else keeper.moved
        kept_in = None if bare else self.kept.folder
        return Surroundings(
            record=str(record) if record else None,
            # A record that isn't there yet would be opened empty.
            reopen=folders.reopening(record) if record and record.exists() else None,
            unsaved=keeper.why(),
            saved=keeper.has(desk.to_keep),
            judging=self.judging,
            moved=None if moved is None else _moved(moved, library),
            left=str(keeper.kept_in) if bare and keeper.kept_in is not None else None,
            sheets=tuple(library.sheets_json(record, desk.specimen.sheet)),
            samples=tuple(library.samples_json()),
            records=tuple(library.records_json()),
            kept=() if bare else tuple(self.kept.to_json()),
            kept_in=str(kept_in) if kept_in else None,
            profiles=_profiles(),
        )

    def close(self) -> str | None:
        """Finish saving and stop; returns what there is to say of it."""
        self.photos.close()
        self._judging.flush()
        self._judging.close()
        return self.keeper.close()


def _moved(moved: Moved, library: Library) -> dict[str, str | None]:
    """Say that the record is another than the one opened; that one is offered unless another desk has it."""
    handle = None if moved.in_use else library.handle(moved.opened)
    return {"text": moved.text, "name": moved.opened.name, "open": handle}


def _profiles() -> tuple[tuple[str, tuple[int, int]], ...]:
    from measure.cameras import read_store, store_path

    try:
        known = read_store(store_path())
    except MeasureError:
        return ()
    return tuple(
        (name, (min(one.width_px, one.height_px), max(one.width_px, one.height_px)))
        for name, one in known.items()
    )
