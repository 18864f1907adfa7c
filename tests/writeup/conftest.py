from dataclasses import dataclass
from pathlib import Path

import pytest

from measure.record.specimen import Specimen
from measure.writeup.evidence_sheet import evidence_sheet
from measure.writeup.gather.gathering import gather
from measure.writeup.pages.html import page_html
from measure.writeup.pages.pdf import page_pdf
from measure.writeup.produce import Options, Product, produce, put
from tests.sharing import made_once
from tests.writeup import scene

# Pillow's and fpdf2's own use of what newer versions of their dependencies deprecate is not ours to mend.
pytestmark = pytest.mark.filterwarnings("default::DeprecationWarning")


@dataclass(frozen=True)
class WrittenUp:
    """A record, its photo and its write-up."""

    record: Path
    photo: Path
    specimen: Specimen
    product: Product

    @property
    def folder(self) -> Path:
        return self.record.parent / "out"

    def text(self, name: str) -> str:
        return (self.folder / name).read_text("utf-8")


def written_up(folder: Path, options: Options, **choices) -> WrittenUp:
    specimen = scene.specimen(folder, **choices)
    record = scene.save(folder, specimen)
    return WrittenUp(record, folder / "ferry.jpg", specimen, produce(record, folder / "out", options))


@pytest.fixture(scope="session")
def plain(tmp_path_factory) -> WrittenUp:
    """A plain write-up: three lengths, four observations, one landscape photo."""
    options = Options(date="2026-03-31")
    return made_once(tmp_path_factory, "write-up-plain", lambda folder: written_up(folder, options))


@pytest.fixture(scope="session")
def world(tmp_path_factory) -> WrittenUp:
    """Names in five alphabets, a portrait photo, inches first, on Letter, the card shown."""
    spans = tuple(
        scene.replace(span, name=name)
        for span, name in zip(scene.SPANS, ("船首板の幅（最大）", "Носовая плита", "גובה הגשר"), strict=True)
    )
    view = scene.View(width_px=900, height_px=1200, focal_px=1090.0, turn_deg=92.0, aim_mm=(95.0, 50.0))
    return made_once(
        tmp_path_factory,
        "write-up-world",
        lambda folder: written_up(
            folder,
            Options(paper="letter", inches_first=True, show_card=True),
            view=view,
            spans=spans,
            name="渡し船 Пароход Fähre",
            note="*Bought* at a <fair> | as seen, № 5",
        ),
    )


@pytest.fixture(scope="session")
def many(tmp_path_factory) -> WrittenUp:
    """Thirty parts with long names and no photo at hand."""
    return made_once(tmp_path_factory, "write-up-many", _many)


def _many(folder: Path) -> WrittenUp:
    specimen = scene.specimen(
        folder, spans=scene.thirty(), observations=(), sheet=None, name="A ferry with a long name " * 8
    )
    record = scene.save(folder, specimen)
    (folder / "ferry.jpg").unlink()
    # The pages alone: what takes long with thirty parts is drawing.
    sheet = evidence_sheet(gather(record).evidence, (), (), ())
    pages = {"evidence.html": page_html(sheet).encode(), "evidence.pdf": page_pdf(sheet)}
    return WrittenUp(record, folder / "ferry.jpg", specimen, Product(put(folder / "out", pages), ()))
