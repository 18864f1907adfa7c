"""Turns examples into proposals for a sheet, describes them, and writes those that are accepted."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from measure.errors import MeasureError
from measure.files import write_atomic
from measure.sheets.examples import read_examples
from measure.sheets.guide import value_text
from measure.terminal import write_line
from measure.verdict_words import span_text
from references.learning import Learnt, learn, separation_notes
from references.limits import MOST_SHEET_BYTES
from references.release_sheet import Normal, Range, Sheet, format_value, set_value
from references.text_files import read_text_file

FEWEST = 2
"""Specimens that give a spread; a feature with fewer is told of, and left as it is."""


@dataclass(frozen=True, slots=True)
class Proposal:
    """What was learnt, the value to write, and how it compares with the other releases."""

    learnt: Learnt
    value: Normal | Range
    separations: tuple[str, ...]


def propose(
    sheet: Sheet,
    inputs: Sequence[Path],
    *,
    release: str | None,
    leave_out: Sequence[str],
    form: str,
    content: float,
    confidence: float,
    source: str | None,
) -> list[Proposal]:
    """Return one proposal for each release and feature that the inputs measure.

    Parameters
    ----------
    sheet : Sheet
        Gives parts, features and releases.
    inputs : sequence of Path
        Tables in CSV and specimen records with examples.
    release : str or None
        The release of every record, and of rows of a table that name none.
    leave_out : sequence of str
        Names of specimens that the user leaves out.
    form : str
        "range" proposes smallest and largest, "spread" mean and standard deviation.
    content, confidence : float
        Of the statistical tolerance interval, between 0 and 1.
    source : str or None
        Where the examples come from; their number by default.

    Returns
    -------
    list of Proposal
        Sorted by release, part and feature.

    Raises
    ------
    MeasureError
        Where an input cannot be used, or ``leave_out`` names a specimen that none of them has.
    """
    examples = read_examples(inputs, sheet, release=release)
    names = {example.name for each in examples.values() for example in each}
    unknown = [name for name in leave_out if name not in names]
    if unknown or not examples:
        what = f'no specimen is called "{unknown[0]}"' if unknown else "no length of a part was found"
        raise MeasureError(f"{', '.join(map(str, inputs))}: {what}")
    kept = {place: len({one.name for one in each} - {*leave_out}) for place, each in examples.items()}
    enough = {place: each for place, each in examples.items() if kept[place] >= FEWEST}
    learnt = [
        learn(sheet, place, each, content=content, confidence=confidence, leave_out=leave_out)
        for place, each in sorted((enough or examples).items())
    ]
    for place in sorted(examples.keys() - enough.keys()):
        release_id, part, feature = place
        lack = f"examples {kept[place]}, more needed {FEWEST - kept[place]}; left as it is"
        write_line(f"{part}, {feature}, {release_id}: {lack}.", err=True)
    proposals = []
    for each in learnt:
        shown = source or f"{each.spread.examples} measured examples"
        value = each.as_range(shown) if form == "range" else each.as_spread(shown)
        others = [other for other in learnt if other is not each]
        proposals.append(Proposal(each, value, separation_notes(each, sheet, others=others)))
    return proposals


def describe(proposal: Proposal, sheet: Sheet) -> Iterator[str]:
    """Yield the lines that show a proposal.

    Parameters
    ----------
    proposal : Proposal
        What was learnt.
    sheet : Sheet
        The one that it was learnt for; gives the unit.

    Yields
    ------
    str
        Without line breaks, the first one not indented.
    """
    learnt, spread, unit = proposal.learnt, proposal.learnt.spread, sheet.unit

    def shown(length_mm: float) -> str:
        return format_value(length_mm, unit)

    part = sheet.part(learnt.part)
    feature = part.feature(learnt.feature) if part else None
    assert feature is not None
    yield f"{learnt.part}, {learnt.feature}, {learnt.release}: {spread.examples} examples"
    yield (
        f"  mean {shown(spread.mean_mm)}, spread of the parts {shown(spread.sd_mm)} "
        f"(seen {shown(spread.seen_sd_mm)}, measuring {shown(spread.reading_std_mm)})"
    )
    yield f"  smallest to largest {span_text(learnt.seen_mm, unit)}"
    yield (
        f"  statistical tolerance interval ({100 * learnt.content:g} % of parts, "
        f"{100 * learnt.confidence:g} % confidence) {span_text(learnt.tolerance_mm, unit)}"
    )
    yield f"  one more specimen (95 %) {span_text(learnt.prediction_mm, unit)}"
    for outlier in learnt.outliers:
        yield f"  Outlier {outlier.reason}"
    for example in learnt.left_out:
        yield f"  Left out: {example.name}, {format_value(example.value_mm, unit)}"
    for note in (*learnt.notes, *proposal.separations):
        yield f"  {note}"
    yield f"  in the sheet now: {value_text(feature.by_release[learnt.release], unit)}"
    yield f"  proposed: {value_text(proposal.value, unit)}"


def write_value(path: Path, proposal: Proposal) -> None:
    """Write an accepted proposal into the sheet, keeping its comments, its order and a backup.

    Parameters
    ----------
    path : Path
        The sheet's own file, in TOML.
    proposal : Proposal
        What its feature is to say of the release.

    Raises
    ------
    MeasureError
        The sheet is not a file, or cannot be written.
    """
    if not path.is_file():
        raise MeasureError(
            f"{path}: a sheet that comes with the program can't be changed; copy it to a file first"
        )
    learnt = proposal.learnt
    text = read_text_file(path, MOST_SHEET_BYTES)
    place = (learnt.release, learnt.part, learnt.feature)
    write_atomic(path, set_value(text, place, proposal.value), backup=True)


def proposal_json(proposal: Proposal, *, written: bool) -> dict[str, Any]:
    """Return a proposal as plain values for a JSON file.

    Parameters
    ----------
    proposal : Proposal
        What was learnt.
    written : bool
        Whether the sheet now holds it.

    Returns
    -------
    dict
        Lengths in mm; spreads are standard deviations, "content" and "confidence" shares from 0 to 1.
    """
    learnt, spread, value = proposal.learnt, proposal.learnt.spread, proposal.value
    proposed = (
        {"min_mm": value.low_mm, "max_mm": value.high_mm}
        if isinstance(value, Range)
        else {"mean_mm": value.mean_mm, "sd_mm": value.sd_mm}
    )
    return {
        "release": learnt.release,
        "part": learnt.part,
        "feature": learnt.feature,
        "n": spread.examples,
        "mean_mm": spread.mean_mm,
        "sd_mm": spread.sd_mm,
        "sd_upper_mm": spread.sd_upper_mm,
        "seen_sd_mm": spread.seen_sd_mm,
        "measuring_std_mm": spread.reading_std_mm,
        "seen_mm": list(learnt.seen_mm),
        "tolerance_interval_mm": list(learnt.tolerance_mm),
        "content": learnt.content,
        "confidence": learnt.confidence,
        "prediction_interval_mm": list(learnt.prediction_mm),
        "outliers": [{"specimen": each.example.name, "reason": each.reason} for each in learnt.outliers],
        "left_out": [example.name for example in learnt.left_out],
        "notes": [*learnt.notes, *proposal.separations],
        "proposed": {**proposed, "n": value.examples, "source": value.source},
        "written": written,
    }
