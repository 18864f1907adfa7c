"""Lengths as text: millimetres, inches, fractions of an inch, rounded as in the GUM, and back."""

from decimal import ROUND_HALF_UP, Decimal
from fractions import Fraction
from math import isfinite

from measure.errors import UnitError
from measure.length.value import Length
from references.limits import shortened
from references.release_sheet import parse_length_mm

MM_PER_INCH = 25.4  # exactly, by international agreement of 1959


def round_with_uncertainty(value: float, uncertainty: float) -> tuple[str, str]:
    """Round an uncertainty to two significant digits and the value to match.

    Parameters
    ----------
    value, uncertainty : float
        In the same unit.

    Returns
    -------
    value, uncertainty : str
        Plain decimals; an uncertainty of zero leaves the value to three decimals.

    Raises
    ------
    ValueError
        One isn't finite, or the uncertainty is negative.

    References
    ----------
    JCGM 100:2008, 7.2.6.
    """
    if not isfinite(value) or not isfinite(uncertainty) or uncertainty < 0:
        raise ValueError("a value and its uncertainty must be finite, the latter not negative")
    exact = Decimal(repr(float(uncertainty)))
    if exact == 0:
        return f"{value:.3f}", "0"
    digit = exact.adjusted() - 1
    rounded = exact.quantize(Decimal(1).scaleb(digit), ROUND_HALF_UP)
    if rounded.adjusted() > exact.adjusted():  # 0.0996 becomes 0.10, not 0.100
        digit += 1
        rounded = exact.quantize(Decimal(1).scaleb(digit), ROUND_HALF_UP)
    unit = Decimal(1).scaleb(digit)
    number = Decimal(repr(float(value))).quantize(unit, ROUND_HALF_UP)
    if digit > 0:
        return str(int(number)), str(int(rounded))
    return f"{number:f}", f"{rounded:f}"


def format_mm(length: Length) -> str:
    """Return a length with its expanded uncertainty: '228.35 ± 0.46 mm'.

    Parameters
    ----------
    length : Length
        Its own coverage factor is used.

    Returns
    -------
    str
        Two digits of the uncertainty, and the value to match.
    """
    value, expanded = round_with_uncertainty(length.value_mm, length.expanded_uncertainty_mm)
    return f"{value} ± {expanded} mm"


def format_inches(length: Length) -> str:
    """Return a length with its expanded uncertainty in decimal inches: '8.990 ± 0.018 in'.

    Parameters
    ----------
    length : Length
        Its own coverage factor is used.

    Returns
    -------
    str
        Two digits of the uncertainty, and the value to match.
    """
    value, expanded = round_with_uncertainty(
        length.value_mm / MM_PER_INCH, length.expanded_uncertainty_mm / MM_PER_INCH
    )
    return f"{value} ± {expanded} in"


def format_fraction(value_mm: float, denominator: int = 16) -> str:
    """Return the nearest fraction of an inch, '8 15/16 in', to stand beside millimetres, never alone.

    Parameters
    ----------
    value_mm : float
        Length.
    denominator : int
        Finest division, a power of two up to 64.

    Returns
    -------
    str
        Reduced, with a minus before a negative one, ties away from zero.

    Raises
    ------
    ValueError
        Another denominator.
    """
    if denominator not in (1, 2, 4, 8, 16, 32, 64):
        raise ValueError("inches are divided by powers of two up to 64")
    exact = Decimal(repr(abs(float(value_mm)))) / Decimal("25.4") * denominator
    parts = Fraction(int(exact.to_integral_value(ROUND_HALF_UP)), denominator)
    whole, rest = divmod(parts.numerator, parts.denominator)
    sign = "-" if value_mm < 0 and parts else ""
    if not rest:
        return f"{sign}{whole} in"
    return f"{sign}{f'{whole} ' if whole else ''}{rest}/{parts.denominator} in"


def parse_length(text: str, default_unit: str = "mm") -> float:
    """Return the millimetres of a text such as '227 mm', '8 15/16 in', '8.94in' or '22,7 cm'.

    Parameters
    ----------
    text : str
        A number, decimal or with a fraction, and a unit.
    default_unit : str
        Unit of a bare number, 'mm' or 'in'.

    Returns
    -------
    float
        In mm, of either sign.

    Raises
    ------
    UnitError
        The text is not a length.
    """
    bare = text.strip()
    sign = -1.0 if bare[:1] in ("-", "−") else 1.0
    try:
        return sign * parse_length_mm(bare[1:] if bare[:1] in ("-", "−", "+") else bare, default_unit)
    except ValueError as error:
        raise UnitError(
            f"'{shortened(text)}' is not a length: expected one such as 227 mm, 8.94 in or 8 15/16 in"
        ) from error
