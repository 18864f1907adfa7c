"""The printed page: true size, and found again by its own finder."""

import io
import shutil
import subprocess
from functools import cache

import cv2
import numpy as np
import pypdf
import pytest

from calibration.printed_target.layout import TARGET
from calibration.printed_target.markers import FoundTarget, find_target
from measure.errors import MeasureError
from measure.target_sheet import target_pdf
from tests.synthetic.shapes import photo_of


@cache
def page(paper: str) -> bytes:
    """Draw the page; each paper's once."""
    return target_pdf(paper)


@pytest.mark.parametrize(("paper", "size_mm"), [("a4", (210.0, 297.0)), ("letter", (215.9, 279.4))])
def test_the_page_is_of_the_papers_size(paper, size_mm):
    """ISO 216, and 8.5 x 11 in; a PDF point is 1/72 in (ISO 32000-1, 8.3.2.3)."""
    box = pypdf.PdfReader(io.BytesIO(page(paper))).pages[0].mediabox
    assert [float(box.width) * 25.4 / 72, float(box.height) * 25.4 / 72] == pytest.approx(size_mm, abs=0.01)


def test_the_page_tells_what_to_do():
    text = pypdf.PdfReader(io.BytesIO(page("a4"))).pages[0].extract_text()
    for words in ("100 %", "150 mm", "200 mm", "--printed-mm"):
        assert words in text


def test_the_same_page_is_made_again_byte_for_byte():
    assert target_pdf("letter") == page("letter")


def test_another_paper_is_refused():
    with pytest.raises(MeasureError, match="a4 or letter"):
        target_pdf("a3")


def test_the_rendered_page_holds_every_corner_at_its_drawn_place(tmp_path):
    if shutil.which("pdftoppm") is None:
        pytest.skip("pdftoppm is not installed, so the page can't be rendered")
    (tmp_path / "t.pdf").write_bytes(page("a4"))
    subprocess.run(["pdftoppm", "-r", "254", "-png", "t.pdf", "t"], cwd=tmp_path, check=True)
    found = find_target(photo_of(cv2.imread(str(next(tmp_path.glob("t*.png"))))))
    assert isinstance(found, FoundTarget)
    assert found.seen_share == 1.0
    px_per_mm = 10.0
    spread = found.corners_px - TARGET.corners_mm() * px_per_mm
    assert np.ptp(spread, axis=0).max() < 0.05
