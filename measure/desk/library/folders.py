"""Where a record lies, and which files may join it."""

import os
import re
import shlex
import shutil
import subprocess
import sys
import tempfile
from datetime import date
from pathlib import Path

from measure.errors import MeasureError
from measure.files import write_atomic

SUFFIX = ".specimen.json"
_UNSAFE = re.compile(r"[^\w.\- ]+")
_MOST_NAME = 80
_MOST_EARLIER = 12
# Below the folder where the desk was started, for photos uploaded on the page.
HOME_NAME = "cardspan-specimens"


def record_beside(photo: Path) -> Path:
    """Return where the record of a photo opened by path lies: beside it, under its name.

    Parameters
    ----------
    photo : Path
        The photo's path.

    Returns
    -------
    Path
        Whether or not there is such a file.
    """
    return photo.with_name(photo.stem + SUFFIX)


def new_record(home: Path) -> Path:
    """Return the record's path in a folder of its own that doesn't exist yet, below `home`."""
    day = date.today().isoformat()
    for number in range(1, 10**4):
        folder = home / HOME_NAME / f"{day}-{number}"
        if not folder.exists():
            return folder / f"toy{SUFFIX}"
    raise MeasureError(f"{home / HOME_NAME}: too many folders of {day}; clear some away")


def numbered(record: Path, number: int) -> Path:
    """Return the name of a record's next one beside it: ``toy-2.specimen.json``; 1 gives its own."""
    if number == 1:
        return record
    suffix = SUFFIX if record.name.endswith(SUFFIX) else record.suffix
    return record.with_name(f"{record.name.removesuffix(suffix)}-{number}{suffix}")


def places_aside(record: Path) -> list[Path]:
    """Return where to keep a record that can't be written at its own place, best first; none is there yet."""
    from measure.cameras import store_path

    roots = (store_path().parent, Path(tempfile.gettempdir()) / "cardspan")
    return [_unused(root / "kept-aside" / record.name) for root in roots]


def _unused(record: Path) -> Path:
    return next(one for number in range(1, 10**4) if not (one := numbered(record, number)).exists())


def earlier_records(home: Path) -> list[Path]:
    """Return the records made from the page before, newest first."""
    found = sorted((home / HOME_NAME).glob(f"*/*{SUFFIX}"), key=lambda one: one.stat().st_mtime, reverse=True)
    return found[:_MOST_EARLIER]


def safe_name(name: str, fallback: str) -> str:
    """Return a file name without folders, control characters or odd characters."""
    last = name.replace("\\", "/").rsplit("/", 1)[-1]
    clean = _UNSAFE.sub("_", last).strip(" .")[-_MOST_NAME:].lstrip(" .")
    return clean or fallback


def free_name(folder: Path, name: str) -> Path:
    """Return a path in the folder that no file has yet."""
    path = folder / name
    wanted, number = path, 2
    while path.exists():
        path = folder / f"{wanted.stem}-{number}{wanted.suffix}"
        number += 1
    return path


def put(folder: Path, name: str, data: bytes, fallback: str) -> Path:
    """Write a file uploaded on the page into the record's folder, under a free and harmless name.

    The same bytes under the same name are not written twice.
    """
    wanted = folder / safe_name(name, fallback)
    if wanted.is_file() and wanted.stat().st_size == len(data) and wanted.read_bytes() == data:
        return wanted
    path = free_name(folder, wanted.name)
    write_atomic(path, data)
    return path


def reopening(record: Path) -> str:
    """Return the command that opens a record again, from any folder."""
    program = "cardspan"
    if shutil.which(program) is None and Path(sys.argv[0]).stem == program:
        program = str(Path(sys.argv[0]).absolute())
    words = [program, "desk", "--specimen", str(record.absolute())]
    return subprocess.list2cmdline(words) if os.name == "nt" else shlex.join(words)


def relative(path: Path, record: Path) -> str:
    """Return how the record names a file: relative to its own folder where that is possible."""
    try:
        return Path(os.path.relpath(path, record.parent)).as_posix()
    except ValueError:  # another drive
        return path.as_posix()


def resolve(file: str, record: Path) -> Path:
    """Return the path of a file that the record names."""
    return Path(os.path.normpath(record.parent / file))
