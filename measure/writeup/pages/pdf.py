"""Documents as PDF: selectable text, embedded fonts, vector charts, A4 or Letter pages."""

import logging
import re
from datetime import UTC, datetime
from typing import TYPE_CHECKING

from measure.writeup.draw import fallbacks, plain_font, unset_characters
from measure.writeup.pages.blocks import (
    Block,
    Bullets,
    Chart,
    Document,
    Facts,
    Gallery,
    Heading,
    Paragraph,
    Picture,
    Table,
)
from measure.writeup.pages.pdf_setting import FAMILY, SOFT, set_block

if TYPE_CHECKING:
    from fpdf import FPDF

PAPERS = {"a4": "A4", "letter": "Letter"}
_MARGIN_MM = 16.0
_UNDATED = datetime(2000, 1, 1, tzinfo=UTC)


def page_pdf(document: Document, paper: str = "a4") -> bytes:
    """Return the document as a PDF file.

    Parameters
    ----------
    document : Document
        Its blocks in order.
    paper : str
        "a4" or "letter".

    Returns
    -------
    bytes
        The same bytes for the same document, whenever it is made.
    """
    # The library logs every part of a drawing that it skips; those parts of charts are never visible.
    logging.getLogger("fpdf.svg").setLevel(logging.ERROR)
    logging.getLogger("fpdf.output").setLevel(logging.ERROR)
    pdf = _opened(document, paper)
    blocks = (*document.blocks, *_unset_note(document))
    for place, block in enumerate(blocks):
        set_block(pdf, block, blocks[place + 1 : place + 2])
    data = bytes(pdf.output())
    if not document.date:
        # The library always writes a date; if none is recorded it is blanked, at the same length.
        data = re.sub(rb"/CreationDate \([^)]*\)", lambda found: b" " * len(found[0]), data)
    return data


def _opened(document: Document, paper: str) -> "FPDF":
    from fpdf import FPDF

    class Paged(FPDF):
        """Pages with a footer."""

        def footer(self) -> None:
            """Write the title and the page number."""
            self.set_y(-12.0)
            self.set_font(FAMILY, size=7)
            self.set_text_color(*SOFT)
            wide_mm = self.epw - 30.0
            self.cell(wide_mm, 5.0, _clipped(self, document.title, wide_mm), new_x="RIGHT")
            self.cell(30.0, 5.0, f"Page {self.page_no()} of {{nb}}", align="R")

    pdf = Paged(format=PAPERS[paper])
    pdf.set_margin(_MARGIN_MM)
    pdf.set_auto_page_break(True, margin=_MARGIN_MM + 2.0)
    dated = datetime.fromisoformat(document.date).replace(tzinfo=UTC) if document.date else _UNDATED
    pdf.set_creation_date(dated)
    pdf.set_title(document.title)
    pdf.set_subject(document.subject)
    pdf.set_author(document.program)
    pdf.set_creator(document.program)
    pdf.set_keywords("measurement, uncertainty, release, photograph")
    pdf.set_lang("en")
    _add_fonts(pdf, document)
    pdf.add_page()
    return pdf


def _add_fonts(pdf: "FPDF", document: Document) -> None:
    pdf.add_font(FAMILY, "", plain_font())
    pdf.add_font(FAMILY, "B", plain_font(bold=True))
    names = []
    for number, path in enumerate(fallbacks(words_of(document))[0]):
        name = f"more{number}"
        pdf.add_font(name, "", path)
        names.append(name)
    if names:
        pdf.set_fallback_fonts(names, exact_match=False)
    pdf.set_text_shaping(True)


def _unset_note(document: Document) -> tuple[Block, ...]:
    missing = unset_characters(words_of(document))
    if not missing:
        return ()
    return (Paragraph(f"Characters that no font at hand could set here: {missing}.", "small"),)


def words_of(document: Document) -> str:
    """Return every character that a document sets, to find fonts for."""
    return "".join([document.title, *(_words(block) for block in document.blocks)])


def _words(block: Block) -> str:
    match block:
        case Heading(_, text) | Paragraph(text):
            return text
        case Bullets(items):
            return "".join(items)
        case Facts(pairs):
            return "".join(label + text for label, text in pairs)
        case Table(caption, header, rows):
            return caption + "".join(header) + "".join("".join(row) for row in rows)
        case Picture() | Chart():
            return block.caption
        case Gallery(pictures):
            return "".join(picture.caption for picture in pictures)


def _clipped(pdf: "FPDF", text: str, width_mm: float) -> str:
    while text and pdf.get_string_width(text) > width_mm:
        text = text[:-2].rstrip() + "…"
    return text
