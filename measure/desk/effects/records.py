"""From one record to another: what was on the desk is kept, complete, before it goes."""

from pathlib import Path

from measure.desk.effects.keeper import Keeper
from measure.desk.library import Library, folders
from measure.desk.messages import AskError, tasks, workers
from measure.desk.state import Desk
from measure.record import Specimen


class Records:
    """Leaves, begins and takes up records.

    Parameters
    ----------
    home : Path
        Folder below which a new record gets its own folder if no photo determines its place.
    keeper : Keeper
        Saves them.
    library : Library
        Offers them.
    """

    def __init__(self, home: Path, keeper: Keeper, library: Library) -> None:
        self._home = home
        self._keeper = keeper
        self._library = library

    def place(self, task: tasks.PlaceRecord) -> workers.RecordPlaced:
        """Choose a place for a record that has none."""
        return workers.RecordPlaced(str((self._keeper.path or self._chosen(task.photo)).parent), task.then)

    def begin(self, task: tasks.BeginRecord) -> workers.RecordBegun:
        """Leave the record on the desk and begin another."""
        left, sheet = self._leave(task.desk, task.desk.to_keep), self._sheet_anywhere(task.desk)
        record = self._chosen(task.photo)
        if sheet is not None and Path(sheet).is_absolute():
            sheet = folders.relative(Path(sheet), record)
        name = task.desk.to_keep.name
        told = f"A new record begins, in {record}. “{name}” stays as it is in {left}." if left else None
        return workers.RecordBegun(str(record.parent), sheet, told, task.then)

    def clear(self, task: tasks.LeaveWhole) -> workers.Cleared:
        """Leave the record with its photos."""
        sheet = self._sheet_anywhere(task.desk)
        self._leave(task.desk, task.whole)
        return workers.Cleared(task.whole, sheet)

    def take_up(self, task: tasks.TakeUp) -> workers.RecordOpened:
        """Leave the record on the desk and take up another."""
        path = self._library.record(task.handle)
        if path is None:
            raise AskError("This record is not on the shelf.")
        self._leave(task.desk, task.desk.to_keep)
        found = self._keeper.open(path)
        return workers.RecordOpened(found or Specimen(""), str(path.parent))

    def fetch(self, task: tasks.FetchSample) -> workers.SampleFetched:
        """Read a sample's photos."""
        sample = self._library.sample(task.handle)
        if sample is None:
            raise AskError("This sample is not on the shelf.")
        photos = tuple((path.name, path.read_bytes()) for path in sample.photos)
        return workers.SampleFetched(sample.name, sample.sheet, photos)

    def _chosen(self, photo: str | None) -> Path:
        beside = folders.new_record(self._home) if photo is None else folders.record_beside(Path(photo))
        return self._keeper.begin(beside)

    def _sheet_anywhere(self, desk: Desk) -> str | None:
        """Return a name of the sheet on the desk that holds for any record."""
        from references import shipped_keys

        if desk.sheet is None or desk.mark in shipped_keys():
            return desk.mark or None
        own = None if desk.is_bare else self._keeper.path
        path = folders.resolve(desk.mark, own) if own is not None else Path(desk.mark).absolute()
        return path.as_posix()

    def _leave(self, desk: Desk, whole: Specimen) -> Path | None:
        """Make sure that a record is kept before it goes from the desk; return where, None without one."""
        if desk.pending:
            raise AskError("A photo is still being opened; try again in a moment.")
        if self._keeper.path is None or not desk.worth_keeping:
            return None
        self._keeper.ask(whole)
        if not self._keeper.settle():
            raise AskError(f"What is on the desk isn't saved, so it stays there. {self._keeper.why() or ''}")
        kept_in = self._keeper.kept_in
        if kept_in is not None:
            self._library.add(kept_in, whole.name)
        return kept_in
