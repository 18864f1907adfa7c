"""What is seen of one outline: its colours, its corners, its neighbourhood seen squarely."""

from calibration.cards.features.corner_radii import radius_log_likelihoods, radius_margins
from calibration.cards.features.rectified_patch import (
    OwnSupport,
    Patch,
    SideLines,
    corner_shapes,
    corners_in_photo,
    own_support,
    rectify,
    side_lines,
)
from calibration.cards.features.right_angles import RightAngles
from calibration.cards.features.side_colours import (
    SideColours,
    colour_contrasts,
    colour_spreads,
    side_colours,
)

__all__ = [
    "OwnSupport",
    "Patch",
    "RightAngles",
    "SideColours",
    "SideLines",
    "colour_contrasts",
    "colour_spreads",
    "corner_shapes",
    "corners_in_photo",
    "own_support",
    "radius_log_likelihoods",
    "radius_margins",
    "rectify",
    "side_colours",
    "side_lines",
]
