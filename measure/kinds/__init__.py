"""The kinds of measurement on a photo, from clicked points to a length."""

from measure.kinds.ambiguous_planes import over_family
from measure.kinds.difference import measure_difference
from measure.kinds.on_planes import Scale, measure_by
from measure.kinds.rise import LEAN_STD_MM
from measure.kinds.round import fit_circle
from measure.kinds.snapping import snap_span
from measure.kinds.span import CLICK_STD_PX, measure_span
from measure.kinds.terms import KINDS, Choices, Measured

__all__ = [
    "CLICK_STD_PX",
    "KINDS",
    "LEAN_STD_MM",
    "Choices",
    "Measured",
    "Scale",
    "fit_circle",
    "measure_by",
    "measure_difference",
    "measure_span",
    "over_family",
    "snap_span",
]
