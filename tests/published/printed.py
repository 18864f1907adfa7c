"""Comparing a number with one in print: it must round to the printed digits."""


def half_unit(text: str) -> float:
    """Return half a unit of the last printed digit: 0.005 for '3.88'."""
    digits = text.partition("e")[0].partition(".")[2]
    return 0.5 * 10.0 ** -len(digits)


def agrees(value: float, text: str, *, units: float = 1.0) -> bool:
    """Tell whether a value rounds to the printed text, or is within so many half units of it."""
    return abs(value - float(text)) <= units * half_unit(text) * (1 + 1e-9)
