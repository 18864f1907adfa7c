"""Texts as they come in from pages, options and files, made fit to be kept, sent and printed."""

import re
from typing import Any

# What any program may write, and what breaks a line in one way or another.
_BREAKS = re.compile("\r\n|[\r\x0b\x0c\x85\u2028\u2029]")
# Halves of a character pair without their other half can't be written as UTF-8; control characters other than
# tab and line break have no place in HTML, XML or a PDF, and steer a terminal.
_UNFIT = re.compile("[\x00-\x08\x0e-\x1f\x7f-\x9f\ud800-\udfff\ufffe\uffff]")
REPLACEMENT = "\ufffd"


def clean_text(text: str) -> str:
    """Return a text that can be stored: every kind of line break as one, U+FFFD for what can't be stored.

    Parameters
    ----------
    text : str
        As typed, pasted or read. A text that is clean already comes back as it is.

    Returns
    -------
    str
        It can be written as UTF-8, and holds no control characters but tab and line break.
    """
    return _UNFIT.sub(REPLACEMENT, _BREAKS.sub("\n", text))


def cleaned(value: Any) -> Any:
    """Return decoded JSON with all its texts clean, those that name fields included.

    Parameters
    ----------
    value : Any
        A text, a list, a dictionary, or what else JSON holds, within each other.

    Returns
    -------
    Any
        The same in new lists and dictionaries.
    """
    if isinstance(value, str):
        return clean_text(value)
    if isinstance(value, list):
        return [cleaned(one) for one in value]
    if isinstance(value, dict):
        return {clean_text(key): cleaned(one) for key, one in value.items()}
    return value
