"""Makes a write-up: gathers the evidence, draws and writes every document, and puts the folder in place."""

import json
from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from measure import __version__
from measure.errors import MeasureError
from measure.files import write_atomic
from measure.record import read_specimen, specimen_to_json
from measure.specimen import PhotoEntry, Specimen
from measure.writeup.blocks import Chart
from measure.writeup.charts import charts
from measure.writeup.evidence import (
    Evidence,
    PhotoEvidence,
    measured_items,
    noted_items,
    recorded_date,
    sheet_beside,
    unchecked_features,
)
from measure.writeup.finding_photos import found_photos
from measure.writeup.illustrations import Illustrations, illustrate
from measure.writeup.listing import long_listing, short_listing
from measure.writeup.manifest import MANIFEST, RECORD, RELEASE_SHEET, bare_name, manifest, stale_files
from measure.writeup.page_html import page_html
from measure.writeup.page_pdf import PAPERS, page_pdf
from measure.writeup.page_text import markdown, plain_text
from measure.writeup.sheet import evidence_sheet


@dataclass(frozen=True, slots=True)
class Options:
    """How a write-up is made.

    Attributes
    ----------
    show_card : bool
        Leave the reference card's face uncovered.
    paper : str
        "a4" or "letter".
    inches_first : bool
        Inches lead, millimetres follow.
    photos : Path or None
        Where the photos are, if not beside the record.
    date : str
        ISO date to print; the record's own, or its photos', where empty.
    """

    show_card: bool = False
    paper: str = "a4"
    inches_first: bool = False
    photos: Path | None = None
    date: str = ""

    def __post_init__(self) -> None:
        if self.paper not in PAPERS:
            raise MeasureError(f"paper '{self.paper}': expected one of {', '.join(PAPERS)}")


@dataclass(frozen=True, slots=True)
class Product:
    """The files written, and what the user should be told."""

    files: tuple[Path, ...]
    warnings: tuple[str, ...]


def write_up(
    specimen_path: str | Path, out_dir: str | Path, *, show_card: bool = False, paper: str = "a4",
    inches_first: bool = False, photos: Path | None = None, date: str = "",
) -> list[Path]:  # fmt: skip
    """Write a specimen up as pictures, texts, HTML and PDF.

    Parameters
    ----------
    specimen_path : str or Path
        The record; its photos are looked for beside it.
    out_dir : str or Path
        The folder to write to; made where it is missing.
    show_card, paper, inches_first, photos, date
        See `Options`.

    Returns
    -------
    list of Path
        The files written.

    Raises
    ------
    MeasureError, SheetError
        The record or its sheet can't be used, or the folder can't be written to.
    """
    return list(
        produce(
            Path(specimen_path), Path(out_dir), Options(show_card, paper, inches_first, photos, date)
        ).files
    )


def produce(record: Path, out: Path, options: Options) -> Product:
    """Write a specimen up; see `write_up`."""
    files, warnings = build(record, options)
    for name in stale_files(out, files):
        (out / name).unlink(missing_ok=True)
    # The manifest comes last: a folder without one is unfinished.
    for name in sorted(files, key=lambda name: name == MANIFEST):
        write_atomic(out / name, files[name])
    return Product(tuple(out / name for name in files), warnings)


def build(record: Path, options: Options) -> tuple[dict[str, bytes], tuple[str, ...]]:
    """Make every file of a write-up in memory, by name, with the warnings."""
    specimen = read_specimen(record)
    evidence, sheet_text = gather(specimen, record, options)
    drawn = illustrate(evidence, show_card=options.show_card)
    evidence = replace(evidence, warnings=evidence.warnings + drawn.warnings)
    plots = charts(evidence)
    files = _pages(evidence, drawn, plots, options.paper)
    files[RECORD] = _record_copy(evidence)
    if sheet_text:
        files[RELEASE_SHEET] = sheet_text.encode("utf-8")
    files[MANIFEST] = manifest(files, evidence, options.show_card, options.paper, options.date)
    return files, evidence.warnings


def gather(specimen: Specimen, record: Path, options: Options) -> tuple[Evidence, str]:
    """Read photos and sheet, judge, and return the evidence with the sheet's text."""
    sheet, sheet_text = sheet_beside(specimen, record)
    warnings: list[str] = []
    photos = tuple(
        _photo_evidence(number, entry, photo, trouble)
        for number, (entry, (photo, trouble)) in enumerate(
            zip(specimen.photos, found_photos(specimen.photos, record.parent, options.photos), strict=True), 1
        )
    )
    warnings += [f"Photo {item.number}: {item.trouble}" for item in photos if item.trouble]
    verdict: Mapping[str, Any] | None = specimen.verdict
    if sheet is not None:
        verdict, remarks = _judged(specimen, sheet)
        warnings += remarks
    evidence = Evidence(
        specimen=replace(specimen, verdict=verdict),
        sheet=sheet,
        verdict=verdict,
        items=measured_items(specimen, sheet, inches_first=options.inches_first),
        noted=noted_items(specimen, sheet),
        photos=photos,
        unchecked=unchecked_features(specimen, sheet),
        date=options.date or recorded_date(specimen, photos),
        program=f"cardspan {__version__}",
        inches_first=options.inches_first,
        warnings=tuple(warnings),
    )
    return evidence, sheet_text


def _judged(specimen: Specimen, sheet: Any) -> tuple[dict[str, Any], list[str]]:
    from measure.judging import judge_specimen, verdict_json

    verdict = verdict_json(judge_specimen(specimen, sheet), specimen)
    kept = specimen.verdict
    if kept is None or (kept.get("outcome"), kept.get("release")) == (verdict["outcome"], verdict["release"]):
        return verdict, []
    return verdict, [
        "The verdict kept in the record differs from the one its findings give now; the new one is shown."
    ]


def _photo_evidence(number: int, entry: PhotoEntry, photo: Any, trouble: str) -> PhotoEvidence:
    from measure.remeasure import object_of, plane_of

    if (
        entry.reference is None
        or entry.reference.corners_px is None
        or (entry.camera is None and photo is None)
    ):
        return PhotoEvidence(number, entry, photo, None, None, trouble)
    return PhotoEvidence(number, entry, photo, plane_of(entry, photo), object_of(entry.reference), trouble)


def _pages(
    evidence: Evidence, drawn: Illustrations, plots: tuple[Chart, ...], paper: str
) -> dict[str, bytes]:
    sheet = evidence_sheet(evidence, drawn.photos, drawn.close_ups, plots)
    short, long = short_listing(evidence), long_listing(evidence)
    texts = {
        "listing-short.txt": plain_text(short), "listing-short.md": markdown(short),
        "listing-long.txt": plain_text(long), "listing-long.md": markdown(long),
        "evidence.html": page_html(sheet),
    }  # fmt: skip
    files = {name: text.encode("utf-8") for name, text in texts.items()}
    files["evidence.pdf"] = page_pdf(sheet, paper)
    files |= {picture.file: picture.data for picture in (*drawn.photos, *drawn.close_ups)}
    for plot in plots:
        files |= {f"{plot.file}.png": plot.png, f"{plot.file}.svg": plot.svg}
    return files


def _record_copy(evidence: Evidence) -> bytes:
    """Return the record as it stands in the folder: photos by their bare names, the sheet beside it."""
    specimen = evidence.specimen
    photos = tuple(replace(entry, file=bare_name(entry.file)) for entry in specimen.photos)
    sheet = RELEASE_SHEET if evidence.sheet is not None else None
    data = specimen_to_json(replace(specimen, photos=photos, sheet=sheet))
    return (json.dumps(data, ensure_ascii=False, indent=1, allow_nan=False) + "\n").encode("utf-8")
