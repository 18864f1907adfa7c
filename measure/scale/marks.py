"""What a user states about a source of scale: from texts to values."""

import re
from typing import TYPE_CHECKING

from measure.errors import SpanError

if TYPE_CHECKING:
    from calibration.sources import Marks

_PRINTED = re.compile(r"^\s*(\d+(?:\.\d+)?)\s*(?:[xX×]\s*(\d+(?:\.\d+)?))?\s*(?:mm)?\s*$")


def marks_from_texts(
    *,
    at: list[tuple[float, float]] | None = None,
    nearer: tuple[float, float] | None = None,
    printed_mm: str | None = None,
) -> "Marks":
    """Return the marks for a source of scale.

    Parameters
    ----------
    at : list of points, optional
        Where it is, px.
    nearer : point, optional
        A point on the side nearer to the camera, px.
    printed_mm : str, optional
        ``ACROSSxDOWN`` as measured on the printed target's check rules, or ``ACROSS`` alone.

    Returns
    -------
    Marks
        Points as arrays; the target's print scale where its rules were measured.

    Raises
    ------
    SpanError
        The printed lengths can't be read.
    ObjectError
        They are not those of the check rules.
    """
    import numpy as np

    from calibration.printed_target import print_scale
    from calibration.sources import Marks

    scale = None
    if printed_mm is not None:
        scale = print_scale(*printed_lengths(printed_mm))
    return Marks(
        None if at is None else np.array(at, dtype=float),
        None if nearer is None else np.array(nearer, dtype=float),
        scale,
    )


def printed_lengths(text: str) -> tuple[float, ...]:
    """Return what was measured on the printed target's check rules, across and, where given, down, in mm.

    Parameters
    ----------
    text : str
        ``ACROSSxDOWN`` or ``ACROSS``, with or without mm.

    Returns
    -------
    tuple of float
        One length or two.

    Raises
    ------
    SpanError
        It can't be read.
    """
    match = _PRINTED.match(text)
    if match is None:
        raise SpanError(f"--printed-mm: '{text}'; expected both lengths in mm, such as 149.6x199.5")
    return (float(match[1]), float(match[2])) if match[2] else (float(match[1]),)
