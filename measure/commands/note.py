"""`cardspan note`: counts, traits, missing parts, name and remarks of a specimen."""

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from measure.commands.common import emit_json, say
from measure.commands.options import check_name, json_option
from measure.texts import clean_text

if TYPE_CHECKING:
    from measure.record import Specimen
    from references.release_sheet import Feature, Part, Sheet


@click.command("note")
@click.argument("specimen", metavar="SPECIMEN.json", type=click.Path())
@click.argument("notes", metavar="[PART.FEATURE=VALUE...]", nargs=-1)
@click.option(
    "--sheet",
    "sheet_name",
    metavar="SHEET",
    help="Release sheet of a record that names none yet: a file, or a shipped one's key.",
)
@click.option("--name", metavar="NAME", type=clean_text, help="What to call the specimen.")
@click.option("--remark", metavar="TEXT", type=clean_text, help="A remark, in place of the earlier one.")
@json_option
def command(
    *,
    specimen: str,
    notes: tuple[str, ...],
    sheet_name: str | None,
    name: str | None,
    remark: str | None,
    as_json: bool,
) -> None:
    """Note on a specimen what was counted and seen, and list what is left to note.

    PART.FEATURE=VALUE notes a count or a trait; VALUE may be "other" for a trait that the sheet doesn't list,
    or "hidden" where it could not be seen. PART=missing, PART=hidden and PART=seen note a whole part. Nothing
    after the = takes a note back. Without notes, everything that can be noted is listed with how to look.

    \b
    Examples:
      cardspan note ferry.specimen.json --sheet saltmarsh-ferry
      cardspan note ferry.specimen.json lifeboat.screws=5 paddle-wheel.axle=plug-in bow-plate=missing
      cardspan note ferry.specimen.json lifeboat.screws= --name "The fair's ferry" --remark "new rail"

    Exit status: 0 noted or listed, 2 a note that the sheet doesn't know, 4 the record or sheet can't be used.
    """
    from measure.record import record_lock, write_specimen
    from measure.requests import record_or_new

    path = Path(specimen)
    check_name(specimen, ".json", "a specimen record", "SPECIMEN.json")
    if not (notes or name or remark is not None):
        record = record_or_new(path, sheet_name)
        _list(record, _sheet(record, path, sheet_name), as_json=as_json)
        return
    with record_lock(path):
        before = record_or_new(path, sheet_name)
        after = _noted(before, path, notes, sheet_name)
        after = replace(after, name=name or after.name, note=after.note if remark is None else remark)
        is_new = not path.exists()
        if is_new or after != before:
            write_specimen(path, after)
    sheet = _sheet(after, path, sheet_name) if after.sheet is not None else None
    say(f"{'New record' if is_new else 'Noted in'} {path}", as_json=as_json)
    _list(after, sheet, as_json=as_json)


def _sheet(specimen: "Specimen", path: Path, sheet_name: str | None) -> "Sheet":
    from measure.redo import sheet_of

    return sheet_of(specimen, path.parent, sheet_name)


def _noted(specimen: "Specimen", path: Path, notes: tuple[str, ...], sheet_name: str | None) -> "Specimen":
    from measure.requests import check_notes, parse_note, with_notes

    if not notes:
        return specimen
    sheet = _sheet(specimen, path, sheet_name)
    parsed = [parse_note(text, sheet) for text in notes]
    after = with_notes(specimen, parsed)
    check_notes(after, parsed, sheet)
    return after


def _list(specimen: "Specimen", sheet: "Sheet | None", *, as_json: bool) -> None:
    if as_json:
        plain = [
            {"part": one.part, "feature": one.feature, "value": one.value, "state": one.state}
            for one in specimen.observations
        ]
        emit_json(
            {"specimen": specimen.name, "remark": specimen.note, "sheet": specimen.sheet, "noted": plain}
        )
        return
    say(specimen.name + (f": {specimen.note}" if specimen.note else ""), as_json=False)
    for line in [] if sheet is None else _lines(specimen, sheet):
        say(line, as_json=False)


def _lines(specimen: "Specimen", sheet: "Sheet") -> list[str]:
    noted = {(one.part, one.feature): one for one in specimen.observations}
    measured = {one.part for one in specimen.measurements}
    lines = []
    for part in sheet.parts:
        whole = noted.get((part.id, None))
        state = f"  {_STATES[whole.state]}" if whole is not None else ""
        lines.append(f"{part.id}{state or ('  measured' if part.id in measured else '')}")
        lines += [_line(part, one, noted.get((part.id, one.id))) for one in part.features if _is_noted(one)]
    return lines


_STATES = {"seen": "seen", "not present": "missing", "could not see": "hidden"}


def _is_noted(feature: "Feature") -> bool:
    return feature.kind != "dimension"


def _line(part: "Part", feature: "Feature", entry: Any) -> str:
    place = f"  {part.id}.{feature.id}"
    if entry is not None:
        return f"{place}={entry.value if entry.value is not None else _STATES[entry.state]}"
    values = "a count" if feature.kind == "count" else ", ".join(feature.alternatives)
    return f"{place}: not noted; {values}. {feature.how}"
