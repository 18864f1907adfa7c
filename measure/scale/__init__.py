"""What a photo is measured by, from and to the record."""

from measure.scale.common_feature import common_length, feature_as_length
from measure.scale.from_record import camera_for, looked_at, scale_of
from measure.scale.location_json import location_json
from measure.scale.marks import marks_from_texts, printed_lengths
from measure.scale.outline_picture import outline_png
from measure.scale.reference_entries import (
    found_of,
    object_of,
    photo_entry,
    reference_entry,
    seen_entry,
    source_entry,
)
from measure.scale.view_words import view_words

__all__ = [
    "camera_for",
    "common_length",
    "feature_as_length",
    "found_of",
    "location_json",
    "looked_at",
    "marks_from_texts",
    "object_of",
    "outline_png",
    "photo_entry",
    "printed_lengths",
    "reference_entry",
    "scale_of",
    "seen_entry",
    "source_entry",
    "view_words",
]
