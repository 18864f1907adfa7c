"""Several specimens at once: a folder for each, a contact sheet and tables over all of them."""

import io
from collections.abc import Callable
from pathlib import Path

from PIL import Image

from measure.errors import MeasureError
from measure.files import utf8_name
from measure.writeup.draw import jpeg
from measure.writeup.gather import Evidence, words
from measure.writeup.pages import (
    Block,
    Document,
    Gallery,
    Heading,
    Paragraph,
    Picture,
    Table,
    page_html,
    page_pdf,
)
from measure.writeup.produce import Built, Options, Product, build, put
from measure.writeup.tables import findings_csv, specimens_csv

_THUMBNAIL_PX = 800
_SUFFIX = ".specimen.json"


def records_in(paths: tuple[Path, ...]) -> tuple[Path, ...]:
    """Return the records given, and those in the folders given.

    Parameters
    ----------
    paths : tuple of Path
        Files and folders.

    Returns
    -------
    tuple of Path
        Each once, those of a folder in alphabetical order.

    Raises
    ------
    MeasureError
        A folder holds none, or there is no such file.
    """
    records: list[Path] = []
    for path in paths:
        if path.is_dir():
            inside = sorted(path.glob(f"*{_SUFFIX}"))
            if not inside:
                raise MeasureError(f"{path}: no specimen record (*{_SUFFIX}) in this folder")
            records += inside
        elif path.is_file():
            records.append(path)
        else:
            raise MeasureError(
                f"{path}: no such file; give a specimen record (*{_SUFFIX}) or a folder of them"
            )
    return tuple(dict.fromkeys(records))


def produce_several(
    records: tuple[Path, ...], out: Path, options: Options, tell: Callable[[str], None] = lambda _: None
) -> Product:
    """Write several specimens up, each in a folder of its own, with a contact sheet and tables over all.

    Parameters
    ----------
    records : tuple of Path
        The records.
    out : Path
        The folder to write to.
    options : Options
        For all of them.
    tell : callable
        Is told the name of each record as it is begun.

    Returns
    -------
    Product
        All files written, and the warnings, each after the name of the folder that it is about.

    Raises
    ------
    MeasureError, SheetError, CalibrationError
        A record can't be used; those before it are written.
    """
    written: list[Path] = []
    warnings: list[str] = []
    entries: list[tuple[Evidence, str, str]] = []
    thumbnails: list[Picture] = []
    for record, name in zip(records, _folders(records), strict=True):
        tell(record.name)
        built = build(record, options)
        written += put(out / name, built.files)
        warnings += [f"{name}: {text}" for text in built.warnings]
        entries.append((built.evidence, utf8_name(record.name), name))
        thumbnails += _thumbnail(built, name)
    document = contact_document(tuple(entries), tuple(thumbnails))
    findings = findings_csv(tuple(evidence for evidence, _, _ in entries))
    files = {
        "contact-sheet.html": page_html(document).encode("utf-8"),
        "contact-sheet.pdf": page_pdf(document, options.paper),
        "specimens.csv": specimens_csv(tuple(entries)).encode("utf-8"),
        "findings.csv": findings.encode("utf-8"),
    }
    return Product((*written, *put(out, files)), tuple(warnings))


def _folders(records: tuple[Path, ...]) -> list[str]:
    names: list[str] = []
    for record in records:
        stem = utf8_name(record.name).removesuffix(".json").removesuffix(".specimen") or "specimen"
        name, number = stem, 2
        while name.casefold() in {other.casefold() for other in names}:
            name, number = f"{stem}-{number}", number + 1
        names.append(name)
    return names


def _thumbnail(built: Built, name: str) -> list[Picture]:
    if not built.drawn.plates:
        return []
    first = built.drawn.plates[0]
    with Image.open(io.BytesIO(first.data)) as image:
        image.thumbnail((_THUMBNAIL_PX, _THUMBNAIL_PX), Image.Resampling.LANCZOS)
        data, size = jpeg(image), image.size
    caption = f"{built.evidence.title}: {words.headline(built.evidence)}"
    return [Picture(f"{name}/{first.file}", data, size, first.alt, caption, 86.0)]


def contact_document(
    entries: tuple[tuple[Evidence, str, str], ...], thumbnails: tuple[Picture, ...]
) -> Document:
    """Arrange the contact sheet."""
    rows = tuple(
        (
            evidence.title,
            words.headline(evidence),
            str(sum(item.result is not None for item in evidence.items)),
            folder,
        )
        for evidence, _, folder in entries
    )
    first = entries[0][0]
    blocks: list[Block] = [
        Heading(1, f"{len(entries)} specimens"),
        Paragraph(words.CAUTION, "caution"),
        Table("Specimens", ("Specimen", "Result", "Lengths", "Folder"), rows, (2.0, 4.0, 0.9, 1.6), (2,)),
    ]
    if thumbnails:
        blocks += [Heading(2, "Photos"), Gallery(thumbnails)]
    without = [evidence.title for evidence, _, _ in entries if not any(p.photo for p in evidence.photos)]
    if without:
        blocks.append(Paragraph(f"No photo at hand: {'; '.join(without)}."))
    date = max(evidence.date for evidence, _, _ in entries)
    return Document(f"{len(entries)} specimens", "Contact sheet", first.program, date, tuple(blocks))
