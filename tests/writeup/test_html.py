"""The HTML page, by a strict HTML parser: valid, whole without a network, and readable aloud."""

import re
import warnings
from collections import Counter
from itertools import pairwise

import pytest

with warnings.catch_warnings():
    warnings.simplefilter("ignore")
    html5lib = pytest.importorskip("html5lib")

SVG, XHTML = "{http://www.w3.org/2000/svg}", "{http://www.w3.org/1999/xhtml}"


@pytest.fixture(scope="session", params=["plain", "world", "many"])
def page(request):
    """Parsed strictly: a parse error of the HTML standard raises."""
    text = request.getfixturevalue(request.param).text("evidence.html")
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        return html5lib.HTMLParser(strict=True).parse(text)


@pytest.mark.slow
def test_headings_form_one_outline(page):
    levels = [
        int(node.tag[-1]) for node in page.iter() if re.fullmatch(rf"{re.escape(XHTML)}h[1-6]", str(node.tag))
    ]
    assert levels.count(1) == 1
    assert levels[0] == 1
    assert all(after - before <= 1 for before, after in pairwise(levels))


def test_every_picture_has_an_alternative_text(page):
    for image in page.iter(f"{XHTML}img"):
        assert len(image.get("alt")) > 10
    for chart in page.iter(f"{SVG}svg"):
        assert chart.get("role") == "img"
        assert re.search(r"\d\s(mm|in|%)", chart.get("aria-label"))


def test_nothing_is_fetched_from_anywhere(page):
    for node in page.iter():
        for name, value in node.attrib.items():
            if str(name).split("}")[-1] in ("src", "href", "data", "action"):
                assert value.startswith(("data:", "#"))
    style = "".join(node.text or "" for node in page.iter(f"{XHTML}style"))
    assert "url(" not in style
    assert "@import" not in style


def test_ids_are_unique_and_references_resolve(page):
    ids = Counter(node.get("id") for node in page.iter() if node.get("id"))
    assert not [name for name, count in ids.items() if count > 1]
    for node in page.iter():
        for name, value in node.attrib.items():
            for wanted in re.findall(r"url\(#([^)]+)\)", value):
                assert wanted in ids
            if str(name).endswith("href"):
                assert value[1:] in ids


def test_tables_have_headers_and_captions(page):
    for table in page.iter(f"{XHTML}table"):
        assert table.find(f"{XHTML}caption") is not None
        assert all(cell.get("scope") == "col" for cell in table.find(f"{XHTML}thead").iter(f"{XHTML}th"))


def test_the_page_names_its_language_and_title(page):
    assert page.get("lang") == "en"
    assert page.find(f"{XHTML}head/{XHTML}title").text.endswith("evidence sheet")


def test_names_are_escaped(world):
    assert "&lt;fair&gt;" in world.text("evidence.html")
    assert "<fair>" not in world.text("evidence.html")


def test_the_page_holds_what_another_person_needs(plain):
    text = plain.text("evidence.html").replace("\u00a0", " ")
    for needed in (
        plain.specimen.photos[0].sha256, "160.1 ± 1.6 mm", "1.96", "Decision rule", "What to check next",
        "Uncertainty budget", "cardspan 0.", "2026-03-31", "14 ± 1.5", "Corners, px", "focal length",
    ):  # fmt: skip
        assert needed in text
