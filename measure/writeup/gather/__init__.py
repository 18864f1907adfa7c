"""Everything that a write-up tells, gathered from record, photos and sheet."""

from measure.writeup.gather.evidence import (
    LEFT_TO_RIGHT,
    Evidence,
    Item,
    PhotoEvidence,
    bare_name,
    feature_name,
    sheet_beside,
    tidy,
)
from measure.writeup.gather.figures import Figures, figures, plain_range
from measure.writeup.gather.finding_photos import found_photos
from measure.writeup.gather.gathering import Gathered, gather

__all__ = [
    "LEFT_TO_RIGHT",
    "Evidence",
    "Figures",
    "Gathered",
    "Item",
    "PhotoEvidence",
    "bare_name",
    "feature_name",
    "figures",
    "found_photos",
    "gather",
    "plain_range",
    "sheet_beside",
    "tidy",
]
