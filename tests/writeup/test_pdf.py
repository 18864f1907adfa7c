"""The PDF, read back with pypdf."""

import io
import re
from functools import cache

import pytest
from pypdf import PdfReader

from measure.writeup.draw.fonts import fallbacks, lacking, plain_font
from measure.writeup.pages.blocks import Document, Heading, Paragraph, Table
from measure.writeup.pages.pdf import page_pdf


@cache
def reader_of(path):
    return PdfReader(path)


def read(work):
    return reader_of(work.folder / "evidence.pdf")


@cache
def texts(reader):
    return tuple(page.extract_text() for page in reader.pages)


def words(reader):
    return " ".join(" ".join(texts(reader)).split())


def fonts(reader):
    found = {}
    for page in reader.pages:
        for font in (page["/Resources"].get("/Font") or {}).values():
            whole = font.get_object()
            for part in whole["/DescendantFonts"]:
                found[whole["/BaseFont"]] = part.get_object()["/FontDescriptor"].get_object()
    return found


def test_metadata_is_filled(plain):
    facts = read(plain).metadata
    assert facts.title == "Ferry from the harbour sale: evidence sheet"
    assert facts.subject == "Saltmarsh Ferry (Tern & Tallow Toy Works)"
    assert facts.creator.startswith("cardspan ")
    assert facts.creation_date.date().isoformat() == "2026-03-31"


def test_no_date_is_made_up(world):
    assert read(world).metadata.creation_date is None


@pytest.mark.parametrize(("name", "size"), [("plain", (595.28, 841.89)), ("world", (612.0, 792.0))])
def test_paper_is_a4_or_letter(request, name, size):
    # ISO 216: 210 x 297 mm; US Letter: 8.5 x 11 in; a point is 1/72 in.
    for page in read(request.getfixturevalue(name)).pages:
        assert tuple(map(float, page.mediabox[2:])) == pytest.approx(size, abs=0.01)


def test_every_font_is_embedded(plain, world):
    for work in (plain, world):
        described = fonts(read(work))
        assert described
        assert all("/FontFile2" in font or "/FontFile3" in font for font in described.values())


def test_text_can_be_selected(plain):
    text = words(read(plain))
    for needed in ("160.1 ± 1.6 mm", "6.303 ± 0.064 in", "Decision rule", plain.specimen.photos[0].sha256):
        assert needed in text


def test_charts_are_drawn_as_vectors(plain):
    images = [image for page in read(plain).pages for image in page.images]
    assert len(images) == 1 + 2  # the photo and two close-ups; charts are none of them


def test_pictures_inside_carry_no_metadata(plain):
    for page in read(plain).pages:
        for image in page.images:
            assert b"Exif" not in image.data
            assert len(image.image.getexif()) == 0


def test_thirty_parts_run_over_pages_with_the_header_repeated(many):
    reader = read(many)
    text = words(reader)
    assert len(reader.pages) >= 4
    assert "number 1, over paint" in text
    assert "number 30, over paint" in text
    assert "No photo is shown" in text
    assert sum("Millimetres" in text for text in texts(reader)) == 2


def test_other_alphabets_are_set(world):
    if fallbacks("渡し船")[1]:
        pytest.skip("no installed font has Chinese and Japanese characters")
    text = words(read(world))
    assert "渡し船" in text
    assert "Пароход" in text


def document(*blocks):
    return Document("Title", "Subject", "cardspan", "", (Heading(1, "Title"), *blocks))


def test_a_character_that_no_font_has_is_named():
    private = "\ue123"  # private use: no font is to have it
    data = page_pdf(document(Paragraph(f"a{private}b")))
    assert "could set here: U+E123" in words(PdfReader(io.BytesIO(data)))


def test_a_word_longer_than_the_page_is_broken():
    data = page_pdf(document(Table("T", ("a", "b"), (("x" * 400, "y"),), (1, 1)), Paragraph("z" * 500)))
    text = re.sub(r"\s", "", words(PdfReader(io.BytesIO(data))))
    assert text.count("x") == 400
    assert text.count("z") == 500


def test_the_same_document_gives_the_same_bytes():
    made = document(Paragraph("Größe 12 ± 3 mm"))
    assert page_pdf(made) == page_pdf(made)


def test_the_plain_font_has_the_latin_greek_and_cyrillic_letters():
    assert not lacking("Größe Ωμέγα Пароход ± − × ° ⌀ ½", plain_font())
