"""Cautions that a record tells in words, read back: of its lengths, and of its photos' cameras."""

import re
from collections.abc import Iterable
from enum import StrEnum
from functools import cache
from string import Formatter

from calibration.cautions import Caution, CautionCode
from measure.cautions import LengthCautionCode
from measure.wording.catalogue import COMMON, worded
from measure.wording.terms import Audience

_RECORDED = (
    *(code for code in LengthCautionCode if code != LengthCautionCode.AS_RECORDED),
    CautionCode.CROPPED,
    CautionCode.DIGITAL_ZOOM,
)


def recorded_cautions(texts: Iterable[str]) -> tuple[Caution, ...]:
    """Return a record's cautions as values; one of another program keeps its text.

    Parameters
    ----------
    texts : iterable of str
        As the record keeps them, in the command line's words.

    Returns
    -------
    tuple of Caution
        One for each, in the order given.
    """
    return tuple(_caution(text) or Caution.of(LengthCautionCode.AS_RECORDED, text=text) for text in texts)


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
    return tuple(worded(caution, audience) for caution in recorded_cautions(texts))


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
def _patterns() -> dict[StrEnum, re.Pattern[str]]:
    """Return what the sentence of each code looks like, its numbers as groups."""
    wordings = {code: COMMON[code] for code in _RECORDED}
    return {code: re.compile(_pattern(text)) for code, text in wordings.items() if isinstance(text, str)}


def _pattern(text: str) -> str:
    parts = Formatter().parse(text)
    return "".join(
        re.escape(said) + (rf"(?P<{name}>[-+.e\d]+)" if name else "") for said, name, _, _ in parts
    )
