"""Cautions of a card's outline in words: how it is seen, its sides, and what else it may be."""

from calibration.cautions import CautionCode
from measure.wording.terms import Audience, Facts, Wording
from measure.wording.things import change_words, percent, size_words, with_article

_MOST_NAMED = 4


def _crowded(facts: Facts) -> str:
    sides = facts["sides"]
    return (
        f"At the outline's {', '.join(sides)} side{'s' if len(sides) > 1 else ''} there is more than a card's"
        " rim and shadow (a printed frame, another object's edge): check that the outline is on the card's"
        " own edge."
    )


def rivals_told(facts: Facts) -> str:
    """Say what else an outline may be, and what lengths would then be.

    Parameters
    ----------
    facts : Facts
        With "rivals", likeliest first.

    Returns
    -------
    str
        The likeliest four, and how many more there are.
    """
    rivals = facts["rivals"]
    ifs = [
        f"if it is {with_article(one.kind.name)}, {size_words(one.kind)} ({percent(one.probability)}),"
        f" {change_words(one)}"
        for one in rivals[:_MOST_NAMED]
    ]
    if (more := len(rivals) - _MOST_NAMED) > 0:
        ifs.append(f"{more} rarer size{'s' if more > 1 else ''} would do as well")
    return "; ".join(ifs)


def kinds_to_name(facts: Facts) -> str:
    """List the names by which an outline can be said to be what it is taken for, or one of its rivals.

    Parameters
    ----------
    facts : Facts
        With "key" and "rivals".

    Returns
    -------
    str
        As the command line takes them.
    """
    known = [one.kind.key for one in facts["rivals"][:_MOST_NAMED] if not one.kind.family]
    return ", or ".join([facts["key"], *known])


def _identity(facts: Facts) -> str:
    how = "said to be" if facts["said"] else "taken for"
    text = f"The outline is {how} {with_article(facts['name'])}, but it may be something else"
    return f"{text} ({percent(facts['probability'])}): {rivals_told(facts)}."


def _identity_with_option(facts: Facts) -> str:
    return f"{_identity(facts)} Say which it is: --object {kinds_to_name(facts)}."


COMMON: dict[str, Wording] = {
    CautionCode.UNSURE_OUTLINE: (
        "The card's outline is only fairly sure (confidence {confidence:.2f}): check that it lies"
        " on the card's edges, and set the corners by hand if it doesn't."
    ),
    CautionCode.STEEP_OUTLINE: (
        "The card is seen at a steep {tilt_deg:.0f}°, which magnifies every error: take the photo"
        " from more directly above."
    ),
    CautionCode.SMALL_OUTLINE: (
        "The card is small, {longest_px:.0f} px long or {picture_percent:.0f} % of the picture: come closer."
    ),
    CautionCode.BLURRED_OUTLINE: (
        "The card's edges are blurred over {blur_width_px:.0f} px: hold still, and focus on the card."
    ),
    CautionCode.COVERED_SIDE: (
        "Only {seen_percent:.0f} % of one side of the card is seen: keep it clear of other objects and glare."
    ),
    CautionCode.ODD_PROPORTIONS: (
        "The outline's proportions are {off_percent:.1f} % off those of a {name}: check that it is one,"
        " that it lies flat, and that the outline is right."
    ),
    CautionCode.OPEN_SIDE: (
        "At the card's {side} side, edges lie {apart_mm:.1f} mm apart (face, rim or shadow), and"
        " the middle was taken: lengths could be {off_percent:.1f} % off; look at that side."
    ),
    CautionCode.CROWDED_SIDES: _crowded,
    CautionCode.CORNERS_AS_GIVEN: (
        "The corners were kept as given, with {corner_std_px:g} px uncertainty each: no single clear edge"
        " runs between each pair of them; zoom in and set them as exactly as you can."
    ),
    CautionCode.KIND_ASSUMED: (
        "The corners are taken as those of a {name}: name the object if it is another."
    ),
    CautionCode.IDENTITY: _identity,
}

VARIANTS: dict[Audience, dict[str, Wording]] = {
    Audience.COMMAND: {CautionCode.IDENTITY: _identity_with_option},
}
