"""The kinds of measurement as the page offers them: how many points, what to ask for, how to draw them."""

from dataclasses import asdict, dataclass


@dataclass(frozen=True, slots=True)
class KindOffer:
    """What the page needs to know of one way to measure.

    Attributes
    ----------
    key, kind : str
        Key of the offer, and the record's kind; a kind may be offered in two ways.
    name, noun : str
        Name in a list, and the noun in "Measure a …".
    hint : str
        What to consider before marking.
    least, most : int
        Fewest and most points.
    labels : tuple of str
        Names of the points; the last is used for all that follow.
    asks : tuple of str
        What to mark next, after "Click" or "Touch"; the last is used for all that follow.
    draw : str
        "line", "pairs", "ring" or "post": how the page joins the points.
    of_two : bool
        Made from two other measurements instead of points.
    snaps : bool
        Whether points may move to an edge.
    flat : bool
        Whether it lies at one height above the card, which the user may state.
    live : bool
        Whether it is measured fast enough to follow the pointer.
    leans : bool
        Whether its upper end may be off straight above its foot, by what the user may state.
    """

    key: str
    kind: str
    name: str
    noun: str
    hint: str
    least: int
    most: int
    labels: tuple[str, ...]
    asks: tuple[str, ...]
    draw: str = "line"
    of_two: bool = False
    snaps: bool = True
    flat: bool = True
    live: bool = True
    leans: bool = False


OFFERS = (
    KindOffer(
        "span",
        "span",
        "Length between two points",
        "length",
        "",
        2,
        2,
        ("First end", "Second end"),
        ("the first end", "the second end"),
    ),
    KindOffer(
        "gap",
        "gap",
        "Distance between two edges",
        "distance between edges",
        "For two straight edges that run side by side: two points along the one, then two along the other.",
        4,
        4,
        (
            "First edge, one point",
            "First edge, another point",
            "Second edge, one point",
            "Second edge, another point",
        ),
        (
            "a point on the first edge, near one end of it",
            "another point on the same edge, far from the last",
            "a point on the second edge",
            "another point on the second edge, far from the last",
        ),
        "pairs",
    ),
    KindOffer(
        "gap-2",
        "gap",
        "Distance between two edges, one point on each",
        "distance between edges",
        "Quick where both edges stand out clearly; the edges are looked for beside your two points.",
        2,
        2,
        ("On the first edge", "On the second edge"),
        ("a point on the first edge", "a point on the second edge, straight across"),
        "pairs",
    ),
    KindOffer(
        "round",
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
        (
            "a point on the rim",
            "a second point on the rim, a third of the way around",
            "a third point on the rim, another third of the way around",
            "another point on the rim",
        ),
        "ring",
    ),
    KindOffer(
        "rise",
        "rise",
        "Height of something that stands on the table",
        "height",
        "For a toy standing on the table on which the card lies flat. The photo must be taken at an angle.",
        2,
        2,
        ("Foot", "Top"),
        (
            "the foot: where it meets the table, straight below its top",
            "the top, straight above the foot",
        ),
        "post",
        snaps=False,
        flat=False,
        leans=True,
    ),
    KindOffer(
        "tip",
        "tip",
        "Radius of a rounded corner",
        "corner radius",
        "Tells a sharp corner from a rounded one. Needs a sharp photo from close by.",
        4,
        4,
        (
            "Side before the corner, far point",
            "Side before the corner, near point",
            "Side after the corner, near point",
            "Side after the corner, far point",
        ),
        (
            "the straight side before the corner, far from the corner",
            "the same side again, just before the rounding begins",
            "the side after the corner, just where it is straight again",
            "that side again, far from the corner",
        ),
        "pairs",
        snaps=False,
        live=False,
    ),
    KindOffer(
        "difference",
        "difference",
        "Difference of two lengths",
        "difference",
        "What both have in common, such as an error of the card's size, cancels.",
        0,
        0,
        (),
        (),
        of_two=True,
        snaps=False,
        flat=False,
    ),
)
OFFERS_JSON = [asdict(one) for one in OFFERS]


def offer(kind: str) -> KindOffer:
    """Return the first offer of a kind.

    Parameters
    ----------
    kind : str
        A kind of the record.

    Returns
    -------
    KindOffer
    """
    return next(one for one in OFFERS if one.kind == kind)
