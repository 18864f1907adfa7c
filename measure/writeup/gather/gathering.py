"""Gathers the evidence of one specimen: reads its photos and sheet, fills in results, judges."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from measure import __version__
from measure.errors import MeasureError, RecordError
from measure.record import (
    MeasurementEntry,
    PhotoEntry,
    Specimen,
    VerdictEntry,
    read_specimen,
    read_verdict,
)
from measure.redo import measured_again
from measure.writeup.gather.evidence import (
    Evidence,
    PhotoEvidence,
    measured_items,
    recorded_date,
    sheet_beside,
)
from measure.writeup.gather.finding_photos import found_photos
from measure.writeup.gather.observed import noted_items, unchecked_features
from references.release_sheet import Sheet


@dataclass(frozen=True, slots=True, eq=False)
class Gathered:
    """Evidence, the text of its release sheet, and remarks for the user who writes it up."""

    evidence: Evidence
    sheet_text: str
    remarks: tuple[str, ...]


def gather(
    record: Path, *, photos: Path | None = None, inches_first: bool = False, date: str = ""
) -> Gathered:
    """Read a record with its photos and its sheet.

    Parameters
    ----------
    record : Path
        The record.
    photos : Path, optional
        Where the photos are, if not beside the record.
    inches_first : bool
        Which unit leads.
    date : str
        ISO date to print; else the record's own, or its photos'.

    Returns
    -------
    Gathered
        Photos that aren't found, and results that can't be filled in, are told in the remarks.

    Raises
    ------
    MeasureError, SheetError, CalibrationError
        The record, its sheet or a photo can't be used.
    """
    specimen = read_specimen(record)
    sheet, sheet_text = sheet_beside(specimen, record)
    found = found_photos(specimen.photos, record.parent, photos)
    shots = tuple(
        _photo_evidence(number, entry, photo, trouble)
        for number, (entry, (photo, trouble)) in enumerate(zip(specimen.photos, found, strict=True), 1)
    )
    remarks = [f"Photo {shot.number}: {shot.trouble}" for shot in shots if shot.trouble]
    specimen = _filled(specimen, shots)
    verdict, remark = _judged(specimen, sheet)
    evidence = Evidence(
        # Without a sheet the record keeps its verdict as it is.
        specimen=specimen if sheet is None else replace(specimen, verdict=verdict),
        sheet=sheet,
        verdict=verdict,
        items=measured_items(specimen, sheet, inches_first=inches_first),
        noted=noted_items(specimen, sheet),
        photos=shots,
        unchecked=unchecked_features(specimen, sheet),
        date=date or recorded_date(specimen, shots),
        program=f"cardspan {__version__}",
        inches_first=inches_first,
    )
    return Gathered(evidence, sheet_text, (*remarks, *remark))


def _photo_evidence(number: int, entry: PhotoEntry, photo: Any, trouble: str) -> PhotoEvidence:
    from measure.scale import scale_of

    if not entry.has_scale:
        return PhotoEvidence(number, entry, photo, None, trouble)
    try:
        return PhotoEvidence(number, entry, photo, scale_of(entry, photo), trouble)
    except RecordError as error:
        # Without the photo, a record that doesn't keep what was seen in it gives no plane.
        return PhotoEvidence(number, entry, photo, None, trouble or str(error))


def _filled(specimen: Specimen, shots: tuple[PhotoEvidence, ...]) -> Specimen:
    """Return the record with results for measurements without one, if points and card give them."""
    by_id = {shot.entry.id: shot for shot in shots}
    return replace(
        specimen, measurements=tuple(_with_result(entry, by_id) for entry in specimen.measurements)
    )


def _with_result(entry: MeasurementEntry, by_id: Mapping[str, PhotoEvidence]) -> MeasurementEntry:
    from calibration.errors import CalibrationError
    from measure.redo import result_entry

    shot = by_id.get(entry.photo or "")
    if entry.result is not None or shot is None or shot.scale is None:
        return entry
    try:
        length = measured_again(entry, shot.scale, shot.photo, shot.entry.id)
    except (CalibrationError, MeasureError):
        # It stays without a result, and the documents say so.
        return entry
    return entry if length is None else replace(entry, result=result_entry(length))


def _judged(specimen: Specimen, sheet: Sheet | None) -> tuple[VerdictEntry | None, list[str]]:
    from measure.redo import judge_specimen

    kept, remarks = _kept_verdict(specimen)
    if sheet is None:
        return kept, remarks
    known = replace(specimen, measurements=tuple(m for m in specimen.measurements if m.result is not None))
    judged = judge_specimen(known, sheet)
    if specimen.verdict is None or (kept is not None and _names_the_same(kept, judged)):
        return judged, []
    remark = "The verdict kept in the record is not the one its findings give now; the new one is shown."
    return judged, [remark]


def _kept_verdict(specimen: Specimen) -> tuple[VerdictEntry | None, list[str]]:
    """Return the record's own verdict, or the remark that it can't be read."""
    if isinstance(specimen.verdict, VerdictEntry | None):
        return specimen.verdict, []
    try:
        return read_verdict(specimen.verdict), []
    except RecordError as error:
        return None, [f"{specimen.name}: {error}; it is left out"]


def _names_the_same(one: VerdictEntry, other: VerdictEntry) -> bool:
    return (one.verdict.outcome, one.verdict.release) == (other.verdict.outcome, other.verdict.release)
