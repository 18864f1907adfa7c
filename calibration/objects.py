"""Reference objects: what lies in the photo with a known size, and how well that size is known."""

import re
from dataclasses import dataclass
from math import hypot, isfinite, sqrt

from calibration.errors import ObjectError
from calibration.rectangles import Rectangle, by_key, catalogue


@dataclass(frozen=True, slots=True)
class ReferenceObject:
    """A flat rectangle of known size.

    Attributes
    ----------
    key, name : str
        Name on the command line, and for display.
    width_mm, height_mm : float
        Nominal sides; the sides are prolonged to sharp corners where the material corner is rounded.
    width_std_mm, height_std_mm : float
        Standard uncertainty of each side of one example.
    corner_radius_mm : float
        Radius of the material corner; 0 for a sharp one.
    thickness_mm : float
        The upper face, this far above the table, is the plane of reference.
    flatness_std_mm : float
        Standard uncertainty of each corner's height above the mean plane.
    source : str
        Where the sizes are from.
    outline_std_mm : float
        Standard uncertainty of each coordinate of a corner within the face: how far lines through the sides
        of one example, which are worn, bent or cut askew, meet from the corners of a true rectangle.
    """

    key: str
    name: str
    width_mm: float
    height_mm: float
    width_std_mm: float
    height_std_mm: float
    corner_radius_mm: float
    thickness_mm: float
    flatness_std_mm: float
    source: str
    outline_std_mm: float = 0.0

    @property
    def aspect(self) -> float:
        """Long side over short side."""
        return max(self.width_mm, self.height_mm) / min(self.width_mm, self.height_mm)

    @property
    def diagonal_mm(self) -> float:
        """Length of the diagonal."""
        return float((self.width_mm**2 + self.height_mm**2) ** 0.5)


_ROOT3 = sqrt(3.0)
# How far corners of one thin example lie off a true rectangle, as a share of its diagonal, up to a limit:
# what makes 3 to 13 playing cards in one photo agree, on 21 real photographs (0.12 to 0.42 %, median 0.23).
# Of stiff things the spread of the sides says all.
_OUTLINE_SHARE, _MOST_OUTLINE_MM = 0.0023, 0.4


def _outline_std_mm(width_mm: float, height_mm: float, *, thin: bool) -> float:
    return min(_OUTLINE_SHARE * hypot(width_mm, height_mm), _MOST_OUTLINE_MM) if thin else 0.0


ID1 = ReferenceObject(
    "id1",
    "bank card (ID-1)",
    85.60,
    53.98,
    0.072,
    0.032,
    3.18,
    0.76,
    0.2,
    "ISO/IEC 7810 nominal size; limits of an unused card 85.47..85.72 and 53.92..54.03 mm, from memory",
)
# The standard permits ±1.5 mm up to 150 mm and ±2 mm up to 600 mm; office paper is cut far better than that
# (common practice, no source), so a quarter of the permitted half-width is taken, as rectangular.
A4 = ReferenceObject(
    "a4",
    "A4 sheet",
    210.0,
    297.0,
    0.5 / _ROOT3,
    0.5 / _ROOT3,
    0.0,
    0.1,
    0.4,
    "ISO 216 nominal size; cutting ±0.5 mm, common practice, no source",
    _outline_std_mm(210.0, 297.0, thin=True),
)
LETTER = ReferenceObject(
    "letter",
    "US Letter sheet",
    215.9,
    279.4,
    0.5 / _ROOT3,
    0.5 / _ROOT3,
    0.0,
    0.1,
    0.4,
    "8.5 x 11 in; cutting ±0.5 mm, common practice, no source",
    _outline_std_mm(215.9, 279.4, thin=True),
)
TRADING = ReferenceObject(
    "trading",
    "trading card, 2.5 x 3.5 in",
    63.5,
    88.9,
    0.25 / _ROOT3,
    0.25 / _ROOT3,
    3.0,
    0.3,
    0.2,
    "2.5 x 3.5 in; ±0.25 mm between cards, hobby pages; corner radius about 3 mm, common practice, no source",
    _outline_std_mm(63.5, 88.9, thin=True),
)
TRADING_METRIC = ReferenceObject(
    "trading-metric",
    "trading card, 63 x 88 mm",
    63.0,
    88.0,
    0.25 / _ROOT3,
    0.25 / _ROOT3,
    3.0,
    0.3,
    0.2,
    "63 x 88 mm; ±0.25 mm between cards, hobby pages; corner radius about 3 mm, common practice, no source",
    _outline_std_mm(63.0, 88.0, thin=True),
)

# The board of squares of the printed target, as drawn; found by its markers, not by its outline. An
# unchecked print is off by up to 1 % (0.5 to 2 % is common practice, no source), taken as rectangular limits.
TARGET_SHEET = ReferenceObject(
    "target",
    "printed target",
    180.0,
    228.0,
    1.80 / _ROOT3,
    2.28 / _ROOT3,
    0.0,
    0.1,
    0.4,
    "size of the print unchecked",
)

# What is looked for if no kind is named, most common first.
CARD_OBJECTS: tuple[ReferenceObject, ...] = (ID1, TRADING, TRADING_METRIC, A4, LETTER)

# A size that a person states is that of a thing of the catalogue where both sides are this near.
_SAME_SIZE_MM = 1.0

_SIZE = re.compile(r"^\s*(\d+(?:\.\d+)?)\s*[xX×]\s*(\d+(?:\.\d+)?)\s*$")


def object_from_key(key: str) -> ReferenceObject:
    """Return the reference object of a name or a size.

    Parameters
    ----------
    key : str
        A known name, one of the catalogue, or ``WIDTHxHEIGHT`` in mm.

    Returns
    -------
    ReferenceObject
        Its size in mm with standard uncertainties.

    Raises
    ------
    ObjectError
        Neither a known name nor a size from 1 to 5000 mm.
    """
    for known in (*CARD_OBJECTS, TARGET_SHEET):
        if known.key == key.strip().lower():
            return known
    listed = by_key().get(key.strip().lower())
    if listed is not None and not listed.family:
        return from_rectangle(listed)
    match = _SIZE.match(key)
    if not match:
        names = ", ".join(known.key for known in CARD_OBJECTS)
        raise ObjectError(
            f"no reference object '{key}': expected one of {names}, another thing of the catalogue such as"
            " bridge or a5, WIDTHxHEIGHT in mm such as 85x55, target, a coin such as us-quarter or euro-1, a"
            " rule such as rule-mm or rule-in16, or a known length such as length=120.5"
        )
    return rectangle(float(match[1]), float(match[2]))


def from_rectangle(listed: Rectangle) -> ReferenceObject:
    """Return a rectangle of the catalogue as a reference object.

    Parameters
    ----------
    listed : Rectangle
        What the catalogue says.

    Returns
    -------
    ReferenceObject
        Its long side is the width, its corner radius the middle of the range.
    """
    return ReferenceObject(
        listed.key,
        listed.name,
        listed.long_mm,
        listed.short_mm,
        listed.long_std_mm,
        listed.short_std_mm,
        (listed.radius_least_mm + listed.radius_most_mm) / 2.0,
        listed.thickness_mm,
        _loose_flatness_mm(listed.long_mm, listed.short_mm, 0.4 if listed.bows else 0.2),
        listed.source if listed.known == "read" else f"{listed.source}, from memory",
        _outline_std_mm(listed.long_mm, listed.short_mm, thin=listed.bows),
    )


def _loose_flatness_mm(width_mm: float, height_mm: float, most_mm: float) -> float:
    """Return the standard uncertainty of a corner's height: the bow grows with the size, up to a limit."""
    return min(0.002 * hypot(width_mm, height_mm), most_mm)


def rectangle(width_mm: float, height_mm: float, *, key: str | None = None) -> ReferenceObject:
    """Return a rectangle whose size the user states, with corners that may be sharp or rounded.

    The standard uncertainty of the size is taken as 0.1 % of the longer side, that of a length read off a
    good rule; flatness grows with the size, as the bow of a card does.

    Parameters
    ----------
    width_mm, height_mm : float
        The sides, from 1 to 5000 mm.
    key : str, optional
        Its name; ``WIDTHxHEIGHT`` where not given.

    Returns
    -------
    ReferenceObject
        The rectangle.

    Raises
    ------
    ObjectError
        A side is not between 1 and 5000 mm.
    """
    for side_mm in (width_mm, height_mm):
        if not isfinite(side_mm) or not 1.0 <= side_mm <= 5000.0:
            raise ObjectError(
                f"a reference of {width_mm:g} x {height_mm:g} mm: each side must be from 1 to 5000 mm"
            )
    std_mm = 0.001 * max(width_mm, height_mm)
    return ReferenceObject(
        key or f"{width_mm:g}x{height_mm:g}",
        f"rectangle of {width_mm:g} x {height_mm:g} mm",
        width_mm,
        height_mm,
        std_mm,
        std_mm,
        0.0,
        0.0,
        _loose_flatness_mm(width_mm, height_mm, 0.4),
        "size stated by the user",
        _outline_std_mm(width_mm, height_mm, thin=_is_like_thin(width_mm, height_mm)),
    )


def _is_like_thin(width_mm: float, height_mm: float) -> bool:
    """Whether something thin of the catalogue has this size: what people measure off is mostly that."""
    long_mm, short_mm = max(width_mm, height_mm), min(width_mm, height_mm)
    return any(
        abs(one.long_mm - long_mm) < _SAME_SIZE_MM and abs(one.short_mm - short_mm) < _SAME_SIZE_MM
        for one in catalogue()
        if one.bows
    )
