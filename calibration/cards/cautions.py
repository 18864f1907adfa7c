"""What a person should know about an outline before measuring by it, in plain words."""

import numpy as np

from calibration.cards.finder import ACCEPT_CONFIDENCE, LARGEST_ASPECT_ERROR, FoundCard
from calibration.cards.score import confidence_if_named
from calibration.image import Photo
from calibration.objects import ReferenceObject

_STEEP_DEG = 45.0
_SMALL_SHARE = 0.05
_BLURRED_PX = 3.0
_COVERED_SIDE = 0.7
_SURE = 0.9


def outline_cautions(photo: Photo, card: FoundCard) -> tuple[str, ...]:
    """Collect what is unfavourable about how the object lies in the photo."""
    longest = float(np.linalg.norm(np.roll(card.corners_px, -1, axis=0) - card.corners_px, axis=1).max())
    share = longest / max(photo.width_px, photo.height_px)
    texts = []
    if card.source == "found" and card.confidence < _SURE:
        texts.append(
            f"The card's outline is only fairly sure (confidence {card.confidence:.2f}): check that it lies"
            " on the card's edges, and set the corners by hand if it doesn't."
        )
    if card.tilt_deg > _STEEP_DEG:
        texts.append(
            f"The card is seen at a steep {card.tilt_deg:.0f}°, which magnifies every error: take the photo"
            " from more directly above."
        )
    if share < _SMALL_SHARE:
        texts.append(
            f"The card is small, {longest:.0f} px long or {100 * share:.0f} % of the picture: come closer."
        )
    if card.blur_px > _BLURRED_PX:
        texts.append(
            f"The card's edges are blurred over {2 * card.blur_px:.0f} px: hold still, and focus on the card."
        )
    if card.source == "found" and min(card.support) < _COVERED_SIDE:
        texts.append(
            f"Only {100 * min(card.support):.0f} % of one side of the card is seen: keep it clear of"
            " other objects and glare."
        )
    if card.aspect_error > 0.02:
        texts.append(
            f"The outline's proportions are {100 * card.aspect_error:.1f} % off those of a"
            f" {card.object.name}: check that it is one, that it lies flat, and that the outline is right."
        )
    return tuple(texts)


def why_none(photo: Photo, best: FoundCard | None, objects: tuple[ReferenceObject, ...]) -> str:
    """Say why no plane is given, and what to do."""
    names = "any known card or sheet" if len(objects) > 1 else f"a {objects[0].name}"
    advice = (
        "lay the card flat on a surface of another colour with all four sides free, fill at least a tenth of"
        " the picture with it, or give its corners by hand"
    )
    if best is None:
        return f"No outline with the proportions of {names} was found; {advice}."
    where = ", ".join(f"({x:.0f}, {y:.0f})" for x, y in best.corners_px.tolist())
    return (
        f"The outline most like {names} has its corners at {where}, but {_doubt(best)}"
        f" (confidence {best.confidence:.2f}); {_to_name(best, objects)}{advice}."
    )


def _to_name(card: FoundCard, objects: tuple[ReferenceObject, ...]) -> str:
    """Advise to name the kind if that alone is enough."""
    named = confidence_if_named(card.confidence, len(objects))
    if len(objects) == 1 or named < ACCEPT_CONFIDENCE or card.aspect_error > LARGEST_ASPECT_ERROR:
        return ""
    return f"if the kind is right ({card.object.name}), name it with --object {card.object.key}; otherwise "


def _doubt(card: FoundCard) -> str:
    if card.vague and card.confidence >= ACCEPT_CONFIDENCE:
        return (
            f"seen at {card.tilt_deg:.0f}° with so uncertain a lens its proportions could be any rectangle's"
        )
    if card.aspect_error > 0.012:
        return f"its proportions are {100 * card.aspect_error:.1f} % off"
    if min(card.support) < _COVERED_SIDE:
        return f"only {100 * min(card.support):.0f} % of one side is seen as an edge"
    return "its corners and edges are not clearly those of such a card"
