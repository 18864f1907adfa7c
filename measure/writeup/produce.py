"""Makes a write-up: draws and writes every document of a specimen into its folder."""

import json
from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path

from measure.errors import MeasureError
from measure.files import write_atomic
from measure.record import specimen_to_json
from measure.writeup.charts import charts
from measure.writeup.comparison import compare, comparison_document
from measure.writeup.draw import unset_characters
from measure.writeup.evidence_sheet import evidence_sheet
from measure.writeup.gather import Evidence, Gathered, bare_name, gather
from measure.writeup.illustrations import Illustrations, illustrate
from measure.writeup.listing import long_listing, short_listing
from measure.writeup.manifest import MANIFEST, OTHER, RECORD, manifest, stale_files
from measure.writeup.pages import PAPERS, Chart, markdown, page_html, page_pdf, plain_text
from measure.writeup.tables import comparison_csv, findings_csv
from references.release_sheet import Sheet


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
        ISO date to print; if empty, that of the record or its photos.
    against : Path or None
        Record of another specimen to compare with.
    """

    show_card: bool = False
    paper: str = "a4"
    inches_first: bool = False
    photos: Path | None = None
    date: str = ""
    against: Path | None = None

    def __post_init__(self) -> None:
        if self.paper not in PAPERS:
            raise MeasureError(f"paper '{self.paper}': expected one of {', '.join(PAPERS)}")

    def gather(self, record: Path) -> Gathered:
        """Gather the evidence of a record with these options.

        Parameters
        ----------
        record : Path
            The specimen's record.

        Returns
        -------
        Gathered
        """
        return gather(record, photos=self.photos, inches_first=self.inches_first, date=self.date)


@dataclass(frozen=True, slots=True)
class Product:
    """The files written, and what the user should be told."""

    files: tuple[Path, ...]
    warnings: tuple[str, ...]


@dataclass(frozen=True, slots=True, eq=False)
class Built:
    """A write-up in memory: its files by name, its evidence and pictures, and what to tell the user."""

    files: Mapping[str, bytes]
    evidence: Evidence
    drawn: Illustrations
    warnings: tuple[str, ...]


def write_up(
    specimen_path: str | Path,
    out_dir: str | Path,
    *,
    show_card: bool = False,
    paper: str = "a4",
    inches_first: bool = False,
    photos: Path | None = None,
    date: str = "",
    against: Path | None = None,
) -> list[Path]:
    """Write a specimen up as pictures, texts, HTML and PDF.

    Parameters
    ----------
    specimen_path : str or Path
        The record; its photos are looked for beside it.
    out_dir : str or Path
        The folder to write to; made where it is missing.
    show_card, paper, inches_first, photos, date, against
        See `Options`.

    Returns
    -------
    list of Path
        The files written.

    Raises
    ------
    MeasureError, SheetError, CalibrationError
        The record, its sheet or a photo can't be used, or the folder can't be written to.
    """
    options = Options(show_card, paper, inches_first, photos, date, against)
    return list(produce(Path(specimen_path), Path(out_dir), options).files)


def write_brief(specimen_path: str | Path, out_dir: str | Path) -> list[Path]:
    """Write a specimen up in short: pictures, the short listing, and the HTML page with its charts.

    Parameters
    ----------
    specimen_path : str or Path
        The record; its photos are looked for beside it.
    out_dir : str or Path
        The folder to write to; made where it is missing.

    Returns
    -------
    list of Path
        The files written; without the manifest of a full write-up there is nothing to verify.

    Raises
    ------
    MeasureError, SheetError, CalibrationError
        The record, its sheet or a photo can't be used, or the folder can't be written to.
    """
    evidence = Options().gather(Path(specimen_path)).evidence
    drawn = illustrate(evidence, show_card=False)
    sheet = evidence_sheet(evidence, drawn.plates, drawn.close_ups, charts(evidence))
    files = {picture.file: picture.data for picture in (*drawn.photos, *drawn.close_ups)}
    files["listing-short.txt"] = plain_text(short_listing(evidence)).encode("utf-8")
    files["evidence.html"] = page_html(sheet).encode("utf-8")
    return list(put(Path(out_dir), files))


def produce(record: Path, out: Path, options: Options) -> Product:
    """Write a specimen up; see `write_up`.

    Parameters
    ----------
    record : Path
        The specimen's record.
    out : Path
        The folder to write to; made where it is missing.
    options : Options
        How to make it.

    Returns
    -------
    Product

    Raises
    ------
    MeasureError, SheetError, CalibrationError
        The record, its sheet or a photo can't be used, or the folder can't be written to.
    """
    built = build(record, options)
    return Product(put(out, built.files), built.warnings)


def put(out: Path, files: Mapping[str, bytes]) -> tuple[Path, ...]:
    """Write a folder's files, and remove those that an earlier write-up left there.

    Parameters
    ----------
    out : Path
        The folder; made where it is missing.
    files : mapping of str to bytes
        What to write, by name.

    Returns
    -------
    tuple of Path
        In the order of `files`.

    Raises
    ------
    MeasureError
        The folder can't be written to.
    """
    for name in stale_files(out, files):
        (out / name).unlink(missing_ok=True)
    # The manifest comes last: a folder without one is unfinished.
    for name in sorted(files, key=lambda name: name == MANIFEST):
        write_atomic(out / name, files[name])
    return tuple(out / name for name in files)


def build(record: Path, options: Options) -> Built:
    """Make every file of a write-up in memory.

    Parameters
    ----------
    record : Path
        The specimen's record.
    options : Options
        How to make it.

    Returns
    -------
    Built

    Raises
    ------
    MeasureError, SheetError, CalibrationError
        The record, its sheet or a photo can't be used.
    """
    gathered = options.gather(record)
    evidence, remarks = gathered.evidence, list(gathered.remarks)
    drawn = illustrate(evidence, show_card=options.show_card)
    files = _pages(evidence, drawn, charts(evidence), options.paper)
    files |= _sources(gathered, RECORD)
    specimens = [evidence]
    if options.against is not None:
        other = options.gather(options.against)
        others = illustrate(other.evidence, show_card=options.show_card)
        remarks += [f"Other specimen: {text}" for text in (*other.remarks, *others.warnings)]
        files |= _sources(other, OTHER)
        specimens.append(other.evidence)
        files |= _comparison((evidence, drawn), (other.evidence, others), options.paper)
    files[MANIFEST] = manifest(
        files, tuple(specimens), show_card=options.show_card, paper=options.paper, date=options.date
    )
    missing = unset_characters(files["listing-long.txt"].decode("utf-8"))
    if missing:
        remarks.append(f"No installed font has {missing}: install one, or expect gaps in PDF and pictures.")
    return Built(files, evidence, drawn, (*remarks, *drawn.warnings))


def _pages(
    evidence: Evidence, drawn: Illustrations, plots: tuple[Chart, ...], paper: str
) -> dict[str, bytes]:
    sheet = evidence_sheet(evidence, drawn.plates, drawn.close_ups, plots)
    short, long = short_listing(evidence), long_listing(evidence)
    texts = {
        "listing-short.txt": plain_text(short),
        "listing-short.md": markdown(short),
        "listing-long.txt": plain_text(long),
        "listing-long.md": markdown(long),
        "findings.csv": findings_csv((evidence,)),
        "evidence.html": page_html(sheet),
    }
    files = {name: text.encode("utf-8") for name, text in texts.items()}
    files["evidence.pdf"] = page_pdf(sheet, paper)
    files |= {picture.file: picture.data for picture in (*drawn.photos, *drawn.close_ups)}
    for plot in plots:
        files |= {f"{plot.file}.png": plot.png, f"{plot.file}.svg": plot.svg}
    return files


def _comparison(
    one: tuple[Evidence, Illustrations], other: tuple[Evidence, Illustrations], paper: str
) -> dict[str, bytes]:
    comparison = compare(one[0], other[0])
    document = comparison_document(comparison, one[1].plates, other[1].plates)
    files = {
        "comparison.html": page_html(document).encode("utf-8"),
        "comparison.txt": plain_text(document.blocks).encode("utf-8"),
        "comparison.md": markdown(document.blocks).encode("utf-8"),
        "comparison.csv": comparison_csv(comparison).encode("utf-8"),
        "comparison.pdf": page_pdf(document, paper),
    }
    return files | {f"other-{picture.file}": picture.data for picture in other[1].photos}


def _sources(gathered: Gathered, name: str) -> dict[str, bytes]:
    """Return the record as it stands in the folder, photos by their bare names, and the sheet beside it."""
    evidence = gathered.evidence
    specimen = evidence.specimen
    photos = tuple(replace(entry, file=bare_name(entry.file)) for entry in specimen.photos)
    sheet = _sheet_file(evidence.sheet) if evidence.sheet is not None else None
    data = specimen_to_json(replace(specimen, photos=photos, sheet=sheet))
    files = {name: (json.dumps(data, ensure_ascii=False, indent=1, allow_nan=False) + "\n").encode("utf-8")}
    if sheet is not None:
        files[sheet] = gathered.sheet_text.encode("utf-8")
    return files


def _sheet_file(sheet: Sheet) -> str:
    # The name is kept: it is the sheet's key, which the verdict names.
    return f"{sheet.key}.toml"
