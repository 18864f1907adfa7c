"""The kinds of measurement as the page offers them: how many points, their names, how to draw them."""

from dataclasses import asdict, dataclass
from typing import Any


@dataclass(frozen=True, slots=True)
class KindOffer:
    """What the page needs to know of one kind of measurement.

    Attributes
    ----------
    key, name, noun : str
        Key of the record, name in a list, and the noun in "Measure a …".
    hint : str
        How to place the points.
    least, most : int
        Fewest and most points.
    labels : tuple of str
        Names of the points; the last serves for all that follow.
    draw : str
        "line", "pairs", "ring" or "path": how the page joins the points.
    of_two : bool
        Made from two other measurements instead of points.
    """

    key: str
    name: str
    noun: str
    hint: str
    least: int
    most: int
    labels: tuple[str, ...]
    draw: str = "line"
    of_two: bool = False


OFFERS = (
    KindOffer("span", "Length between two points", "length", "", 2, 2, ("First end", "Second end")),
    KindOffer(
        "gap",
        "Distance between two edges",
        "distance between edges",
        "Two points along the one edge, then two along the other.",
        4,
        4,
        (
            "First edge, one point",
            "First edge, another point",
            "Second edge, one point",
            "Second edge, another point",
        ),
        "pairs",
    ),
    KindOffer(
        "round",
        "Diameter of a circle",
        "diameter",
        "Three or more points on the rim, spread around it.",
        3,
        16,
        (
            "First point on the rim",
            "Second point on the rim",
            "Third point on the rim",
            "Another point on the rim",
        ),
        "ring",
    ),
    KindOffer(
        "rise",
        "Height of something that stands on the table",
        "height",
        "First its foot on the table, then the top straight above it. The photo must be taken at a slant.",
        2,
        2,
        ("Foot", "Top"),
    ),
    KindOffer(
        "tip",
        "Radius of a rounded corner",
        "corner radius",
        "Two points along the straight side before the corner, then two along the side after it.",
        4,
        4,
        (
            "Side before the corner, far point",
            "Side before the corner, near point",
            "Side after the corner, near point",
            "Side after the corner, far point",
        ),
        "pairs",
    ),
    KindOffer(
        "difference",
        "Difference of two lengths",
        "difference",
        "What both have in common, such as an error of the card's size, cancels.",
        0,
        0,
        (),
        "line",
        True,
    ),
)


def offer(key: str) -> KindOffer:
    """Return the kind of this key; raises KeyError where the desk does not know it."""
    return {one.key: one for one in OFFERS}[key]


def offers_json(keys: frozenset[str]) -> list[dict[str, Any]]:
    """Return the offers among these keys as JSON values."""
    return [asdict(one) for one in OFFERS if one.key in keys]
