"""Every kind of measurement on the desk, on the sample photos: the numbers are those of the command line."""

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from calibration import locate, read_photo
from measure.demo.samples import read_register, samples_folder
from measure.desk.session.session import Session
from measure.errors import MeasureError
from measure.kinds.terms import Choices, Measured
from measure.length.value import Length
from measure.requests.kind_requests import KindRequest, differences, measure_kind_request
from tests.desk.waiting import wait_for


def _there() -> bool:
    try:
        return samples_folder().is_dir()
    except MeasureError:
        return False


pytestmark = pytest.mark.skipif(not _there(), reason="the sample photos are not there")
# Photo and feature of the register; a gap's two points are those of a span between two edges.
CASES = [
    ("second-rise", "house", "rise"),
    ("first-parts", "tip", "tip"),
    ("first-parts", "house", "span"),
    ("second-parts", "wheel", "round"),
    ("second-parts", "width", "gap"),
]


class Sample:
    """A sample photo on the desk, with what the command line says of the same clicks."""

    def __init__(self, folder: Path, name: str) -> None:
        register = read_register(samples_folder())
        self.facts = next(one for one in register["photos"] if one["id"] == name)
        self.path = samples_folder() / self.facts["file"]
        self.session = Session(folder, folder / "toy.specimen.json")
        self.session.open_path(self.path)
        wait_for(lambda: self.session.specimen.photos and self.session.specimen.photos[0].reference, 60)
        if self.session.state()["photos"][0]["scale"]["question"]:
            kind = self.session.specimen.photos[0].reference.kind
            self.session.handle({"do": "what it is", "photo": "photo-1", "kind": kind})
        self.photo = read_photo(self.path)
        self.location = locate(self.photo)

    def span(self, name: str) -> dict[str, Any]:
        return next(one for one in self.facts["spans"] if one["id"] == name)

    def add(self, span: dict[str, Any], kind: str, **more: Any) -> dict[str, Any]:
        heights = {"standoff_mm": span["standoff_mm"], "standoff_std_mm": span["standoff_std_mm"]}
        ask = {"do": "add", "kind": kind, "photo": "photo-1", "snap": True, "clicks_px": span["clicks_px"]}
        return self.session.handle({**ask, **heights, **more})

    def told(self, span: dict[str, Any], kind: str, **more: Any) -> Measured:
        """Return what the command measures, which finds the card by itself."""
        heights = {"standoff_mm": span["standoff_mm"], "standoff_std_mm": span["standoff_std_mm"]}
        clicks = tuple((x, y) for x, y in span["clicks_px"])
        request = KindRequest(span["name"], kind, clicks, Choices(**heights, **more))
        return measure_kind_request(self.photo, self.location, request)


@pytest.fixture(scope="module")
def samples(tmp_path_factory: pytest.TempPathFactory) -> Iterator[dict[str, Sample]]:
    names = sorted({name for name, _, _ in CASES})
    opened = {name: Sample(tmp_path_factory.mktemp(name), name) for name in names}
    yield opened
    for one in opened.values():
        one.session.close()


@pytest.mark.parametrize(("name", "feature", "kind"), CASES)
@pytest.mark.slow
def test_the_desk_and_the_command_line_say_the_same(
    samples: dict[str, Sample], name: str, feature: str, kind: str
) -> None:
    sample = samples[name]
    span = sample.span(feature)
    key = sample.add(span, kind)["id"]
    entry = next(one for one in sample.session.specimen.measurements if one.id == key)
    found = sample.told(span, kind)
    assert entry.result is not None
    assert isinstance(found.result, Length)
    assert entry.result.length_mm == pytest.approx(found.result.value_mm, rel=1e-9)
    assert entry.result.expanded_uncertainty_mm == pytest.approx(
        found.result.expanded_uncertainty_mm, rel=1e-9
    )
    assert entry.used_px == tuple(pytest.approx(point) for point in found.used_px)


def test_a_difference_is_that_of_the_command_line(samples: dict[str, Sample]) -> None:
    sample = samples["second-parts"]
    first, second = sample.span("width"), sample.span("depth")
    one, other = sample.add(first, "span")["id"], sample.add(second, "span")["id"]
    ask = {"do": "add", "kind": "difference", "photo": "photo-1", "clicks_px": []}
    sample.session.handle({**ask, "of": [other, one], "same_standoff": True})
    result = sample.session.specimen.measurements[-1].result
    requests = [KindRequest(span["name"], "span", (), Choices()) for span in (first, second)]
    measured = [sample.told(span, "span") for span in (first, second)]
    found = differences(requests, measured)[0][-1]
    assert result is not None
    assert result.length_mm == pytest.approx(found.value_mm, rel=1e-9)
    assert result.standard_uncertainty_mm == pytest.approx(found.standard_uncertainty_mm, rel=1e-9)


def test_how_far_the_top_may_lean_is_as_on_the_command_line(samples: dict[str, Sample]) -> None:
    sample = samples["second-rise"]
    span = sample.span("house")
    sample.add(span, "rise", lean_std_mm=4.0)
    result = sample.session.specimen.measurements[-1].result
    found = sample.told(span, "rise", lean_std_mm=4.0).result
    assert result is not None
    assert isinstance(found, Length)
    assert result.standard_uncertainty_mm == pytest.approx(found.standard_uncertainty_mm, rel=1e-9)


def test_a_rounded_corner_is_drawn_through_its_vertex_side(samples: dict[str, Sample]) -> None:
    sample = samples["first-parts"]
    key = sample.add(sample.span("tip"), "tip")["id"]
    reading = sample.session.reading(key)
    assert reading is not None
    (curve,) = reading.curves_px
    clicks = sample.span("tip")["clicks_px"]
    assert curve[0] == pytest.approx(clicks[0], abs=0.01)
    assert curve[-1] == pytest.approx(clicks[-1], abs=0.01)
    # The tip points up in this photo: the arc lies above both sides' nearer points.
    assert min(y for _, y in curve) < min(clicks[1][1], clicks[2][1])


def test_a_radius_that_cannot_be_told_says_why(samples: dict[str, Sample]) -> None:
    sample = samples["first-parts"]
    plain = [[300.0, 2600.0], [340.0, 2600.0], [360.0, 2620.0], [360.0, 2660.0]]
    answer = sample.add({**sample.span("tip"), "clicks_px": plain}, "tip")
    assert answer["error"].startswith("Cannot tell: ")
    assert sample.session.specimen.measurements[-1].result is None
