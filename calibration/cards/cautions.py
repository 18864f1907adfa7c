"""What a person should know about an outline before measuring by it, and why none is measured by."""

import numpy as np

from calibration.cards.finder import ACCEPT_CONFIDENCE, LARGEST_ASPECT_ERROR, FoundCard
from calibration.cards.score import confidence_if_named
from calibration.findings import Caution, CautionCode
from calibration.image import Photo
from calibration.objects import ReferenceObject

_STEEP_DEG = 45.0
_SMALL_SHARE = 0.05
_BLURRED_PX = 3.0
_COVERED_SIDE = 0.7
_SURE = 0.9


def outline_cautions(photo: Photo, card: FoundCard) -> tuple[Caution, ...]:
    """Collect what is unfavourable about how the object lies in the photo.

    Parameters
    ----------
    photo : Photo
        For its size.
    card : FoundCard
        The outline.

    Returns
    -------
    tuple of Caution
        Empty where nothing is.
    """
    longest_px = float(np.linalg.norm(np.roll(card.corners_px, -1, axis=0) - card.corners_px, axis=1).max())
    share, seen = longest_px / max(photo.width_px, photo.height_px), min(card.support)
    found = card.source == "found"
    cautions = []
    if found and card.confidence < _SURE:
        cautions.append(Caution.of(CautionCode.UNSURE_OUTLINE, confidence=card.confidence))
    if card.tilt_deg > _STEEP_DEG:
        cautions.append(Caution.of(CautionCode.STEEP_OUTLINE, tilt_deg=card.tilt_deg))
    if share < _SMALL_SHARE:
        cautions.append(Caution.of(CautionCode.SMALL_OUTLINE, longest_px=longest_px, picture_share=share))
    if card.blur_px > _BLURRED_PX:
        cautions.append(Caution.of(CautionCode.BLURRED_OUTLINE, blur_width_px=2 * card.blur_px))
    if found and seen < _COVERED_SIDE:
        cautions.append(Caution.of(CautionCode.COVERED_SIDE, seen_share=seen))
    if card.aspect_error > 0.02:
        off = Caution.of(CautionCode.ODD_PROPORTIONS, off_share=card.aspect_error, name=card.object.name)
        cautions.append(off)
    return tuple(cautions)


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
