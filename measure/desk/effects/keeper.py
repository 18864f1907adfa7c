"""Keeping what is on the desk: in its record, under another name where that is another's, else aside."""

import threading
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass, replace
from pathlib import Path

from measure.desk.effects.latest import Latest
from measure.desk.failures import sentence
from measure.desk.library import folders
from measure.errors import MeasureError, RecordChangedError
from measure.record import Claim, RecordFile, Specimen, write_specimen

# How long after a failure saving is tried again by itself.
RETRY_S = 5.0


@dataclass(frozen=True, slots=True)
class Moved:
    """That the record is another than the one that was opened.

    Attributes
    ----------
    opened : Path
        The one that was opened, left as it is.
    text : str
        Why, and where the work is kept now.
    in_use : bool
        Whether another desk is open on it.
    """

    opened: Path
    text: str
    in_use: bool


@dataclass(frozen=True, slots=True)
class _Plight:
    """Why what is on the desk is not in its record, and where it is kept meanwhile, if anywhere."""

    why: str
    aside: Path | None

    @property
    def words(self) -> str:
        """Both in words, with what becomes of it."""
        why = self.why if self.why.endswith((".", "!", "?")) else f"{self.why}."
        if self.aside is None:
            place = "It is kept nowhere else: leave the desk open and make room"
        else:
            place = f"Meanwhile it is kept in {self.aside}"
        return f"{why} {place}; saving is tried again."


class Keeper:
    """Saves in the background, and tells what came of it.

    Parameters
    ----------
    tell : callable
        Called after each save, from its thread.
    say : callable
        Takes a sentence for the terminal, from any thread; the page is told by the attributes.

    Attributes
    ----------
    moved : Moved or None
        Set where the record is another than the one that was opened.
    """

    def __init__(self, tell: Callable[[], None], say: Callable[[str], None]) -> None:
        self._say = say
        self._file: RecordFile | None = None
        self._claim: Claim | None = None
        self._work = Latest("save", tell, self._failed)
        self._wanted: Specimen | None = None
        self._kept: Specimen | None = None
        self._timer: threading.Timer | None = None
        # Held while a record is written, and while another takes its place; a save that was asked for before
        # must not get into that one.
        self._lock = threading.RLock()
        self._turn = 0
        self._plight: _Plight | None = None
        self.moved: Moved | None = None

    @property
    def path(self) -> Path | None:
        """The record; it need not have been written yet."""
        return self._file.path if self._file is not None else None

    @property
    def kept_in(self) -> Path | None:
        """Where what is on the desk lies on disk: in its record, aside, or where it was opened."""
        plight, moved = self._plight, self.moved
        if plight is not None and plight.aside is not None:
            return plight.aside
        untouched = moved is not None and self.path is not None and not self.path.exists()
        return moved.opened if moved is not None and untouched else self.path

    # ---- which record ----

    def open(self, path: Path) -> Specimen | None:
        """Take a record up, and return what it holds; None where there is no such file yet.

        Raises
        ------
        RecordError
            It can't be used; the present one stays.
        """
        if path == self.path:
            self._let_go()
        claim, file = Claim(path), RecordFile(path)
        free = claim.take()
        try:
            found = file.read() if path.exists() else None
        except BaseException:
            claim.give_free()
            raise
        self._let_go()
        self._file, self._claim, self._kept, self._wanted = file, claim, found, found
        if not free:
            self._move_on(in_use=True)
        return found

    def begin(self, path: Path) -> Path:
        """Begin a record that isn't there yet, under this name or the next that is free; returns its path."""
        self._let_go()
        with suppress(OSError):  # told when it is written to
            path.parent.mkdir(parents=True, exist_ok=True)
        self._file, self._claim = _first_free(path, 1)
        return self._file.path

    def point_at(self, path: Path | None) -> None:
        """Let the record be at another place from now on."""
        self._let_go()
        if path is not None:
            self._file, self._claim = RecordFile(path), Claim(path)

    def _let_go(self) -> None:
        with self._lock:
            if self._claim is not None:
                self._claim.give_free()
            self._stop_timer()
            self._turn += 1
            self._file = self._claim = self._wanted = self._kept = None
            self._plight = self.moved = None

    def _move_on(self, *, in_use: bool) -> None:
        """Go on under another name beside the record, which is another's now."""
        assert self._file is not None
        assert self._claim is not None
        opened, claim = self._file.path, self._claim
        self._file, self._claim = _first_free(opened, 2)
        claim.give_free()
        name, other = opened.name, self._file.path.name
        if in_use:
            text = (
                f"{name} is open in another desk as well. What you do here is kept in {other} beside it;"
                f" {name} is left to the other desk."
            )
        else:
            text = (
                f"Another program has changed {name} since this desk read it. Nothing was written over: your"
                f" work goes on in {other} beside it, and {name} stays as the other program left it."
            )
        self.moved = Moved(opened, text, in_use)
        self._say(text)

    # ---- saving ----

    @property
    def busy(self) -> bool:
        """Whether a save runs or waits."""
        return self._work.busy

    def has(self, specimen: Specimen) -> bool:
        """Whether this very state is in the record on disk."""
        return self._plight is None and not self._work.busy and self._kept is specimen

    def ask(self, specimen: Specimen, *, always: bool = False) -> None:
        """Ask for a state to be saved, `always` even if it was not changed; it replaces one that waits."""
        self._wanted, turn = specimen, self._turn
        self._work.ask(lambda: self._save(specimen, turn, always=always))

    def settle(self) -> bool:
        """Wait until all is saved; False where it is kept nowhere."""
        in_time, plight = self._work.flush(), self._plight
        return in_time and (plight is None or plight.aside is not None)

    def close(self) -> str | None:
        """Save once more what could not be saved before, and stop; returns what there is to say of it."""
        if self._plight is not None and self._wanted is not None:
            self.ask(self._wanted)
        in_time = self._work.flush()
        self._work.close()
        words = self._parting(in_time=in_time)
        if self._claim is not None:
            self._claim.give_free()
        self._stop_timer()
        return words

    def _parting(self, *, in_time: bool) -> str | None:
        if self._plight is not None:
            return f"Not saved: {self._plight.words}"
        if not in_time:
            return f"Saving in {self.path} has not ended: what was done last may be missing there."
        there = self.path is not None and self._kept is not None and self.path.exists()
        return f"Everything is saved in {self.path}." if there else None

    def why(self) -> str | None:
        """Return why what is on the desk is not in its record, and where it is kept meanwhile."""
        plight = self._plight
        return None if plight is None else plight.words

    def _save(self, specimen: Specimen, turn: int, *, always: bool) -> None:
        with self._lock:
            if turn != self._turn:
                return
            try:
                self._write(specimen, always=always)
            except MeasureError as error:
                self._set_aside(specimen, str(error))
            except Exception as error:  # whatever it is, the user must hear of it and keep what he did
                self._set_aside(specimen, sentence("Saving", error))
            else:
                self._done(specimen)

    def _write(self, specimen: Specimen, *, always: bool) -> None:
        assert self._file is not None
        assert self._claim is not None
        if not self._claim.take():
            self._move_on(in_use=True)
        if self._untouched(specimen) and not always:
            return
        try:
            self._file.write(specimen)
        except RecordChangedError:
            self._move_on(in_use=False)
            self._file.write(specimen)

    def _untouched(self, specimen: Specimen) -> bool:
        """Whether nothing was done yet to a record that another desk has: then there is nothing to keep."""
        assert self._file is not None
        in_use = self.moved is not None and self.moved.in_use
        return in_use and specimen == self._kept and not self._file.path.exists()

    def _done(self, specimen: Specimen) -> None:
        self._kept = specimen
        plight, self._plight = self._plight, None
        if plight is None:
            return
        if plight.aside is not None:
            with suppress(OSError):
                plight.aside.unlink()
                plight.aside.with_name(f"{plight.aside.name}.bak").unlink(missing_ok=True)
                plight.aside.parent.rmdir()
        self._say(f"Saved again, in {self.path}.")

    def _set_aside(self, specimen: Specimen, why: str) -> None:
        assert self._file is not None
        record, known = self._file.path, self._plight
        places = [known.aside] if known and known.aside else folders.places_aside(record)
        # One value, so that nobody sees the one without the other.
        self._plight = _Plight(why, _copied(_with_whole_paths(specimen, record), places))
        if self._plight != known:
            self._say(f"Not saved: {self._plight.words}")
        self._stop_timer()
        self._timer = threading.Timer(RETRY_S, self._again)
        self._timer.daemon = True
        self._timer.start()

    def _again(self) -> None:
        wanted = self._wanted
        if self._plight is not None and wanted is not None:
            self.ask(wanted)

    def _stop_timer(self) -> None:
        if self._timer is not None:
            self._timer.cancel()
            self._timer = None

    def _failed(self, error: Exception) -> None:
        self._plight = _Plight(sentence("Saving", error), None)
        self._say(self._plight.words)


def _first_free(path: Path, number: int) -> tuple[RecordFile, Claim]:
    """Return the first record of this name, numbered from `number` on, that is neither there nor in use."""
    while True:
        one = folders.numbered(path, number)
        claim = Claim(one)
        if not one.exists() and claim.take():
            return RecordFile(one), claim
        number += 1


def _with_whole_paths(specimen: Specimen, record: Path) -> Specimen:
    """Return a record's content as it must be in another folder."""
    photos = tuple(replace(one, file=folders.resolve(one.file, record).as_posix()) for one in specimen.photos)
    beside = specimen.sheet is not None and folders.resolve(specimen.sheet, record).is_file()
    sheet = (
        folders.resolve(specimen.sheet, record).as_posix() if specimen.sheet and beside else specimen.sheet
    )
    return replace(specimen, photos=photos, sheet=sheet)


def _copied(specimen: Specimen, places: list[Path]) -> Path | None:
    """Write a copy at the first place that takes it; returns that, or None."""
    for place in places:
        with suppress(Exception):  # the next place may do
            write_specimen(place, specimen)
            return place
    return None
