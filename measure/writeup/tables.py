"""Tables for a spreadsheet: comma-separated, UTF-8 with a byte-order mark, as such programs expect."""

import csv
import io
from collections.abc import Iterable

from measure.verdict_words import foreign_parts
from measure.writeup.comparison import Comparison
from measure.writeup.gather import LEFT_TO_RIGHT, Evidence, tidy

_MARK = "\ufeff"
_FINDINGS = ("specimen", "no", "name", "part", "feature", "kind", "photo", "length_mm", "u_mm", "U_mm",
             "k", "standoff_mm", "seen")  # fmt: skip
_SPECIMENS = ("specimen", "record", "subject", "outcome", "release", "probability", "recast_probability",
              "foreign_parts", "lengths", "noted", "not_checked", "folder")  # fmt: skip


def _written(header: tuple[str, ...], rows: Iterable[tuple[object, ...]]) -> str:
    stream = io.StringIO(newline="")
    writer = csv.writer(stream)  # comma, CRLF: RFC 4180
    writer.writerow(header)
    writer.writerows([_cell(value) for value in row] for row in rows)
    return _MARK + stream.getvalue()


def _cell(value: object) -> object:
    if not isinstance(value, str):
        return value
    text = value.replace(LEFT_TO_RIGHT, "")
    # A name that begins like a formula would be run as one.
    return "'" + text if text[:1] in ("=", "+", "-", "@") else text


def findings_csv(specimens: tuple[Evidence, ...]) -> str:
    """Return one row for each finding.

    Parameters
    ----------
    specimens : tuple of Evidence
        In the order of the rows.

    Returns
    -------
    str
        CSV with a byte-order mark, for spreadsheets. Lengths in mm to four decimals, u standard and U
        expanded.
    """
    return _written(_FINDINGS, (row for evidence in specimens for row in _findings(evidence)))


def _findings(evidence: Evidence) -> Iterable[tuple[object, ...]]:
    for item in evidence.items:
        entry, result = item.entry, item.result
        numbers: tuple[object, ...] = ("", "", "", "")
        if result is not None:
            numbers = (
                round(result.length_mm, 4),
                round(result.standard_uncertainty_mm, 4),
                round(result.expanded_uncertainty_mm, 4),
                round(result.coverage_factor, 4),
            )
        heights = " ".join(f"{height:g}" for height in entry.standoff_mm)
        names = (evidence.title, item.key, item.name, entry.part or "", entry.feature or "")
        yield (*names, entry.kind, entry.photo or "", *numbers, heights, "")
    for noted, seen in zip(evidence.noted, evidence.specimen.observations, strict=True):
        names = (evidence.title, "", noted.name, seen.part, seen.feature or "")
        yield (*names, "noted", "", "", "", "", "", "", noted.value)


def specimens_csv(specimens: tuple[tuple[Evidence, str, str], ...]) -> str:
    """Return one row for each specimen.

    Parameters
    ----------
    specimens : tuple of (Evidence, str, str)
        Each with its record's and its folder's name.

    Returns
    -------
    str
        CSV with a byte-order mark, for spreadsheets; probabilities from 0 to 1.
    """
    return _written(_SPECIMENS, (_specimen(*entry) for entry in specimens))


def _specimen(evidence: Evidence, record: str, folder: str) -> tuple[object, ...]:
    return (
        evidence.title,
        record,
        evidence.subject,
        *_verdict(evidence),
        sum(item.result is not None for item in evidence.items),
        len(evidence.noted),
        "; ".join(evidence.unchecked),
        folder,
    )


def _verdict(evidence: Evidence) -> tuple[object, ...]:
    if evidence.verdict is None:
        return ("", "", "", "", "")
    verdict = evidence.verdict.verdict
    share = verdict.posterior.get(verdict.release or "")
    recast = None if verdict.doubts else verdict.recast
    return (
        verdict.outcome,
        evidence.release_name(verdict.release) if verdict.release else "",
        "" if share is None else round(share, 4),
        "" if recast is None else round(recast.probability, 4),
        "; ".join(foreign_parts(verdict, tidy)),
    )


def comparison_csv(comparison: Comparison) -> str:
    """Return one row for each length measured on both specimens.

    Parameters
    ----------
    comparison : Comparison
        Of two specimens.

    Returns
    -------
    str
        CSV with a byte-order mark, for spreadsheets. Lengths in mm to four decimals, U being expanded.
    """
    header = ("name", "first_mm", "first_U_mm", "second_mm", "second_U_mm", "difference_mm",
              "difference_U_mm", "same_photo", "outcome")  # fmt: skip
    rows = []
    for pair in comparison.pairs:
        numbers: list[object] = []
        for result in (pair.one.result, pair.other.result):
            if result is not None:
                numbers += [round(result.length_mm, 4), round(result.expanded_uncertainty_mm, 4)]
        difference = pair.difference
        numbers += [round(difference.value_mm, 4), round(difference.expanded_uncertainty_mm, 4)]
        rows.append((pair.name, *numbers, "yes" if pair.shared else "no", pair.outcome))
    return _written(header, rows)
