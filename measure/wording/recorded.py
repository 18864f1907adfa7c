"""Cautions of lengths that a record tells in words, read back: the page words them anew, in its own terms."""

import re
from collections.abc import Iterable
from functools import cache
from string import Formatter

from calibration.cautions import Caution
from measure.cautions import LengthCautionCode
from measure.wording import lengths
from measure.wording.catalogue import worded
from measure.wording.terms import Audience


def reworded(texts: Iterable[str], audience: Audience) -> tuple[str, ...]:
    """Return a record's cautions in the words for someone; one of another program as it stands.

    Parameters
    ----------
    texts : iterable of str
        As the record keeps them, in the command line's words.
    audience : Audience
        Who reads them.

    Returns
    -------
    tuple of str
        One for each, in the order given.
    """
    read = ((text, _caution(text)) for text in texts)
    return tuple(text if caution is None else worded(caution, audience) for text, caution in read)


def _caution(text: str) -> Caution | None:
    for code, pattern in _patterns().items():
        if found := pattern.fullmatch(text):
            return Caution.of(code, **dict(_fact(*pair) for pair in found.groupdict().items()))
    return None


def _fact(name: str, number: str) -> tuple[str, float]:
    if name.endswith("_percent"):
        return f"{name.removesuffix('percent')}share", float(number) / 100.0
    return name, float(number)


@cache
def _patterns() -> dict[LengthCautionCode, re.Pattern[str]]:
    """Return what the sentence of each code looks like, its numbers as groups."""
    wordings = {code: lengths.COMMON[code] for code in LengthCautionCode}
    return {code: re.compile(_pattern(text)) for code, text in wordings.items() if isinstance(text, str)}


def _pattern(text: str) -> str:
    parts = Formatter().parse(text)
    return "".join(
        re.escape(said) + (rf"(?P<{name}>[-+.e\d]+)" if name else "") for said, name, _, _ in parts
    )
