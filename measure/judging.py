"""From a specimen's record to findings, and from findings to the verdict on its sheet."""

from math import sqrt
from pathlib import Path
from typing import TYPE_CHECKING, Any, cast

from measure.errors import RecordError
from measure.specimen import MeasurementEntry, ObservationEntry, Specimen

if TYPE_CHECKING:
    from references.finding import Finding, State
    from references.sheet import Sheet
    from references.verdict import Verdict


def sheet_of(specimen: Specimen, folder: Path, sheet: str | Path | None = None) -> "Sheet":
    """Read the sheet to judge by.

    Parameters
    ----------
    specimen : Specimen
        Its `sheet` counts where none is given.
    folder : Path
        The record's folder, from which its sheet's path starts.
    sheet : str or Path, optional
        A shipped sheet's key, or a path.

    Raises
    ------
    RecordError
        Neither the record nor the caller names a sheet.
    SheetError
        The sheet can't be used.
    """
    from references import read_sheet, shipped_keys, shipped_sheet

    chosen = str(sheet) if sheet is not None else specimen.sheet
    if chosen is None:
        raise RecordError(
            f"{specimen.name}: the record names no release sheet; give one with --sheet SHEET.toml"
        )
    if chosen in shipped_keys():
        return shipped_sheet(chosen)
    return read_sheet(Path(chosen) if sheet is not None else folder / chosen)


def findings_of(specimen: Specimen) -> list["Finding"]:
    """Return what the record says of the sheet's parts; free measurements say nothing of them.

    A measurement that its photo could not support says nothing either.

    Raises
    ------
    RecordError
        A measurement of a feature has no result and no reason for it.
    """
    lengths = [
        _length(entry)
        for entry in specimen.measurements
        if entry.part is not None and entry.feature is not None and "cannot_tell" not in entry.extra
    ]
    return lengths + [_observation(entry) for entry in specimen.observations]


def _length(entry: MeasurementEntry) -> "Finding":
    from references.finding import Finding

    if entry.result is None:
        raise RecordError(f"measurement {entry.id}: it has no result yet; measure it again on the desk")
    shared_mm = sqrt(sum(line.u_mm**2 for line in entry.result.budget if line.shared))
    assert entry.part is not None
    return Finding(
        entry.part,
        entry.feature,
        entry.result.length_mm,
        entry.result.standard_uncertainty_mm,
        min(shared_mm, entry.result.standard_uncertainty_mm),
        entry.photo,
    )


def _observation(entry: ObservationEntry) -> "Finding":
    from references.finding import Finding

    return Finding(entry.part, entry.feature, entry.value, state=cast("State", entry.state))


def judge_specimen(specimen: Specimen, sheet: "Sheet") -> "Verdict":
    """Judge the record's findings by the sheet.

    Raises
    ------
    SheetError
        A finding names what the sheet doesn't have.
    RecordError
        A measurement has no result.
    """
    from references import judge

    return judge(sheet, findings_of(specimen))


def verdict_json(verdict: "Verdict", specimen: Specimen) -> dict[str, Any]:
    """Return the verdict as JSON values, with the specimen's name."""
    return {"specimen": specimen.name, **verdict.to_json()}
