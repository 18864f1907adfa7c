"""`cardspan demo`: the whole job on the sample photos."""

import shutil
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from measure.commands.common import emit_json, say
from measure.commands.options import json_option

if TYPE_CHECKING:
    from measure.demo import SampleSpecimen
    from measure.record import Specimen


@click.command("demo")
@click.option(
    "--out",
    metavar="FOLDER",
    type=click.Path(file_okay=False),
    default="cardspan-demo",
    show_default=True,
    help="Folder for the records and write-ups.",
)
@json_option
def command(out: str, as_json: bool) -> None:
    """Find the card, measure, judge and write up the four sample specimens.

    The photos show an invented toy, the Saltmarsh Ferry. FOLDER gets the photos, one record for each specimen
    (*.specimen.json), and a folder with its write-up.
    """
    from measure.demo import build_specimen, read_samples, samples_folder
    from measure.record import record_lock, write_specimen

    source, folder = samples_folder(), Path(out)
    samples = read_samples(source)
    done: list[dict[str, Any]] = []
    for shown in samples.specimens:
        say("", as_json=as_json)
        say(shown.name, as_json=as_json)
        _copy_photos(shown, source, folder)
        specimen = build_specimen(shown, samples, folder, lambda line: say(line, as_json=as_json))
        record = folder / f"{shown.id}.specimen.json"
        with record_lock(record):
            write_specimen(record, specimen)
        done.append(_finish(record, folder / f"{shown.id}-write-up", specimen, as_json=as_json))
    if as_json:
        emit_json({"specimens": done})
    for line in _closing(folder, done):
        say(line, as_json=as_json)


def _copy_photos(shown: "SampleSpecimen", source: Path, folder: Path) -> None:
    from measure.errors import MeasureError

    try:
        folder.mkdir(parents=True, exist_ok=True)
        for photo in shown.photos:
            shutil.copyfile(source / photo.file, folder / photo.file)
    except OSError as error:
        raise MeasureError(
            f"{folder}: can't be written ({error.strerror or error}); give another folder with --out"
        ) from error


def _finish(record: Path, write_up_folder: Path, specimen: "Specimen", *, as_json: bool) -> dict[str, Any]:
    from measure.record import VerdictEntry
    from measure.redo import sheet_of
    from measure.verdict_words import on_one_line
    from measure.writeup import write_brief

    judged = specimen.verdict
    assert isinstance(judged, VerdictEntry)
    verdict = judged.verdict
    names = sheet_of(specimen, record.parent).release_names
    say(f"  verdict: {on_one_line(verdict, names)}", as_json=as_json)
    for reason in judged.reasons[:3]:
        say(f"    {reason}", as_json=as_json)
    files = write_brief(record, write_up_folder)
    return {
        "name": specimen.name,
        "record": str(record),
        "outcome": verdict.outcome,
        "release": verdict.release,
        "foreign_parts": [part.part for part in verdict.parts if part.foreign],
        "write_up": [str(path) for path in files],
    }


def _closing(folder: Path, done: list[dict[str, Any]]) -> list[str]:
    lines = ["", f"Written to {folder}: a record and a write-up for each specimen."]
    lines.append("Open these first:")
    for item in done:
        pages = [path for path in item["write_up"] if path.endswith(".html")] or item["write_up"][:1]
        lines += [f"  {page}" for page in pages]
    lines.append("PDF, tables and the rest:  cardspan write-up RECORD --out FOLDER")
    lines.append("Confidence, from 0 to 1, is how certain it is that the outline found is the card's.")
    lines.append("± is the expanded uncertainty: the true length lies within it 95 times in 100.")
    lines.append("A verdict is evidence, not an authentication or an appraisal.")
    return lines
