"""The largest numbers, texts and files that the program takes, in one place for all readers.

Sheets, records, command options and messages of the page keep to these. The bounds lie far beyond
any toy, and well within what the arithmetic of a verdict or a length can carry.
"""

import re
from math import isfinite

LONGEST_MM = 100_000.0
"""No length, height or uncertainty is above 100 m."""
LEAST_MM = 1e-6
"""No spread or uncertainty of a length is below a millionth of a millimetre, except exactly 0."""
LARGEST_COUNT = 10_000
"""No count of a feature is above this."""
MOST_EXAMPLES = 100_000
"""No range or spread is from more examples."""
LARGEST_NUMBER = 1e9
"""No other number is above this: pixels and their squares."""
LEAST_NUMBER = 1e-9
"""No other number that has to be above 0 is below this."""
MOST_TABLES = {"release": 60, "part": 300, "feature": 100}
"""Releases of a sheet, parts of a sheet, features of a part: what a verdict can weigh in seconds."""
MOST_READINGS = 50
"""Findings on one feature of a specimen: each pair of them may be slips, so time grows with the square."""
MOST_WORDS = 100
"""Alternatives of a trait, or values of a count, that one feature tells apart."""
LONGEST_TEXT = 20_000
"""Characters of a text that somebody wrote: a name, a note."""
LONGEST_NUMBER = 60
"""Characters of a number or a length."""
DEEPEST = 64
"""Brackets within brackets, or keys joined by dots; a sheet or a record needs eight."""
MOST_SHEET_BYTES = 2**20
MOST_RECORD_BYTES = 16 * 2**20
_MOST_SHOWN = 60

_LEXEMES = re.compile(
    r"""
      (?P<string>\"{3}[^"\\]*+(?:(?:\\.|"(?!""))[^"\\]*+)*+"{3,5}
        |'{3}(?:[^']|'(?!''))*+'{3,5}
        |"[^"\\\n]*+(?:\\.[^"\\\n]*+)*+"
        |'[^'\n]*+')
      |(?P<unclosed>\"{3}|'{3})
      |(?P<blank>\#[^\n]*+|[^\S\n]++)
      |(?P<open>[\[{]) |(?P<close>[\]}]) |(?P<dot>\.) |(?P<word>[\w+-]++) |(?P<other>.)
    """,
    re.VERBOSE | re.DOTALL,
)


def number_of(value: object, least: float = -LARGEST_NUMBER, most: float = LARGEST_NUMBER) -> float | None:
    """Return a decoded value as a number, or None where it isn't one from `least` to `most`.

    NaN, infinities, true, and whole numbers too large for a float are not numbers here.

    Parameters
    ----------
    value : object
        As a parser of JSON or TOML gives it.
    least, most : float
        The bounds, both included.

    Returns
    -------
    float or None
        None for texts, too.
    """
    if isinstance(value, bool) or not isinstance(value, int | float):
        return None
    # Python compares a whole number of any size with a float exactly; converting it first could overflow.
    return float(value) if least <= value <= most else None


def whole_of(value: object, least: int, most: int) -> int | None:
    """Return a decoded value as a whole number, or None where it isn't one from `least` to `most`.

    Parameters
    ----------
    value : object
        As a parser of JSON or TOML gives it; neither true nor 3.0 is a whole number.
    least, most : int
        The bounds, both included.

    Returns
    -------
    int or None
    """
    if isinstance(value, bool) or not isinstance(value, int) or not least <= value <= most:
        return None
    return value


def number_in(text: str) -> float:
    """Return the number that a text states.

    Parameters
    ----------
    text : str
        As `float` takes it.

    Returns
    -------
    float
        Finite, of either sign and any size.

    Raises
    ------
    ValueError
        It isn't a number, isn't finite, or has more than `LONGEST_NUMBER` characters.
    """
    number = float(text) if len(text) <= LONGEST_NUMBER else None
    if number is None or not isfinite(number):
        raise ValueError(f"{shortened(text)} is too large, or has too many digits")
    return number


def whole_in(text: str) -> int:
    """Return the whole number that a text states.

    Parameters
    ----------
    text : str
        As `int` takes it.

    Returns
    -------
    int
        Of either sign.

    Raises
    ------
    ValueError
        It isn't one, or has more than `LONGEST_NUMBER` characters.
    """
    if len(text) > LONGEST_NUMBER:
        raise ValueError(f"{shortened(text)} has too many digits")
    return int(text)


def shortened(text: str, most: int = _MOST_SHOWN) -> str:
    """Return a text on one line and short enough for a message.

    Parameters
    ----------
    text : str
        Any text from outside, however long.
    most : int
        Characters at most.

    Returns
    -------
    str
        With an ellipsis for its last character where something is left out.
    """
    line = " ".join(text[: 4 * most].split())
    return line if len(text) <= 4 * most and len(line) <= most else line[: most - 1] + "…"


def too_deep_at(text: str) -> int | None:
    """Return the line on which a TOML or JSON text nests deeper than `DEEPEST`, or None.

    To be called before parsing: parsers recurse into brackets, and take a time that grows with
    the square of the number of keys joined by dots.

    Parameters
    ----------
    text : str
        TOML or JSON, well-formed or not.

    Returns
    -------
    int or None
        Counted from 1.
    """
    depth = chain = 0
    line = 1
    for lexeme in _LEXEMES.finditer(text):
        kind = lexeme.lastgroup
        if kind == "unclosed":  # the parser will say so
            return None
        line += lexeme[0].count("\n")
        depth += (kind == "open") - (kind == "close")
        if kind == "dot":
            chain += 1
        elif kind not in ("word", "string", "blank"):
            chain = 0
        if max(depth, chain) > DEEPEST:
            return line
    return None
