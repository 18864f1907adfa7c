"""From a specimen's record to findings, and from findings to the verdict on its sheet."""

from dataclasses import replace
from math import sqrt
from pathlib import Path
from typing import TYPE_CHECKING, cast

from measure.errors import RecordError
from measure.record import MeasurementEntry, ObservationEntry, Specimen, VerdictEntry
from measure.redo.remeasure import AT_ONE_HEIGHT, recorded_length

if TYPE_CHECKING:
    from measure.length import Length
    from references.inference import Finding, State
    from references.release_sheet import Sheet


def sheet_of(specimen: Specimen, folder: Path, sheet: str | Path | None = None) -> "Sheet":
    """Read the sheet to judge by.

    Parameters
    ----------
    specimen : Specimen
        Its `sheet` is used if none is given.
    folder : Path
        The record's folder, from which its sheet's path starts.
    sheet : str or Path, optional
        A shipped sheet's key, or a path.

    Returns
    -------
    Sheet

    Raises
    ------
    RecordError
        Neither the record nor the caller names a sheet.
    SheetError
        The sheet can't be used.
    """
    from references import named_sheet

    if sheet is not None:
        return named_sheet(str(sheet))
    if specimen.sheet is None:
        raise RecordError(
            f"{specimen.name}: the record names no release sheet; give one with --sheet SHEET.toml"
        )
    return named_sheet(specimen.sheet, folder)


def findings_of(specimen: Specimen) -> list["Finding"]:
    """Return what the record says about the sheet's parts; free measurements say nothing about them.

    A measurement that its photo could not support says nothing either.

    Raises
    ------
    RecordError
        A measurement of a feature has no result and no reason for it.
    """
    groups: dict[tuple[str | None, ...], list[MeasurementEntry]] = {}
    for entry in specimen.measurements:
        if entry.part is not None and entry.feature is not None and "cannot_tell" not in entry.extra:
            # A feature measured again on one photo is repeated; by hand, each is a measurement of its own.
            key = (entry.part, entry.feature, entry.photo or f"by hand: {entry.id}", entry.kind)
            groups.setdefault(key, []).append(entry)
    lengths = [finding for group in groups.values() for finding in _lengths(group)]
    return lengths + [_observation(entry) for entry in specimen.observations]


def _lengths(entries: list[MeasurementEntry]) -> list["Finding"]:
    """Return the finding of one feature on one photo, measured once or repeatedly.

    Readings that contradict each other stay apart: the verdict has to see that they do.
    """
    from measure.length import contradict

    lengths = [recorded_length(entry) for entry in entries]
    if contradict(lengths):
        return [_finding(entries[0], [length]) for length in lengths]
    return [_finding(entries[0], lengths)]


def _finding(first: MeasurementEntry, lengths: list["Length"]) -> "Finding":
    from measure.length import NORMAL_COVERAGE_FACTOR, STANDOFF, repeated
    from references.inference import Finding

    length = lengths[0]
    u_mm, shared_mm = length.standard_uncertainty_mm, length.shared_std_mm
    if len(lengths) > 1:
        length = repeated(lengths)
        # Few repeats determine their scatter poorly; a normal one must be wider for the same coverage.
        u_mm, shared_mm = length.expanded_uncertainty_mm / NORMAL_COVERAGE_FACTOR, length.shared_std_mm
    assert first.part is not None
    shared_mm = min(shared_mm, u_mm)
    standoff_mm = sqrt(sum(one.mm**2 for one in length.contributions.values() if one.source == STANDOFF))
    standoff_mm = min(standoff_mm, sqrt(u_mm**2 - shared_mm**2))
    return Finding(
        first.part,
        first.feature,
        length.value_mm,
        u_mm,
        shared_mm,
        first.photo,
        standoff_std_mm=standoff_mm if first.kind in AT_ONE_HEIGHT else 0.0,
    )


def _observation(entry: ObservationEntry) -> "Finding":
    from references.inference import Finding

    return Finding(entry.part, entry.feature, entry.value, state=cast("State", entry.state))


def judge_specimen(specimen: Specimen, sheet: "Sheet") -> VerdictEntry:
    """Judge the record's findings by the sheet.

    Parameters
    ----------
    specimen : Specimen
        With a result, or the reason for none, at each measurement of a feature.
    sheet : Sheet
        The one that its parts and features are keys of.

    Returns
    -------
    VerdictEntry
        What is told of it is in words, as its record keeps it.

    Raises
    ------
    SheetError
        A finding names what the sheet doesn't have.
    RecordError
        A measurement has no result.
    """
    from measure.verdict_words import (
        CAUTION,
        check_sentence,
        doubt_sentence,
        rate_sentences,
        reason_sentence,
        rule_sentences,
    )
    from references import judge

    verdict = judge(sheet, findings_of(specimen))
    rule = verdict.decision_rule
    assert rule is not None
    return VerdictEntry(
        specimen=specimen.name,
        verdict=replace(verdict, reasons=(), decision_rule=None),
        doubts_told=tuple(doubt_sentence(doubt, sheet) for doubt in verdict.doubts),
        reasons_told=tuple(reason_sentence(reason, sheet) for reason in verdict.reasons),
        checks_told=tuple(check_sentence(check, sheet) for check in verdict.next_checks),
        rule_told=f"{rule_sentences(rule)} {rate_sentences(rule.rates)}",
        caution=CAUTION,
    )
