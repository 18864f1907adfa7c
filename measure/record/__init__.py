"""The specimen's record: its values, and its file."""

from measure.record.camera_entry import camera_from_entry
from measure.record.checks import or_none, point_at, size_at, spread_at, standoffs_at, text_at
from measure.record.file import read_specimen, specimen_to_json, write_specimen
from measure.record.shared_file import Claim, RecordFile, record_lock
from measure.record.specimen import (
    FORMAT,
    KINDS,
    STATES,
    BudgetEntry,
    MeasurementEntry,
    ObservationEntry,
    PhotoEntry,
    Point,
    ReferenceEntry,
    ResultEntry,
    SeenEntry,
    SourceEntry,
    Specimen,
)
from measure.record.verdict_entry import VerdictEntry
from measure.record.verdict_reading import read_verdict

__all__ = [
    "FORMAT",
    "KINDS",
    "STATES",
    "BudgetEntry",
    "Claim",
    "MeasurementEntry",
    "ObservationEntry",
    "PhotoEntry",
    "Point",
    "RecordFile",
    "ReferenceEntry",
    "ResultEntry",
    "SeenEntry",
    "SourceEntry",
    "Specimen",
    "VerdictEntry",
    "camera_from_entry",
    "or_none",
    "point_at",
    "read_specimen",
    "read_verdict",
    "record_lock",
    "size_at",
    "specimen_to_json",
    "spread_at",
    "standoffs_at",
    "text_at",
    "write_specimen",
]
