"""Atomic writing: after a crash there is the old file or the new one, never half of one."""

import os
import re
import tempfile
from pathlib import Path

from measure.errors import MeasureError

# Python's stand-ins for bytes that aren't UTF-8, as in a name from another system (PEP 383).
_SURROGATE = re.compile("[\ud800-\udfff]")


def write_atomic(path: Path, data: bytes | str, *, backup: bool = False) -> None:
    """Write a file by way of a temporary one beside it.

    Parameters
    ----------
    path : Path
        The file to write; its folder is made where it is missing.
    data : bytes or str
        The whole content; text is written as UTF-8.
    backup : bool
        Keep the previous content as ``path`` with ``.bak`` appended.

    Raises
    ------
    MeasureError
        The folder can't be written to, or the text holds what UTF-8 has no form for.
    """
    raw = _encoded(path, data) if isinstance(data, str) else data
    temporary: str | None = None
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        handle, temporary = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}.", suffix=".part")
        with os.fdopen(handle, "wb") as stream:
            stream.write(raw)
            stream.flush()
            os.fsync(stream.fileno())
        Path(temporary).chmod(_mode(path))
        if backup and path.exists():
            _keep(path)
        Path(temporary).replace(path)
        temporary = None
    except OSError as error:
        raise MeasureError(
            f"{path}: can't be written ({error.strerror or error}); choose another folder"
        ) from error
    finally:
        if temporary is not None:
            Path(temporary).unlink(missing_ok=True)


def utf8_name(name: str) -> str:
    """Return a file's name for documents, its bytes that aren't UTF-8 as underscores.

    Parameters
    ----------
    name : str
        As the file system gives it.

    Returns
    -------
    str
        Of the same number of characters.
    """
    return _SURROGATE.sub("_", name)


def _encoded(path: Path, text: str) -> bytes:
    try:
        return text.encode("utf-8")
    except UnicodeEncodeError as error:
        odd = text[max(0, error.start - 20) : error.end + 20]
        raise MeasureError(
            f"{path}: can't be written, since {odd!r} isn't UTF-8; rename the file or type it again"
        ) from error


def _mode(path: Path) -> int:
    # mkstemp gives 0600; a new file should be as readable as the user's other files.
    if path.exists():
        return path.stat().st_mode & 0o777
    mask = os.umask(0)
    os.umask(mask)
    return 0o666 & ~mask


def _keep(path: Path) -> None:
    backup = path.with_name(path.name + ".bak")
    backup.unlink(missing_ok=True)
    try:
        os.link(path, backup)
    except OSError:  # a file system without hard links
        backup.write_bytes(path.read_bytes())
