"""Lengths as people write them, in millimetres or in inches with fractions."""

import math
import re
from fractions import Fraction

from references.limits import LONGEST_MM, LONGEST_NUMBER, number_in, number_of, shortened, whole_in

MM_PER_INCH = 25.4
"""Exact by the international yard and pound agreement of 1959."""

_UNITS_MM = {
    "mm": 1.0, "millimetre": 1.0, "millimetres": 1.0, "millimeter": 1.0, "millimeters": 1.0,
    "cm": 10.0, "centimetre": 10.0, "centimetres": 10.0, "centimeter": 10.0, "centimeters": 10.0,
    "m": 1000.0, "in": MM_PER_INCH, "inch": MM_PER_INCH, "inches": MM_PER_INCH,
    '"': MM_PER_INCH, "″": MM_PER_INCH, "”": MM_PER_INCH, "''": MM_PER_INCH,
    "ft": 12 * MM_PER_INCH, "'": 12 * MM_PER_INCH, "′": 12 * MM_PER_INCH,
}  # fmt: skip
_VULGAR = {
    "½": "1/2", "¼": "1/4", "¾": "3/4", "⅛": "1/8", "⅜": "3/8", "⅝": "5/8", "⅞": "7/8",
    "⅓": "1/3", "⅔": "2/3",
}  # fmt: skip
_NUMBER = r"(?:(?P<whole>\d+)[ -]+)?(?P<top>\d+)/(?P<bottom>\d+)|(?P<decimal>\d+(?:[.,]\d+)?|[.,]\d+)"
_LENGTH = re.compile(rf"^(?:{_NUMBER})\s*(?P<unit>[a-z]+|''|[\"″”'′])?\.?$")
_FEET = re.compile(r"^(?P<feet>\d+)\s*(?:ft|'(?!')|′)\s*(?P<rest>.+)$")

EXAMPLES = '228.5, "228.5 mm", "8 15/16 in" or "8.94 in"'


def parse_length_mm(given: object, unit: str = "mm") -> float:
    """Turn a length as written in a sheet or a table into millimetres.

    Parameters
    ----------
    given : object
        A number in `unit`, or text: ``"228 mm"``, ``"22.8 cm"``, ``"8 15/16 in"``, ``'8-15/16"'``,
        ``"8.94in"``, ``"8¾ in"``, ``"1 ft 3 1/2 in"``. Text without a unit is in `unit`.
    unit : str
        ``"mm"`` or ``"in"``.

    Returns
    -------
    float
        The length in mm, from 0 to `LONGEST_MM`.

    Raises
    ------
    ValueError
        If the text is not a length; the message says what was found.
    """
    if isinstance(given, bool) or not isinstance(given, (int, float, str)):
        raise ValueError(f"{_quoted(given)} is not a length")
    number = _parse_text(given, unit) if isinstance(given, str) else number_of(given)
    scale = 1.0 if isinstance(given, str) else _UNITS_MM[unit]
    if number is None or not 0 <= number * scale <= LONGEST_MM:
        raise ValueError(f"{_quoted(given)} is not a length: it must be from 0 to {LONGEST_MM / 1000:g} m")
    return number * scale


def _quoted(given: object) -> str:
    return f'"{shortened(given)}"' if isinstance(given, str) else shortened(repr(given))


def _parse_text(given: str, unit: str) -> float:
    if len(given) > LONGEST_NUMBER:
        raise ValueError(f"{_quoted(given)} is not a length: it is too long for one")
    text = given.strip().lower().replace("⁄", "/")
    for sign, fraction in _VULGAR.items():
        text = text.replace(sign, f" {fraction}")
    text = " ".join(text.split())
    text = re.sub(r"\s*/\s*", "/", text)
    feet = _FEET.match(text)
    match = _LENGTH.match(feet["rest"] if feet else text)
    unit = "in" if feet else unit
    if not match or (match["unit"] or unit) not in _UNITS_MM:
        raise ValueError(f"{_quoted(given)} is not a length")
    if match["bottom"] and not whole_in(match["bottom"]):
        raise ValueError(f"{_quoted(given)} divides by zero")
    feet_mm = whole_in(feet["feet"]) * _UNITS_MM["ft"] if feet else 0.0
    return feet_mm + _number(match) * _UNITS_MM[match["unit"] or unit]


def _number(match: re.Match[str]) -> float:
    if match["decimal"]:
        return number_in(match["decimal"].replace(",", "."))
    return float(
        whole_in(match["whole"] or "0") + Fraction(whole_in(match["top"]), whole_in(match["bottom"]))
    )


def format_sixteenths(value_mm: float) -> str:
    """Give a length to the nearest sixteenth of an inch, reduced, ties up: ``"8 15/16 in"``.

    Parameters
    ----------
    value_mm : float
        The length, from 0.

    Returns
    -------
    str
        Whole inches where no fraction is left.
    """
    sixteenths = math.floor(value_mm / MM_PER_INCH * 16 + 0.5)
    whole, rest = divmod(sixteenths, 16)
    if not rest:
        return f"{whole} in"
    fraction = str(Fraction(rest, 16))
    return f"{whole} {fraction} in" if whole else f"{fraction} in"


def format_value(value_mm: float, unit: str) -> str:
    """Give a length of a sheet in the sheet's unit, without trailing zeros: ``"176 mm"``.

    Parameters
    ----------
    value_mm : float
        The length.
    unit : str
        "mm" or "in".

    Returns
    -------
    str
        To 0.01 mm or 0.001 in.
    """
    if unit == "in":
        return f"{round(value_mm / MM_PER_INCH, 3):g} in"
    return f"{round(value_mm, 2):.10g} mm"


def format_pair(value_mm: float, expanded_mm: float, unit: str) -> str:
    """Give a length with its expanded uncertainty, two digits of it: ``"160.12 ± 0.46 mm"``.

    Parameters
    ----------
    value_mm : float
        The length.
    expanded_mm : float
        Its expanded uncertainty; 0 or less leaves it out.
    unit : str
        "mm" or "in".

    Returns
    -------
    str
        Both rounded to the same place.

    References
    ----------
    JCGM 100:2008, 7.2.6.
    """
    scale = _UNITS_MM[unit]
    value, expanded = value_mm / scale, expanded_mm / scale
    if expanded <= 0:
        return format_value(value_mm, unit)
    digits = 1 - math.floor(math.log10(expanded))
    if round(expanded, digits) >= 10 ** (2 - digits):  # 0.0996 becomes 0.10, not 0.100
        digits -= 1
    shown = max(digits, 0)
    return f"{round(value, digits):.{shown}f} ± {round(expanded, digits):.{shown}f} {unit}"
