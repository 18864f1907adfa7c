"""Recomputes a record's numbers from what it holds."""

from measure.redo.judging import judge_specimen, sheet_of
from measure.redo.measurement_entries import difference_of, measured_entry, new_entry, with_result
from measure.redo.recompute import measured_again, moved_by_px
from measure.redo.remeasure import photo_entry, recorded_length, reference_entry, result_entry

__all__ = [
    "difference_of",
    "judge_specimen",
    "measured_again",
    "measured_entry",
    "moved_by_px",
    "new_entry",
    "photo_entry",
    "recorded_length",
    "reference_entry",
    "result_entry",
    "sheet_of",
    "with_result",
]
