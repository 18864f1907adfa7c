"""Reads the files that people give: regular ones of a bounded size, never a pipe or a device."""

import os
import stat
from pathlib import Path

from references.errors import UnreadableError


def read_text_file(path: Path, most_bytes: int) -> str:
    """Return the text of a file.

    Parameters
    ----------
    path : Path
        The file. A folder, a pipe, a socket or a device is refused at once: some of these never
        end, or block on opening.
    most_bytes : int
        The largest size.

    Returns
    -------
    str
        Without a byte-order mark.

    Raises
    ------
    UnreadableError
        It is missing, not a regular file, too large or not in UTF-8; the message says which, and no more.
    """
    try:
        data = _bytes_of(path, most_bytes)
    except (OSError, ValueError) as error:  # ValueError: a null character in the name
        reason = getattr(error, "strerror", None) or str(error)
        raise UnreadableError(reason[:1].lower() + reason[1:]) from error
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise UnreadableError("not a text in UTF-8") from error


def _bytes_of(path: Path, most_bytes: int) -> bytes:
    # Opening a pipe that nobody writes to would block.
    handle = os.open(path, os.O_RDONLY | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0))
    try:
        about = os.fstat(handle)
        if stat.S_ISDIR(about.st_mode):
            raise UnreadableError("this is a folder")
        if not stat.S_ISREG(about.st_mode):
            raise UnreadableError("this is a pipe or a device, not a file")
        with os.fdopen(handle, "rb", closefd=False) as stream:
            data = stream.read(most_bytes + 1)
    finally:
        os.close(handle)
    if len(data) > most_bytes:
        raise UnreadableError(f"larger than {most_bytes >> 20} MB")
    return data
