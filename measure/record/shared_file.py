"""A record that several programs may write: one at a time, and none over what it has not seen."""

import hashlib
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import TYPE_CHECKING

from measure.errors import RecordChangedError, RecordError
from measure.record.file import read_specimen, write_specimen
from measure.record.specimen import Specimen

if TYPE_CHECKING:
    from filelock import BaseFileLock

# Reading, changing and writing a record takes milliseconds; whoever holds it longer is stuck.
_MOST_WAIT_S = 20.0


@contextmanager
def record_lock(path: Path, *, most_wait_s: float = _MOST_WAIT_S) -> Iterator[None]:
    """Keep other programs from writing a record meanwhile; a crash gives it free.

    Where no lock can be had, as in a folder that can't be written to, there is none: writing will fail by
    itself, with its own reason.

    Parameters
    ----------
    path : Path
        The record, which need not exist yet.
    most_wait_s : float
        How long to wait for another program.

    Yields
    ------
    None
        Once, with the record locked or no lock to be had.

    Raises
    ------
    RecordError
        Another program holds it for longer.
    """
    from filelock import Timeout

    with suppress(OSError):
        path.parent.mkdir(parents=True, exist_ok=True)
    lock = _lock(path, "lock")
    try:
        lock.acquire(timeout=most_wait_s)
    except Timeout as error:
        raise RecordError(
            f"{path}: another program has been writing it for {most_wait_s:g} s;"
            " nothing was changed; try again when it has ended"
        ) from error
    except (OSError, NotImplementedError):
        yield
        return
    try:
        yield
    finally:
        _give_free(lock)


class Claim:
    """The sign that a desk is open on a record, for other desks to see; it goes when its program ends.

    Parameters
    ----------
    path : Path
        The record, which need not exist yet.
    """

    def __init__(self, path: Path) -> None:
        self._lock = _lock(path, "open")

    def take(self) -> bool:
        """Take it; False where another desk has it. Where no lock can be had there is nobody to keep out."""
        from filelock import Timeout

        if self._lock.is_locked:
            return True
        try:
            self._lock.acquire(timeout=0)
        except Timeout:
            return False
        except (OSError, NotImplementedError):
            return True
        return True

    def give_free(self) -> None:
        """Let other desks have it."""
        _give_free(self._lock)


class RecordFile:
    """A record held open by one program, which others may change meanwhile.

    Parameters
    ----------
    path : Path
        The record, which need not exist yet.
    """

    def __init__(self, path: Path) -> None:
        self.path = path
        self._known: str | None = None
        self._kept: Specimen | None = None

    def read(self) -> Specimen:
        """Read it, and remember what it held.

        Raises
        ------
        RecordError
            It can't be used.
        """
        with record_lock(self.path):
            self._kept = read_specimen(self.path)
            self._known = _digest(self.path)
        return self._kept

    def write(self, specimen: Specimen) -> None:
        """Write it, unless it holds this already.

        Parameters
        ----------
        specimen : Specimen
            What it is to hold.

        Raises
        ------
        RecordChangedError
            It holds what this program neither read nor wrote; it is left as it is.
        MeasureError
            It can't be written.
        """
        with record_lock(self.path):
            found = _digest(self.path)
            if found is not None and found != self._known:
                raise RecordChangedError(f"{self.path}: another program has changed it")
            if found is not None and specimen == self._kept:
                return
            write_specimen(self.path, specimen)
            self._kept, self._known = specimen, _digest(self.path)


def _digest(path: Path) -> str | None:
    """Return what tells a file's content, or None where there is none."""
    try:
        return hashlib.sha256(path.read_bytes()).hexdigest()
    except FileNotFoundError:
        return None
    except NotADirectoryError:
        return None
    except OSError as error:
        raise RecordError(
            f"{path}: can't be read ({error.strerror or error}), so it is not overwritten"
        ) from error


def _lock(path: Path, word: str) -> "BaseFileLock":
    from filelock import FileLock

    # Writing replaces the name in this folder, so that is what is locked, by whichever way it is reached.
    folder = path.parent.resolve()
    return FileLock(folder / f".{path.name}.{word}", thread_local=False)


def _give_free(lock: "BaseFileLock") -> None:
    if not lock.is_locked:
        return
    # Whoever waits for it sees that the file is gone and makes a new one.
    with suppress(OSError):
        Path(lock.lock_file).unlink()
    lock.release()
