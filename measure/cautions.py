"""The codes of what this package itself has to tell of a length, beside those of `calibration.cautions`."""

from enum import StrEnum


class LengthCautionCode(StrEnum):
    """What makes a length or its scale uncertain; each with the facts that go with it."""

    STANDOFF_UNSTATED = "stand-off unstated"  # height_mm, distance_mm, excess_share
    FAR_FROM_CARD = "far from the card"  # reach_mm
    MOSTLY_CLICK = "mostly the click"
    MOSTLY_EDGE = "mostly the edge"
    MOSTLY_STANDOFF = "mostly the stand-off"
    MOSTLY_FLATNESS = "mostly the flatness"
    MOSTLY_SIZE = "mostly the size"
    MOSTLY_CORNERS = "mostly the corners"
    MOSTLY_FOCAL = "mostly the focal length"
    LENS_AT_EDGE = "lens at the picture's edge"
    LENS_OFF_MIDDLE = "lens off the middle"
    EDGES_TURNED = "edges turned"  # angle_deg
    NO_RIM = "no rim"
    STRAIGHT_UNUSED = "straight edges unused"
    AS_RECORDED = "as recorded"  # text: of another program


class NoLengthCode(StrEnum):
    """Why there is no length, or a point was left where it is."""

    RADIUS_VAGUE = "radius vague"  # px_per_mm, blur_px, expanded_mm, needed_mm
    SNAPPING_OFF = "snapping off"
