"""Cautions of the photo's file, of the camera and of the plane, in words."""

from calibration.cautions import CautionCode
from measure.wording.terms import Audience, Said, Wording, with_advice, without_advice

_DAMAGED = "The photo's file is damaged ({}): part of the picture may be shifted or false"
_FETCH = "Fetch it again, or measure only where it is surely right."

_SAID: Said = {
    CautionCode.CROPPED: (
        "The photo seems cropped, so lengths away from the card or above its plane are less certain",
        "use the uncropped photo.",
    ),
    CautionCode.DIGITAL_ZOOM: (
        "The photo was taken with digital zoom, whose focal length is uncertain",
        "take it without.",
    ),
    CautionCode.STEEP_PLANE: (
        "The photo looks at the card at {tilt_deg:.0f} degrees",
        "take it from more directly above, within 20 degrees if you can.",
    ),
    CautionCode.SMALL_REFERENCE: (
        "The card is only {across_px:.0f} px across",
        "come closer, or lay a larger reference beside the part.",
    ),
    CautionCode.VAGUE_FOCAL: (
        "The photo doesn't tell its focal length, so parts above the card's plane are uncertain",
        "use the camera's original file, or tilt the camera by 10 to 20 degrees.",
    ),
    CautionCode.VAGUE_LENS: (
        "The lens may bend straight lines, as webcams and wide-angle cameras do",
        "keep the card and the part in the middle of the picture.",
    ),
    CautionCode.MISFIT: (
        "The corners don't fit the stated object as well as they should",
        "check its kind and its four corners.",
    ),
    CautionCode.DISAGREEMENT: (
        "The references disagree beyond their uncertainties",
        "check the kind, the size and the corners of each.",
    ),
    CautionCode.TWO_TILTS: (
        "The card is seen from so far away that two tilts explain it equally",
        "take the photo from closer, or tilt the camera by 10 to 20 degrees.",
    ),
}
_PIXELS = {
    CautionCode.PIXELS_DAMAGED: _DAMAGED.format("{decoder}"),
    CautionCode.PIXELS_STEP: _DAMAGED.format("a step such as damaged data leave runs across the picture"),
}

COMMON: dict[str, Wording] = {
    **with_advice(_SAID),
    **{code: f"{said}. {_FETCH}" for code, said in _PIXELS.items()},
    CautionCode.METADATA_DAMAGED: (
        "The photo's metadata are damaged ({decoder}): what they say of the camera may be wrong."
    ),
}

VARIANTS: dict[Audience, dict[str, Wording]] = {
    Audience.BUYER: {**without_advice(_SAID), **{code: f"{said}." for code, said in _PIXELS.items()}},
}
