"""Reading single fields of what the page sends, within limits."""

from collections.abc import Mapping
from typing import Any

from measure.errors import MeasureError
from measure.record import Point
from references.limits import number_of

Ask = Mapping[str, Any]
MAX_POINTS = 64
_MAX_TEXT = 4000
# Corners set by eye on a screen with a loupe.
HAND_STD_PX = 1.0


class AskError(MeasureError):
    """The page asked for something that can't be done; the message is for its user."""


def text_in(ask: Ask, key: str) -> str:
    """Return a text; empty where none is sent."""
    value = ask.get(key)
    if value is None:
        return ""
    if not isinstance(value, str):
        raise AskError(f"{key}: expected text")
    return value.strip()[:_MAX_TEXT]


def finite(value: Any, key: str) -> float:
    """Return a finite number."""
    number = number_of(value)
    if number is None:
        raise AskError(f"{key}: expected a number")
    return number


def within(number: float, key: str, low: float, high: float) -> float:
    """Return a number that lies between its limits.

    Parameters
    ----------
    number : float
        The number.
    key : str
        What it is, for a refusal.
    low, high : float
        The limits, in the same unit.

    Returns
    -------
    float

    Raises
    ------
    AskError
        It lies outside.
    """
    if not low <= number <= high:
        raise AskError(f"{key}: {number:g} is not between {low:g} and {high:g}")
    return number


def points_in(value: Any, *, most: int = MAX_POINTS) -> tuple[Point, ...]:
    """Return points of finite coordinates; whether they lie on the photo is for the desk to check."""
    if not isinstance(value, list) or len(value) > most:
        raise AskError(f"points: expected a list of at most {most}")
    checked = []
    for point in value:
        if not isinstance(point, list) or len(point) != 2:
            raise AskError("points: each is a pair of numbers")
        checked.append((finite(point[0], "x"), finite(point[1], "y")))
    return tuple(checked)


def corners_in(ask: Ask) -> tuple[Point, ...]:
    """Return the four corners that the page sends."""
    corners = points_in(ask.get("corners_px"), most=4)
    if len(corners) != 4:
        raise AskError("A card has four corners: mark all four, going around it.")
    return corners


def place_in(ask: Ask) -> int:
    """Return the place of something in a list."""
    number = ask.get("number")
    if isinstance(number, bool) or not isinstance(number, int) or number < 0:
        raise AskError("This is no longer on the desk.")
    return number


def photo_in(ask: Ask) -> str:
    """Return the id of the photo meant."""
    return str(ask.get("photo"))
