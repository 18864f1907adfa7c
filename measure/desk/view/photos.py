"""How well a photo can be measured, in plain words."""

from typing import TYPE_CHECKING, Any

from measure.desk.state import Examination
from measure.desk.view.scale import expected, thing_name
from measure.wording import Audience, all_worded

if TYPE_CHECKING:
    from measure.kinds import Scale

# Releases of toys differ by millimetres; ± 1 mm tells nearly all of them apart, ± 3 mm few.
_GOOD_U_MM = 1.0
_FAIR_U_MM = 3.0


def grade(seen: Examination | None, scale: "Scale | None", of_file: tuple[str, ...]) -> dict[str, Any] | None:
    """Return a plain verdict on the photo.

    Parameters
    ----------
    seen : Examination or None
        What was seen of an outline; None before it was looked for.
    scale : Scale or None
        What it is measured by.
    of_file : tuple of str
        What is wrong with its file.

    Returns
    -------
    dict or None
        Its mark ("good", "fair", "poor" or "none"), a headline, and lines that say what would make it better.
        None while nothing is known.
    """
    cautions = cautions_on(seen, scale, of_file)
    if scale is None:
        if seen is None:
            return None
        reason = [seen.reason] if seen.reason else []
        return {"mark": "none", "headline": "No card to measure by yet", "lines": [*reason, *cautions]}
    found = expected(scale)
    if found is None or found[1] > _FAIR_U_MM:
        mark, headline = "poor", "This photo gives only rough lengths"
    elif of_file:
        mark, headline = "fair", "This photo's file is damaged"
    elif found[1] > _GOOD_U_MM or cautions:
        mark, headline = "fair", "This photo will do; a better one would be more exact"
    else:
        mark, headline = "good", "This photo is good to measure on"
    lines = list(cautions)
    if found is not None:
        lines.insert(
            0,
            f"A length of {found[0]:.0f} mm beside the {thing_name(scale)}"
            f" comes out to about ± {found[1]:.2g} mm.",
        )
    if mark == "poor":
        lines.append(
            "Take it again from straight above and closer, with the card beside the middle of the part."
        )
    return {"mark": mark, "headline": headline, "lines": lines}


def cautions_on(seen: Examination | None, scale: "Scale | None", of_file: tuple[str, ...]) -> tuple[str, ...]:
    """Return what to tell of a photo, in the page's words.

    Parameters
    ----------
    seen : Examination or None
        What was seen of an outline.
    scale : Scale or None
        What it is measured by.
    of_file : tuple of str
        What is wrong with its file.

    Returns
    -------
    tuple of str
        Of its file, of the outline, of the scale; each once.
    """
    of_outline = seen.cautions if seen is not None else ()
    of_scale = all_worded(scale.cautions, Audience.PAGE) if scale is not None else ()
    return tuple(dict.fromkeys((*of_file, *of_outline, *of_scale)))
