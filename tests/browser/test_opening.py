"""Photos brought to the page in Chromium: every format that is promised, and damaged ones."""

import re
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import pillow_heif
import pytest
from PIL import Image

from tests.browser.conftest import SCALED, Visit, started, visit
from tests.synthetic.from_above import left_over, plain_photo

if TYPE_CHECKING:
    from playwright.sync_api import Browser

pytestmark = pytest.mark.browser


@pytest.fixture
def start(browser: "Browser", tmp_path: Path) -> Iterator[Visit]:
    """The first page of an empty desk."""
    desk = started(tmp_path / "desk", None)
    one = visit(browser, desk)
    one.until("document.querySelector('#start h2')")
    yield one
    one.page.context.close()
    desk.stop()


def photo_as(folder: Path, ending: str) -> Path:
    pillow_heif.register_heif_opener()
    path = folder / f"brought.{ending}"
    with Image.open(plain_photo(folder / "plain.jpg")) as photo:
        # HEIC alone takes the second setting, which makes it in a fifth of the time.
        photo.save(path, quality=92, enc_params={"preset": "ultrafast"})
    return path


def said(at: Visit) -> str:
    return at.page.locator("body").inner_text()


@pytest.mark.parametrize("ending", ["jpg", "png", "webp", "tif", "heic"])
def test_a_photo_of_each_format_is_opened_and_its_card_found(
    start: Visit, tmp_path: Path, ending: str
) -> None:
    start.page.set_input_files("#file", photo_as(tmp_path, ending))
    start.until(SCALED)
    assert start.desk.session.specimen.photos[0].file == f"brought.{ending}"
    assert "damaged" not in said(start)
    assert start.errors == []


def test_a_damaged_png_is_refused_in_words(start: Visit, tmp_path: Path) -> None:
    path = photo_as(tmp_path, "png")
    data = bytearray(path.read_bytes())
    data[len(data) // 2] ^= 1
    path.write_bytes(data)
    start.page.set_input_files("#file", path)
    start.until("document.body.innerText.includes('the photo is damaged')")
    assert re.search(r"brought\.png: the photo is damaged .*IDAT", said(start))
    assert start.desk.session.specimen.photos == ()


def test_what_is_damaged_about_a_photo_stands_beside_it(start: Visit, tmp_path: Path) -> None:
    path = photo_as(tmp_path, "jpg")
    path.write_bytes(left_over(path.read_bytes()))
    start.page.set_input_files("#file", path)
    start.until(SCALED)
    for step in ("photo", "scale"):
        start.page.locator(f"#step-{step}").click()
        start.until("document.getElementById('panel').innerText.includes('file is damaged')")


def test_a_fault_of_the_program_is_told_on_the_page(
    start: Visit, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def broken(*args: object) -> None:
        raise KeyError("MPO")

    monkeypatch.setattr("measure.desk.effects.photo_store.quick_look", broken)
    start.page.set_input_files("#file", photo_as(tmp_path, "jpg"))
    start.until("document.body.innerText.includes('failed by a fault of the program')")
