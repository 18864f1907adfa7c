"""A verdict as the page shows it: words, signs that need no colour, and one scale for each dimension."""

from collections.abc import Mapping, Sequence
from math import floor
from typing import TYPE_CHECKING, Any

from measure.desk.view.readouts import step_for, tick_text
from measure.length import format_mm
from measure.record import MeasurementEntry, Specimen, VerdictEntry, read_verdict
from measure.verdict_words import joined, on_the_page, percent, unsettled_parts

if TYPE_CHECKING:
    from measure.length import Length
    from references.release_sheet import Feature, Part, Sheet
    from references.verdict import FindingVerdict, NextCheck, PartVerdict, Verdict

_SIGNS = {"release": "✓", "mixed": "≠", "recast": "≠", "not listed": "≠"}
# Signs beside a band, by the share of the possible true lengths within its limits; the outer borders are
# those of the verdict's own rule.
_FITS, _LIKELY, _OUTSIDE = 0.95, 0.5, 0.05


def verdict_of(specimen: Specimen) -> VerdictEntry | None:
    """Return the verdict on a specimen; one from a file is read.

    Parameters
    ----------
    specimen : Specimen
        Any.

    Returns
    -------
    VerdictEntry or None

    Raises
    ------
    RecordError
        It can't be read.
    """
    kept = specimen.verdict
    return kept if isinstance(kept, VerdictEntry | None) else read_verdict(kept)


def verdict_json(judged: VerdictEntry, specimen: Specimen, sheet: "Sheet") -> dict[str, Any]:
    """Return the verdict as the page's values.

    Parameters
    ----------
    judged : VerdictEntry
        The verdict, with its doubts in words.
    specimen : Specimen
        For the measured values.
    sheet : Sheet
        For names and ranges.

    Returns
    -------
    dict
        Texts and marks; chances in percent, limits and measured values in mm.
    """
    verdict, names = judged.verdict, sheet.release_names
    outcome = verdict.outcome
    little = verdict.checked is not None and verdict.checked.is_little
    sure = outcome != "release" or not (unsettled_parts(verdict) or little)
    return {
        "sign": _SIGNS.get(outcome, "?") if sure else "?",
        "mark": outcome.replace(" ", "-") if sure else "in-doubt",
        "headline": on_the_page(verdict, names),
        # While something is in doubt, they hold for a world that the findings contradict.
        "chances": [] if verdict.doubts else _chances(verdict, names),
        "doubts": list(judged.doubts_told),
        "reasons": list(judged.reasons_told),
        "next": [
            _next(one, text, sheet) for one, text in zip(verdict.next_checks, judged.checks_told, strict=True)
        ],
        "parts": [_part(one, specimen, sheet) for one in verdict.parts],
        "rule": judged.rule_told,
        "caution": judged.caution,
    }


def _chances(verdict: "Verdict", names: Mapping[str, str]) -> list[dict[str, Any]]:
    shares = [(key, names.get(key, key), share) for key, share in verdict.posterior.items()]
    if verdict.unlisted_probability > 0:
        shares.append(("", "A release not listed", verdict.unlisted_probability))
    return [
        {"id": key, "name": name, "percent": 100.0 * share, "text": percent(share, decimals=0)}
        for key, name, share in sorted(shares, key=lambda each: -each[2])
    ]


def _next(check: "NextCheck", text: str, sheet: "Sheet") -> dict[str, Any]:
    part = sheet.part(check.part)
    feature = part.feature(check.feature) if part else None
    action = None if feature is None else "measure" if feature.kind == "dimension" else "note"
    return {
        "part": check.part,
        "feature": check.feature,
        "text": text,
        "action": action,
    }


def _part(judged: "PartVerdict", specimen: Specimen, sheet: "Sheet") -> dict[str, Any]:
    names = sheet.release_names
    part = sheet.part(judged.part)
    bands = []
    notes = []
    for finding in judged.findings:
        feature = part.feature(finding.feature) if part else None
        if part is None or feature is None:
            continue
        if feature.kind == "dimension":
            bands.append(band(part, feature, finding, specimen, sheet))
        else:
            notes.append(_note(feature, finding, sheet))
    fits = [names.get(key, key) for key in judged.releases]
    return {
        "id": judged.part,
        "name": judged.name,
        "outcome": judged.outcome,
        "foreign": judged.foreign,
        "tag": _tag(judged),
        "text": _part_text(judged.outcome, fits),
        "bands": bands,
        "notes": notes,
    }


def _tag(judged: "PartVerdict") -> str | None:
    """Return the word beside the part's name; a part that fits no release comes from none of them."""
    if judged.foreign:
        return "does not belong" if judged.outcome == "fits none" else "from another release"
    return "in doubt" if judged.foreign_probability > 0.5 else None


def _part_text(outcome: str, fits: Sequence[str]) -> str:
    if outcome == "fits":
        return f"Fits {joined(fits)}."
    if outcome == "fits none":
        return "Fits none of the known releases."
    if fits:
        return f"Cannot tell: it could be {joined(fits, 'or')}."
    return "Cannot tell."


def _note(feature: "Feature", finding: "FindingVerdict", sheet: "Sheet") -> str:
    fitting = {key for key, fit in finding.by_release.items() if fit.likelihood >= 0.1}
    fits = [one.name for one in sheet.releases if one.id in fitting]
    known = f"known of {joined(fits)}" if fits else "not known of any release"
    return f"{feature.name}: {finding.value}, {known}."


def _measured(part: "Part", feature: "Feature", specimen: Specimen) -> list[MeasurementEntry]:
    return [
        one
        for one in specimen.measurements
        if one.part == part.id and one.feature == feature.id and one.result is not None
    ]


def _judged_length(own: Sequence[MeasurementEntry], finding: "FindingVerdict") -> "Length | None":
    """Return the reading that a finding is of, else the last one: a mean is of several."""
    from measure.redo import recorded_length

    same = [entry for entry in own if entry.result and entry.result.length_mm == finding.value]
    found = (same or own)[-1:]
    return recorded_length(found[0]) if found else None


def band(
    part: "Part", feature: "Feature", finding: "FindingVerdict", specimen: Specimen, sheet: "Sheet"
) -> dict[str, Any]:
    """Return one dimension's scale: a row for each release, the measured value and its interval in mm."""
    length = _judged_length(_measured(part, feature, specimen), finding)
    value_mm = length.value_mm if length else None
    half_mm = length.expanded_uncertainty_mm if length else 0.0
    rows = [_row(one.id, one.name, feature, finding) for one in sheet.releases]
    ends = [end for row in rows for end in (row["low"], row["high"]) if end is not None]
    if value_mm is not None:
        ends += [value_mm - half_mm, value_mm + half_mm]
    low, high = min(ends, default=0.0), max(ends, default=1.0)
    room = max(high - low, 1e-3)
    low, high = low - 0.08 * room, high + 0.08 * room
    step = step_for(high - low, 6)
    ticks = [
        [number * step, tick_text(number * step, step)]
        for number in range(floor(low / step) + 1, floor(high / step) + 1)
    ]
    return {
        "part": part.id,
        "feature": feature.id,
        "name": feature.name,
        "text": format_mm(length) if length else "not measured",
        "low": low,
        "high": high,
        "ticks": ticks,
        "rows": rows,
        "value": value_mm,
        "u_low": None if value_mm is None else value_mm - half_mm,
        "u_high": None if value_mm is None else value_mm + half_mm,
    }


def _row(release: str, name: str, feature: "Feature", finding: "FindingVerdict") -> dict[str, Any]:
    limits = feature.limits_mm(release)
    if limits is None:
        return {
            "name": name,
            "low": None,
            "high": None,
            "mark": "absent",
            "range_text": "no such part, or not known",
        }
    fit = finding.by_release.get(release)
    mark = _mark(None if fit is None else fit.conformance_probability)
    text = f"{limits[0]:.4g} to {limits[1]:.4g} millimetres"
    return {"name": name, "low": limits[0], "high": limits[1], "mark": mark, "range_text": text}


def _mark(share: float | None) -> str:
    if share is None:
        return "unsure"
    if share >= _FITS:
        return "fits"
    if share <= _OUTSIDE:
        return "outside"
    return "likely" if share >= _LIKELY else "unsure"
