"""Words for what should not have happened: a fault of the program, told in one sentence with its place."""

import traceback
from pathlib import Path

_MOST_DETAIL = 200


def sentence(doing: str, error: BaseException) -> str:
    """Say in one line what failed and where, for page and terminal.

    Parameters
    ----------
    doing : str
        What was being done, as the beginning of a sentence: ``Saving``.
    error : BaseException
        What came of it.

    Returns
    -------
    str
        On one line.
    """
    detail = " ".join(str(error).split())[:_MOST_DETAIL]
    frames = traceback.extract_tb(error.__traceback__)
    place = f", {Path(frames[-1].filename).name} line {frames[-1].lineno}" if frames else ""
    what = f"{type(error).__name__}: {detail}" if detail else type(error).__name__
    return f"{doing} failed by a fault of the program ({what}{place}); please report it."
