"""Why there is no answer, in words, and what to do."""

from collections.abc import Callable

from calibration.cautions import NoAnswerCode
from measure.cautions import NoLengthCode
from measure.wording.cards import kinds_to_name, rivals_told
from measure.wording.terms import Audience, Facts, Wording
from measure.wording.things import percent, with_article

_ADVICE = (
    "lay the card flat on a surface of another colour with all four sides free, fill at least a tenth of"
    " the picture with it, or {} its corners by hand."
)
_BY_HAND, _BY_MARKING = _ADVICE.format("give"), _ADVICE.format("mark")
# How to name the kind.
_PLAINLY, _BY_OPTION = "name it", "name it with --object {likely_key}"
_BY_BUTTON = "choose it under “Which card or sheet” and press “Use the dotted outline”"

_DOUBTS = {
    NoAnswerCode.ANY_RECTANGLE: (
        "seen at {tilt_deg:.0f}° with so uncertain a lens its proportions could be any rectangle's"
    ),
    NoAnswerCode.OUTLINE_ODD: "its proportions are {off_percent:.1f} % off",
    NoAnswerCode.OUTLINE_COVERED: "only {seen_percent:.0f} % of one side is seen as an edge",
    NoAnswerCode.OUTLINE_UNCLEAR: "its corners and edges are not clearly those of such a card",
}


def _names(facts: Facts) -> str:
    return "any known card or sheet" if facts["name"] is None else f"a {facts['name']}"


def _none_seen(advice: str) -> Callable[[Facts], str]:
    return lambda facts: f"No outline with the proportions of {_names(facts)} was found; {advice}"


def _if_right(facts: Facts, naming: str) -> str:
    """Advise to name the kind, where that alone is enough."""
    if not facts["naming_helps"]:
        return ""
    return f"if the kind is right ({facts['likely']}), {naming.format_map(facts)}; otherwise "


def _doubtful(doubt: str, naming: str) -> Callable[[Facts], str]:
    """Return the wording for someone who doesn't see the outline."""

    def words(facts: Facts) -> str:
        where = ", ".join(f"({x:.0f}, {y:.0f})" for x, y in facts["corners_px"])
        return (
            f"The outline most like {_names(facts)} has its corners at {where}, but {doubt.format_map(facts)}"
            f" (confidence {facts['confidence']:.2f}); {_if_right(facts, naming)}{_BY_HAND}"
        )

    return words


def _doubtful_in_sight(doubt: str) -> Callable[[Facts], str]:
    """Return the wording for someone who sees the outline on the page."""

    def words(facts: Facts) -> str:
        return (
            f"The outline most like {_names(facts)} is drawn dotted on the photo, but"
            f" {doubt.format_map(facts)}; {_if_right(facts, _BY_BUTTON)}{_BY_MARKING}"
        )

    return words


def _open_identity(facts: Facts) -> str:
    where = ", ".join(f"({x:.0f}, {y:.0f})" for x, y in facts["corners_px"])
    return (
        f"There is an outline with its corners at {where}, most like {with_article(facts['name'])}, but it is"
        f" more likely something else ({percent(facts['probability'])}): compared with that,"
        f" {rivals_told(facts)}"
    )


def _open_in_sight(facts: Facts) -> str:
    return (
        f"The outline drawn dotted on the photo is most like {with_article(facts['name'])}, but more likely"
        f" something else ({percent(facts['probability'])}): compared with that, {rivals_told(facts)}; find"
        f" out what it is, {_BY_BUTTON}."
    )


COMMON: dict[str, Wording] = {
    NoAnswerCode.IDENTITY_OPEN: lambda facts: f"{_open_identity(facts)}; say which it is.",
    NoAnswerCode.NO_OUTLINE: _none_seen(_BY_HAND),
    **{code: _doubtful(doubt, _PLAINLY) for code, doubt in _DOUBTS.items()},
    NoAnswerCode.NO_PLANE: (
        "no camera could see the reference's corners like this: check their order around the object"
    ),
    NoAnswerCode.TARGET_UNSEEN: (
        "{photo}: {count} corners of the printed target seen, at least {least} are needed:"
        " uncover more of it, come closer or use more light"
    ),
    NoAnswerCode.TARGET_STRIP: (
        "{photo}: the corners of the printed target that can be seen lie in one strip;"
        " uncover at least two rows and two columns of squares"
    ),
    NoAnswerCode.NO_CHESSBOARD: "{photo}: no chessboard of {columns} x {rows} inner corners seen",
    NoAnswerCode.ONE_POINT: "a span needs two different points",
    NoAnswerCode.NO_EDGE: "no clear edge near the point",
    NoAnswerCode.FAR_EDGE: "the nearest clear edge is too far from the point",
    NoAnswerCode.SIDES_UNCLEAR: (
        "the straight sides beside the corner show no clear edge: mark them again, or use more light"
    ),
    NoAnswerCode.CORNER_AT_BORDER: "the corner lies at the edge of the photo",
    NoAnswerCode.NO_CORNER: (
        "no corner shows between the marked sides, only texture or plain ground: mark two points on each"
        " of two straight edges of the part"
    ),
    NoAnswerCode.ROUNDED_TOO_FAR: (
        "the rounding reaches to the marked sides: mark the first two and the last two points farther out"
    ),
    NoLengthCode.RADIUS_VAGUE: (
        "at {px_per_mm:.1f} px/mm and a blur of {blur_px:.1f} px the radius is known only to"
        " ± {expanded_mm:.1f} mm, and ± {needed_mm:g} mm is needed: take a sharp photo from closer"
    ),
    NoLengthCode.SNAPPING_OFF: "snapping is off",
}

VARIANTS: dict[Audience, dict[str, Wording]] = {
    Audience.COMMAND: {
        NoAnswerCode.IDENTITY_OPEN: lambda facts: (
            f"{_open_identity(facts)}; say which it is: --object {kinds_to_name(facts)}."
        ),
        **{code: _doubtful(doubt, _BY_OPTION) for code, doubt in _DOUBTS.items()},
    },
    Audience.PAGE: {
        NoAnswerCode.IDENTITY_OPEN: _open_in_sight,
        NoAnswerCode.NO_OUTLINE: _none_seen(_BY_MARKING),
        **{code: _doubtful_in_sight(doubt) for code, doubt in _DOUBTS.items()},
    },
}
