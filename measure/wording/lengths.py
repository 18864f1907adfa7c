"""Cautions of a length in words."""

from measure.cautions import LengthCautionCode
from measure.wording.terms import Audience, Wording

_UNSTATED = (
    "A part {{height_mm:.3g}} mm nearer the camera than the card at {{distance_mm:.0f}} mm reads"
    " {{excess_percent:.2g}} % too long: give {} where its edges don't lie on the card's plane."
)
_MOSTLY = "Most of the uncertainty is in "
_STANDOFF = ": measure it with a rule, or lay the card at the part's height."
_LENS = ", where the unknown lens matters: keep both in the middle, from farther away."
# What the page calls a stand-off, as its field does.
STANDOFF_ON_PAGE = "its height above the card"

COMMON: dict[str, Wording] = {
    LengthCautionCode.STANDOFF_UNSTATED: _UNSTATED.format("its stand-off"),
    LengthCautionCode.FAR_FROM_CARD: (
        "The span reaches {reach_mm:.0f} mm from the card, where its scale is less certain: "
        "lay the card beside the middle of the part, or use a larger one."
    ),
    LengthCautionCode.MOSTLY_CLICK: (
        _MOSTLY + "the marked points: let them snap to the edges, or come closer."
    ),
    LengthCautionCode.MOSTLY_EDGE: (
        _MOSTLY + "the part's edges, which are blurred or shaded: come closer, or light them from the side."
    ),
    LengthCautionCode.MOSTLY_STANDOFF: _MOSTLY + "the stand-off" + _STANDOFF,
    LengthCautionCode.MOSTLY_FLATNESS: (
        _MOSTLY + "the card's flatness: press it flat, and photograph from more directly above."
    ),
    LengthCautionCode.MOSTLY_SIZE: (_MOSTLY + "the size of the reference: measure yours and give its size."),
    LengthCautionCode.MOSTLY_CORNERS: (
        _MOSTLY + "the card's corners: come closer, or use a larger reference."
    ),
    LengthCautionCode.MOSTLY_FOCAL: (
        _MOSTLY + "the focal length: use the camera's original file with its Exif."
    ),
    LengthCautionCode.LENS_AT_EDGE: "The span ends near the picture's edge" + _LENS,
    LengthCautionCode.LENS_OFF_MIDDLE: "The card or the span lies off the middle" + _LENS,
    LengthCautionCode.EDGES_TURNED: (
        "The edges make {angle_deg:.1f}° with each other; the gap is their mean distance over the"
        " stretch where they lie side by side."
    ),
    LengthCautionCode.NO_RIM: "No clear rim was found beside the points; they were used as given.",
    LengthCautionCode.STRAIGHT_UNUSED: (
        "Straight edges show the lens's distortion only beside a card or sheet; here they are kept but not"
        " used."
    ),
    LengthCautionCode.AS_RECORDED: "{text}",
}

VARIANTS: dict[Audience, dict[str, Wording]] = {
    Audience.PAGE: {
        LengthCautionCode.STANDOFF_UNSTATED: _UNSTATED.format(STANDOFF_ON_PAGE),
        LengthCautionCode.MOSTLY_STANDOFF: _MOSTLY + STANDOFF_ON_PAGE + _STANDOFF,
    },
}
