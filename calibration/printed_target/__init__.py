"""The printed target: its layout, and its markers in a photo."""

from calibration.printed_target.layout import TARGET, PrintScale, TargetLayout, print_scale
from calibration.printed_target.markers import FoundTarget, find_target, target_of_corners

__all__ = [
    "TARGET",
    "FoundTarget",
    "PrintScale",
    "TargetLayout",
    "find_target",
    "print_scale",
    "target_of_corners",
]
