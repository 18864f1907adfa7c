"""The paths of files that a record names; nothing is looked up on disk."""

import os.path
from pathlib import PurePath


def resolved(file: str, folder: str) -> str:
    """Return the path of a file that a record in this folder names.

    Parameters
    ----------
    file : str
        As the record names it.
    folder : str
        The record's folder.

    Returns
    -------
    str
    """
    return os.path.normpath(PurePath(folder) / file)


def named(path: str, folder: str) -> str:
    """Return how a record in this folder names a file: relative to it where that is possible.

    Parameters
    ----------
    path : str
        The file's absolute path.
    folder : str
        The record's folder.

    Returns
    -------
    str
        With forward slashes.
    """
    try:
        return PurePath(os.path.relpath(path, folder)).as_posix()
    except ValueError:  # another drive
        return PurePath(path).as_posix()


def stem(path: str) -> str:
    """Return a file's name without its ending.

    Parameters
    ----------
    path : str
        The file.

    Returns
    -------
    str
    """
    return PurePath(path).stem
