"""What else than a card gives the scale on the desk, and that its numbers are the commands'."""

import json
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner

from calibration.errors import CalibrationError
from calibration.lens_profiles.profile import Profile
from measure.cameras.store import save_profile
from measure.commands.span import command
from measure.desk.photos import inspection
from measure.desk.session.session import Session
from measure.desk.state import Examination
from measure.errors import MeasureError
from tests.desk.waiting import wait_for
from tests.synthetic.from_above import (
    BAR_MM,
    CARD,
    COIN_MM,
    COIN_PX,
    PX_PER_MM,
    RULE,
    SECOND,
    TARGET_BAR_ENDS,
    bar_ends,
    sources_photo,
    target_photo,
)

REFUSALS = (CalibrationError, MeasureError)
RULE_ENDS = [[RULE[0] + 11.7, RULE[1] - 9.0], [RULE[2] - 8.6, RULE[1] - 9.0]]
COIN = [COIN_PX[0] + 9.0, COIN_PX[1] - 5.0]


def rectangle(box: tuple[int, int, int, int]) -> list[list[float]]:
    x0, y0, x1, y1 = (v - 0.5 for v in box)
    return [[x0, y0], [x1, y0], [x1, y1], [x0, y1]]


@pytest.fixture(scope="module")
def photos(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("photos")
    sources_photo(folder / "things.jpg")
    sources_photo(folder / "cards.jpg", cards=2)
    target_photo(folder / "target.jpg")
    return folder


# A lens that bends a little, as learning a camera would describe it.
BENT = (-0.05, 0.01, 0.0, 0.0, 0.0)
LENS = Profile(1200, 900, 1400.0, 5.0, (599.5, 449.5), 3.0, BENT, 0.002, "polynomial", 0.2, 0.25, ())
Opener = Callable[[str], Session]


@pytest.fixture
def open_desk(tmp_path: Path, photos: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Opener]:
    """Opens desks on one of the photos and closes them at the end."""
    desks = []

    def opened(name: str) -> Session:
        if name != "target.jpg":  # what is marked by hand needs no search, which takes a second
            monkeypatch.setattr(inspection, "examine", lambda *_: Examination(reason="not looked for"))
        photo = tmp_path / name
        if not photo.exists():
            photo.write_bytes((photos / name).read_bytes())
        one = Session(tmp_path, tmp_path / "toy.specimen.json", "saltmarsh-ferry")
        desks.append(one)
        one.open_path(photo)
        wait_for(lambda: one.photo("photo-1") is not None)
        wait_for(lambda: any(one.state()["photos"][0][key] for key in ("why", "scale")))
        return one

    yield opened
    for one in desks:
        one.close()


def add(session: Session, marks: list[list[float]], **source: Any) -> dict[str, Any]:
    ask = {"do": "add source", "photo": "photo-1", "source": source, "marks_px": marks}
    return session.handle(ask)


def bar(session: Session, ends: list[list[float]] | None = None) -> Any:
    """Return the result of the bar's length, measured now."""
    how = {"kind": "span", "photo": "photo-1", "snap": True, "standoff_std_mm": 0.5}
    session.handle({"do": "add", "clicks_px": ends or bar_ends(), **how})
    return session.specimen.measurements[-1].result


def shown(session: Session) -> dict[str, Any]:
    scale: dict[str, Any] = session.state()["photos"][0]["scale"]
    return scale


SOURCES = {
    "coin": ({"kind": "coin", "object": "us-quarter"}, [COIN], "us-quarter"),
    "coin by its rim": (
        {"kind": "coin", "object": "us-quarter"},
        [[COIN_PX[0] + COIN_MM * PX_PER_MM / 2 * x, COIN_PX[1] + COIN_MM * PX_PER_MM / 2 * y] for x, y in
         ((1.0, 0.0), (-0.5, 0.866), (-0.5, -0.866))],
        "us-quarter",
    ),
    "rule": ({"kind": "rule", "object": "rule-mm"}, RULE_ENDS, "rule-mm"),
    "length": ({"kind": "length", "length": "100 mm", "std": "0.4 mm"}, bar_ends(), "length=100±0.4"),
    "feature": (
        {"kind": "feature", "part": "paddle-wheel", "feature": "diameter"},
        [[300.0, 300.0], [610.0, 300.0]],
        "feature=paddle-wheel/diameter",
    ),
}  # fmt: skip


@pytest.mark.parametrize("name", SOURCES)
def test_a_source_gives_the_length_that_the_command_line_gives(open_desk: Opener, name: str) -> None:
    source, marks, key = SOURCES[name]
    session = open_desk("things.jpg")
    add(session, marks, **source)
    result = bar(session)
    found = told(session, "things.jpg", "--object", key, "--at", points(marks), "--sheet", "saltmarsh-ferry")
    assert result.length_mm == pytest.approx(found["length_mm"], rel=1e-7)
    assert result.expanded_uncertainty_mm == pytest.approx(found["expanded_uncertainty_mm"], rel=1e-6)


def points(marks: list[list[float]]) -> str:
    return " ".join(f"{x!r},{y!r}" for x, y in marks)


def told(
    session: Session, photo: str, *options: str, ends: list[list[float]] | None = None
) -> dict[str, Any]:
    assert session.record is not None
    arguments = [
        str(session.record.parent / photo),
        points(ends or bar_ends()),
        "--standoff-std-mm",
        "0.5",
        "--json",
    ]
    done = CliRunner().invoke(command, [*arguments, *options])
    assert done.exit_code == 0, done.output
    span: dict[str, Any] = json.loads(done.stdout)["spans"][0]
    return span


@pytest.mark.parametrize("name", ["coin", "rule", "length"])
def test_the_bars_interval_holds_its_true_length(open_desk: Opener, name: str) -> None:
    source, marks, _ = SOURCES[name]
    session = open_desk("things.jpg")
    add(session, marks, **source)
    result = bar(session)
    assert abs(result.length_mm - BAR_MM) < result.expanded_uncertainty_mm


def test_a_weak_source_shows_how_rough_it_is(open_desk: Opener) -> None:
    session = open_desk("things.jpg")
    add(session, [COIN], kind="coin", object="us-quarter")
    assert shown(session)["headline"] == "US quarter"
    assert "100 mm comes out to about ± " in shown(session)["gives"]
    assert any("which side is nearer" in text for text in session.state()["photos"][0]["cautions"])


def test_an_inch_fraction_is_read_as_a_length(open_desk: Opener) -> None:
    session = open_desk("things.jpg")
    add(session, bar_ends(), kind="length", length="3 15/16 in", std="1/32 in")
    source = session.specimen.photos[0].sources[0]
    assert source.length_mm == pytest.approx(3.9375 * 25.4)
    assert source.length_std_mm == pytest.approx(25.4 / 32)


@pytest.fixture
def two(open_desk: Opener) -> Session:
    """A desk where a rough length and a rule give the scale together."""
    session = open_desk("things.jpg")
    add(session, bar_ends(), kind="length", length="100 mm", std="3 mm")
    add(session, RULE_ENDS, kind="rule", object="rule-mm")
    return session


def test_of_two_sources_each_tells_what_it_gives_alone(two: Session) -> None:
    items = shown(two)["items"]
    assert [one["role"] for one in items] == ["gives the scale together with the others"] * 2
    assert all("100 mm" in one["alone"] for one in items)


def test_a_rule_makes_up_for_a_rough_length(two: Session) -> None:
    both = bar(two)
    two.handle({"do": "leave out", "photo": "photo-1", "what": "source", "number": 1})
    assert both.expanded_uncertainty_mm < 0.8 * bar(two).expanded_uncertainty_mm


def test_heights_can_be_counted_from_another_source(two: Session) -> None:
    both = bar(two)
    two.handle({"do": "prefer source", "photo": "photo-1", "number": 1})
    assert [one.kind for one in two.specimen.photos[0].sources] == ["rule", "length"]
    assert bar(two).length_mm == pytest.approx(both.length_mm, abs=0.3 * both.standard_uncertainty_mm)


def test_the_nearer_side_of_a_coin_narrows_its_tilt(open_desk: Opener) -> None:
    session = open_desk("things.jpg")
    add(session, [COIN], kind="coin", object="us-quarter")
    session.handle({"do": "nearer side", "photo": "photo-1", "number": 0, "nearer_px": [420.0, 310.0]})
    assert session.specimen.photos[0].sources[0].nearer_px == (420.0, 310.0)
    assert shown(session)["items"][0]["nearer"]


def test_a_source_is_left_out_and_undo_brings_it_back(open_desk: Opener) -> None:
    session = open_desk("things.jpg")
    add(session, [COIN], kind="coin", object="us-quarter")
    session.handle({"do": "leave out", "photo": "photo-1", "what": "source", "number": 0})
    assert shown(session) is None
    session.handle({"do": "undo"})
    assert shown(session)["headline"] == "US quarter"


def test_a_source_survives_in_the_record(open_desk: Opener, tmp_path: Path) -> None:
    session = open_desk("things.jpg")
    add(session, RULE_ENDS, kind="rule", object="rule-mm")
    before = bar(session)
    wait_for(lambda: session.saved)
    again = Session(tmp_path, tmp_path / "toy.specimen.json")
    try:
        wait_for(lambda: again.photo("photo-1") is not None and again.reading("m1"))
        assert shown(again) == shown(session)
        assert again.specimen.measurements[0].result == before
    finally:
        again.close()


def test_a_coin_where_there_is_none_is_refused_and_changes_nothing(open_desk: Opener) -> None:
    session = open_desk("things.jpg")
    before = session.specimen
    with pytest.raises(REFUSALS, match="rim"):
        add(session, [[1000.0, 300.0]], kind="coin", object="us-quarter")
    assert session.specimen is before


@pytest.mark.parametrize(
    "source",
    [
        {},
        {"kind": "coin", "object": "uk-50p"},
        {"kind": "coin", "object": "../x"},
        {"kind": "rule", "object": "rule-7"},
        {"kind": "length", "length": "long"},
        {"kind": "length", "length": "-5 mm"},
        {"kind": "feature", "part": "bow-plate", "feature": "width"},
        {"kind": "spoon"},
    ],
)
def test_a_source_that_makes_no_sense_is_refused(open_desk: Opener, source: dict[str, Any]) -> None:
    session = open_desk("things.jpg")
    before = session.specimen
    with pytest.raises(REFUSALS):
        add(session, bar_ends(), **source)
    assert session.specimen is before


@pytest.mark.slow
def test_the_printed_target_is_found_by_itself_and_takes_its_printed_size(open_desk: Opener) -> None:
    session = open_desk("target.jpg")
    wait_for(lambda: shown(session))
    assert shown(session)["kind"] == "target"
    ends = TARGET_BAR_ENDS
    assert abs(bar(session, ends).length_mm - BAR_MM) < 0.5
    session.handle({"do": "printed lengths", "photo": "photo-1", "printed": ["153 mm", "204 mm"]})
    found = told(session, "target.jpg", "--printed-mm", "153x204", ends=ends)
    assert bar(session, ends).length_mm == pytest.approx(found["length_mm"], rel=1e-7)
    assert bar(session, ends).length_mm == pytest.approx(1.02 * BAR_MM, rel=2e-3)


def test_a_second_card_makes_lengths_closer(open_desk: Opener) -> None:
    session = open_desk("cards.jpg")
    session.handle({"do": "corners", "photo": "photo-1", "corners_px": rectangle(CARD), "fit": True})
    alone = bar(session)
    ask = {"do": "second card", "photo": "photo-1", "kind": "id1", "corners_px": rectangle(SECOND)}
    session.handle(ask)
    both = bar(session)
    assert both.expanded_uncertainty_mm < alone.expanded_uncertainty_mm
    corners = {name: points(rectangle(box)) for name, box in (("one", CARD), ("two", SECOND))}
    found = told(session, "cards.jpg", "--corners", corners["one"], "--object", "id1", "--also",
                 f"id1 {corners['two']}")  # fmt: skip
    assert both.length_mm == pytest.approx(found["length_mm"], rel=1e-7)


def test_without_the_first_card_the_second_gives_the_scale(open_desk: Opener) -> None:
    session = open_desk("cards.jpg")
    session.handle({"do": "corners", "photo": "photo-1", "corners_px": rectangle(CARD), "fit": True})
    ask = {"do": "second card", "photo": "photo-1", "kind": "id1", "corners_px": rectangle(SECOND)}
    session.handle(ask)
    session.handle({"do": "leave out", "photo": "photo-1", "what": "card"})
    shot = session.specimen.photos[0]
    assert shot.also == ()
    assert shot.reference is not None
    assert shot.reference.corners_px is not None
    assert shot.reference.corners_px[0][0] == pytest.approx(SECOND[0] - 0.5, abs=1.0)


def test_a_straight_edge_tells_the_lens_as_on_the_command_line(open_desk: Opener) -> None:
    session = open_desk("cards.jpg")
    session.handle({"do": "corners", "photo": "photo-1", "corners_px": rectangle(CARD), "fit": True})
    edge = [[300.0, 599.5], [550.0, 599.5], [799.0, 599.5]]
    session.handle({"do": "add straight", "photo": "photo-1", "points_px": edge})
    found = told(session, "cards.jpg", "--corners", points(rectangle(CARD)), "--object", "id1", "--straight",
                 points(edge))  # fmt: skip
    result = bar(session)
    assert result.length_mm == pytest.approx(found["length_mm"], rel=1e-7)
    assert result.expanded_uncertainty_mm == pytest.approx(found["expanded_uncertainty_mm"], rel=1e-6)
    session.handle({"do": "leave out", "photo": "photo-1", "what": "straight", "number": 0})
    assert session.specimen.photos[0].straight_px == ()


def test_two_points_are_no_straight_edge(open_desk: Opener) -> None:
    session = open_desk("cards.jpg")
    with pytest.raises(REFUSALS, match="three"):
        session.handle({"do": "add straight", "photo": "photo-1", "points_px": bar_ends()})


def test_a_camera_profile_is_shown_used_and_left_out(
    open_desk: Opener, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("CARDSPAN_DATA", str(tmp_path / "data"))
    save_profile("my camera", LENS)
    session = open_desk("cards.jpg")
    corners = {"do": "corners", "photo": "photo-1", "corners_px": rectangle(CARD), "fit": True}
    session.handle(corners)
    plain = bar(session)
    assert session.state()["photos"][0]["camera"]["profiles"] == ["my camera"]
    session.handle({"do": "camera", "photo": "photo-1", "profile": "my camera"})
    session.handle(corners)
    assert session.state()["photos"][0]["camera"]["words"] == "calibrated: my camera"
    found = told(session, "cards.jpg", "--corners", points(rectangle(CARD)), "--camera", "my camera")
    assert bar(session).length_mm == pytest.approx(found["length_mm"], rel=1e-7)
    session.handle({"do": "camera", "photo": "photo-1", "profile": None})
    assert session.specimen.photos[0].profile is None
    assert bar(session).length_mm == pytest.approx(plain.length_mm, abs=0.02)


def test_an_unknown_camera_profile_is_refused(open_desk: Opener, tmp_path: Path) -> None:
    session = open_desk("cards.jpg")
    before = session.specimen
    with pytest.raises(REFUSALS, match="no camera profile"):
        session.handle({"do": "camera", "photo": "photo-1", "profile": "nobody's"})
    assert session.specimen is before
