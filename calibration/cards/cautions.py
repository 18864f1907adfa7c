"""What a person should know about an outline before measuring by it, and why none is measured by."""

import numpy as np

from calibration.cards.finder import ACCEPT_CONFIDENCE, LARGEST_ASPECT_ERROR, FoundCard
from calibration.cards.score import confidence_if_named
from calibration.cautions import Caution, CautionCode, NoAnswer, NoAnswerCode
from calibration.image import Photo
from calibration.objects import ReferenceObject

_STEEP_DEG = 45.0
_SMALL_SHARE = 0.05
_BLURRED_PX = 3.0
_COVERED_SIDE = 0.7
_SURE = 0.9
# Proportions further off than this are named as the doubt.
_OFF_SHARE = 0.012


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


def why_none(best: FoundCard | None, objects: tuple[ReferenceObject, ...]) -> NoAnswer:
    """Return why no plane is given: nothing like the objects is seen, or what is seen is too doubtful.

    Parameters
    ----------
    best : FoundCard or None
        The likeliest outline; None where there is none.
    objects : tuple of ReferenceObject
        The kinds looked for.

    Returns
    -------
    NoAnswer
        With the outline's corners in px and the likeliest kind, where there is one.
    """
    name = objects[0].name if len(objects) == 1 else None
    if best is None:
        return NoAnswer.of(NoAnswerCode.NO_OUTLINE, name=name)
    code, doubt = _doubt(best)
    return NoAnswer.of(
        code,
        **doubt,
        name=name,
        corners_px=tuple((float(x), float(y)) for x, y in best.corners_px),
        confidence=best.confidence,
        likely=best.object.name,
        likely_key=best.object.key,
        naming_helps=_naming_helps(best, objects),
    )


def _naming_helps(card: FoundCard, objects: tuple[ReferenceObject, ...]) -> bool:
    """Tell whether it is enough that a person names the kind."""
    named = confidence_if_named(card.confidence, len(objects))
    return len(objects) > 1 and named >= ACCEPT_CONFIDENCE and card.aspect_error <= LARGEST_ASPECT_ERROR


def _doubt(card: FoundCard) -> tuple[NoAnswerCode, dict[str, float]]:
    if card.vague and card.confidence >= ACCEPT_CONFIDENCE:
        return NoAnswerCode.ANY_RECTANGLE, {"tilt_deg": card.tilt_deg}
    if card.aspect_error > _OFF_SHARE:
        return NoAnswerCode.OUTLINE_ODD, {"off_share": card.aspect_error}
    if min(card.support) < _COVERED_SIDE:
        return NoAnswerCode.OUTLINE_COVERED, {"seen_share": min(card.support)}
    return NoAnswerCode.OUTLINE_UNCLEAR, {}
