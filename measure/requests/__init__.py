"""Measurements asked for on the command line or in a file."""

from measure.requests.keeping import check_places, record_or_new, with_difference, with_measured, with_photo
from measure.requests.kind_requests import (
    KindRequest,
    describe_kind,
    describe_length,
    differences,
    kind_json,
    length_json,
    measure_kind_request,
)
from measure.requests.notes import STATE_WORDS, Note, check_notes, parse_note, with_notes
from measure.requests.span_file import RequestError, read_requests

__all__ = [
    "STATE_WORDS",
    "KindRequest",
    "Note",
    "RequestError",
    "check_notes",
    "check_places",
    "describe_kind",
    "describe_length",
    "differences",
    "kind_json",
    "length_json",
    "measure_kind_request",
    "parse_note",
    "read_requests",
    "record_or_new",
    "with_difference",
    "with_measured",
    "with_notes",
    "with_photo",
]
