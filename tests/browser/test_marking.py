"""Marking on the photo in Chromium: every kind's points, undo among them, and what else gives the scale."""

import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

from measure.demo.samples import read_register, samples_folder
from measure.desk.library.samples import read_samples
from measure.desk.photos import inspection
from measure.desk.state import Examination
from measure.length.units import format_mm
from measure.length.value import Length
from tests.browser.conftest import SCALED, Visit, started, visit
from tests.desk.waiting import wait_for
from tests.synthetic.from_above import CARD, COIN_PX, SECOND, bar_ends, plain_photo, sources_photo

if TYPE_CHECKING:
    from playwright.sync_api import Browser

pytestmark = pytest.mark.browser
with_samples = pytest.mark.skipif(not read_samples(), reason="the sample photos are not there")


@pytest.fixture
def things(browser: "Browser", tmp_path: Path) -> Iterator[Visit]:
    """A page on a photo with a coin, a rule and the bar, but no card."""
    desk = started(tmp_path, sources_photo(tmp_path / "things.jpg"))
    one = visit(browser, desk)
    one.until("document.querySelector('#step-scale small')?.textContent === '!'", 40)
    one.page.get_by_role("tab", name="Scale").click()
    yield one
    assert one.errors == []
    one.page.context.close()
    desk.stop()


def coach(at: Visit, text: str) -> None:
    at.page.locator("#coach").filter(has_text=text).wait_for()


def mark(at: Visit, *points: Any) -> None:
    """Click points of the photo, each once the page has taken up the one before."""
    for x, y in points:
        at.until("import('/static/desk.js').then(({ desk }) => !desk.placing)")
        at.page.mouse.click(*at.screen((x, y)))
    at.until("import('/static/desk.js').then(({ desk }) => !desk.placing)", 40)


def clicks(at: Visit) -> list[Any]:
    return [list(point) for point in at.desk.session.specimen.measurements[-1].clicks_px]


def shown(at: Visit, length: Length | None) -> None:
    """The page reads what the core says, to the last printed digit."""
    assert length is not None
    at.until(f"document.getElementById('mm')?.textContent === '{format_mm(length).split()[0]}'", 40)


def sample(browser: "Browser", folder: Path, name: str) -> tuple[Visit, dict[str, Any]]:
    facts = next(one for one in read_register(samples_folder())["photos"] if one["id"] == name)
    desk = started(folder, Path(shutil.copy(samples_folder() / facts["file"], folder)))
    at = visit(browser, desk)
    at.until(SCALED, 60)
    if desk.session.state()["photos"][0]["scale"]["question"]:
        # The owner knows what lies there.
        at.page.get_by_role("button", name="Yes:").click()
    return at, facts


@with_samples
def test_a_standing_part_is_measured_from_its_foot_to_its_top(browser: "Browser", tmp_path: Path) -> None:
    at, facts = sample(browser, tmp_path, "second-rise")
    (house,) = facts["spans"]
    at.page.get_by_role("button", name="Height").first.click()
    at.page.get_by_label("Measure it as").select_option("rise")
    coach(at, "Wheelhouse, height, point 1 of 2: click the foot")
    mark(at, house["clicks_px"][0])
    coach(at, "point 2 of 2: click the top")
    mark(at, house["clicks_px"][1])
    wait_for(lambda: at.desk.session.specimen.measurements)
    reading = at.desk.session.reading("m1")
    assert reading is not None
    shown(at, reading.length)
    assert reading.length is not None
    assert abs(reading.length.value_mm - house["true_mm"]) < reading.length.expanded_uncertainty_mm
    assert at.errors == []
    at.page.context.close()
    at.desk.stop()


@with_samples
def test_a_rounded_tip_is_measured_and_its_rounding_drawn(browser: "Browser", tmp_path: Path) -> None:
    at, facts = sample(browser, tmp_path, "first-parts")
    tip = next(one for one in facts["spans"] if one["id"] == "tip")
    at.page.get_by_role("button", name="Tip radius").click()
    coach(at, "point 1 of 4: click the straight side before the corner")
    mark(at, *tip["clicks_px"])
    wait_for(lambda: at.desk.session.specimen.measurements, 60)
    reading = at.desk.session.reading("m1")
    assert reading is not None
    shown(at, reading.length)
    drawn = "document.querySelector('#lines polyline.over.chosen')?.points.numberOfItems"
    assert at.until(drawn) == len(reading.curves_px[0])
    assert at.errors == []
    at.page.context.close()
    at.desk.stop()


def test_undo_while_marking_takes_back_the_last_point(at: Visit) -> None:
    at.page.get_by_label("Kind of measurement").select_option("gap")
    at.page.get_by_role("button", name="Measure a distance between edges").click()
    mark(at, (300, 610), (300, 670))
    coach(at, "Point 3 of 4")
    at.page.keyboard.press("Control+z")
    coach(at, "Point 2 of 4")
    at.page.locator("#redo").click()
    coach(at, "Point 3 of 4")
    assert at.desk.session.specimen.measurements == ()


def test_undo_after_the_least_points_of_a_circle_goes_on_marking(at: Visit) -> None:
    at.page.get_by_label("Kind of measurement").select_option("round")
    at.page.get_by_role("button", name="Measure a diameter").click()
    mark(at, (300, 300), (400, 200), (500, 300))
    wait_for(lambda: at.desk.session.specimen.measurements)
    coach(at, "or press Done")
    at.page.locator("#undo").click()
    wait_for(lambda: not at.desk.session.specimen.measurements)
    coach(at, "a third point on the rim")
    mark(at, (500, 310))
    wait_for(lambda: at.desk.session.specimen.measurements)
    assert len(clicks(at)) == 3


def test_the_keyboard_places_every_point_of_a_gap(at: Visit) -> None:
    at.page.get_by_label("Kind of measurement").select_option("gap")
    at.page.get_by_role("button", name="Measure a distance between edges").focus()
    keys = at.page.keyboard
    keys.press("Enter")
    at.until("document.activeElement.id === 'stage'")
    for number, step in enumerate(("Shift+ArrowLeft", "Shift+ArrowDown", "Shift+ArrowRight", "ArrowUp")):
        for _ in range(3):
            keys.press(step)
        coach(at, f"Point {number + 1} of 4: press Enter at")
        keys.press("Enter")
        if number < 3:
            coach(at, f"Point {number + 2} of 4")
    wait_for(lambda: at.desk.session.specimen.measurements)
    assert len({tuple(point) for point in clicks(at)}) == 4


def test_one_point_on_each_edge_is_enough_where_the_edges_are_clear(at: Visit) -> None:
    at.page.get_by_label("Kind of measurement").select_option("gap-2")
    at.page.get_by_role("button", name="Measure a distance between edges").click()
    mark(at, *bar_ends())
    wait_for(lambda: at.desk.session.specimen.measurements)
    reading = at.desk.session.reading("m1")
    assert reading is not None
    assert reading.snapped
    shown(at, reading.length)


def test_two_lengths_are_subtracted(at: Visit) -> None:
    for ends in (bar_ends(), [(299.5, 639.5), (600.0, 639.5)]):
        at.page.get_by_label("Kind of measurement").select_option("span")
        at.page.get_by_role("button", name="Measure a length").click()
        mark(at, *ends)
    wait_for(lambda: len(at.desk.session.specimen.measurements) == 2)
    at.page.get_by_label("Kind of measurement").select_option("difference")
    at.page.get_by_role("button", name="Subtract").click()
    wait_for(lambda: len(at.desk.session.specimen.measurements) == 3)
    reading = at.desk.session.reading("m3")
    assert reading is not None
    shown(at, reading.length)


def test_a_coin_gives_the_scale_and_outlives_a_reload(things: Visit) -> None:
    page = things.page
    page.get_by_label("What gives the scale?").select_option("coin")
    page.get_by_label("Which coin").select_option("us-quarter")
    page.get_by_role("button", name="Mark the coin").click()
    coach(things, "US quarter: click the middle of the coin")
    mark(things, COIN_PX)
    page.get_by_role("heading", name="US quarter").wait_for()
    assert "comes out to about ±" in page.locator("#scale-gives").inner_text()
    page.reload()
    page.get_by_role("heading", name="US quarter").wait_for()
    page.get_by_role("button", name="Leave out: US quarter").click()
    page.get_by_role("heading", name="Nothing of known size yet").wait_for()
    page.locator("#undo").click()
    page.get_by_role("heading", name="US quarter").wait_for()


def test_a_length_given_as_a_fraction_of_an_inch_gives_the_scale(things: Visit) -> None:
    page = things.page
    page.get_by_label("What gives the scale?").select_option("length")
    page.get_by_label("How long it is").fill("3 15/16 in")
    page.get_by_label("give or take").fill("1/32 in")
    page.get_by_role("button", name="Mark its two ends").click()
    mark(things, *bar_ends())
    page.get_by_role("heading", name="Known length of 100").wait_for()


def test_what_is_not_there_is_told_and_the_other_points_stay(things: Visit) -> None:
    page = things.page
    page.get_by_label("What gives the scale?").select_option("rule")
    page.get_by_role("button", name="Mark a line along it").click()
    mark(things, (850, 200), (1100, 210))
    page.get_by_role("alert").filter(has_text="graduations").wait_for()
    coach(things, "Rule, point 2 of 2")


def test_a_doubtful_outline_is_shown_and_taken_at_a_word(
    browser: "Browser", tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    x0, y0, x1, y1 = (float(v) for v in CARD)
    outline = ((x0 + 1.0, y0), (x1, y0 + 1.0), (x1 - 1.0, y1), (x0, y1))
    doubt = Examination(reason="The outline is doubtful.", suggested_px=outline)
    monkeypatch.setattr(inspection, "examine", lambda *_: doubt)
    desk = started(tmp_path, plain_photo(tmp_path / "plain.jpg"))
    at = visit(browser, desk)
    coach(at, "Is the dotted outline the card?")
    assert at.page.locator("#lines .loose.over").count() == 1
    at.page.get_by_role("tab", name="Scale").click()
    at.page.get_by_role("button", name="Use the dotted outline").click()
    at.page.get_by_role("heading", name="Bank card, outline set by hand").wait_for()
    assert at.errors == []
    at.page.context.close()
    desk.stop()


def test_a_second_card_joins_the_first(browser: "Browser", tmp_path: Path) -> None:
    desk = started(tmp_path, sources_photo(tmp_path / "cards.jpg", cards=2))
    at = visit(browser, desk)
    at.until(SCALED, 40)
    at.page.get_by_role("tab", name="Scale").click()
    at.page.get_by_text("For more exact results").click()
    at.page.get_by_role("button", name="Add a second card").click()
    found = desk.session.specimen.photos[0].reference
    assert found is not None
    assert found.corners_px is not None
    left_found = min(x for x, _ in found.corners_px) < SECOND[0] - 50
    x0, y0, x1, y1 = SECOND if left_found else CARD
    mark(at, (x0, y0), (x1, y0), (x1, y1), (x0, y1))
    wait_for(lambda: desk.session.specimen.photos[0].also)
    at.page.get_by_role("list", name="What is in use").get_by_role("listitem").nth(1).wait_for()
    assert at.errors == []
    at.page.context.close()
    desk.stop()
