"""The desk as its users meet it: by mouse, keyboard and touch, in Chromium."""

import io
import json
import math
import re
from pathlib import Path
from typing import TYPE_CHECKING, Any

import cv2
import numpy as np
import pytest
from PIL import Image

from measure.demo.samples import samples_folder
from measure.desk.library.samples import read_samples
from measure.length.units import format_mm
from tests.browser.conftest import SCALED, Desk, Visit, started, visit
from tests.desk.waiting import wait_for
from tests.synthetic.from_above import BAR_MM, bar_ends

if TYPE_CHECKING:
    from playwright.sync_api import Browser

pytestmark = pytest.mark.browser
PHONE = {
    "viewport": {"width": 390, "height": 780},
    "device_scale_factor": 2,
    "has_touch": True,
    "is_mobile": True,
}


def mm(at: Visit) -> str:
    return str(at.until("document.getElementById('mm')?.textContent"))


def place_bar(at: Visit, button: str = "Measure a length") -> None:
    at.page.get_by_role("button", name=button).click()
    for point in bar_ends():
        at.page.mouse.click(*at.screen((point[0], point[1])))
    at.until("document.querySelectorAll('.handle.end').length === 2")


def clicks(desk: Desk) -> list[tuple[float, float]]:
    return list(desk.session.specimen.measurements[0].clicks_px)


def shown_as_measured(at: Visit) -> None:
    """The page reads what the core says, to the last printed digit."""
    result = at.desk.session.specimen.measurements[0].result
    reading = at.desk.session.reading("m1")
    assert reading is not None
    assert reading.length is not None
    assert result is not None
    assert reading.length.value_mm == result.length_mm
    at.until(f"document.getElementById('mm')?.textContent === '{format_mm(reading.length).split()[0]}'")


def test_two_clicks_give_the_cores_length_and_a_drag_moves_it(at: Visit, desk: Desk) -> None:
    place_bar(at)
    shown_as_measured(at)
    assert abs(float(mm(at)) - BAR_MM) < 1.5
    before = clicks(desk)
    for given, wanted in zip(before, bar_ends(), strict=True):
        # Points keep their fractions of a pixel: half a device pixel of the mouse is the only loss.
        assert math.dist(given, wanted) < 0.02 / at.scale
    x, y = at.screen(before[1])
    # Taken off its middle: the point must not jump under the pointer.
    at.page.mouse.move(x + 6, y + 4)
    at.page.mouse.down()
    at.page.mouse.move(x + 16.25, y + 4, steps=4)
    assert not at.page.locator("#loupe").is_hidden()
    at.page.mouse.up()
    wait_for(lambda: clicks(desk) != before)
    assert clicks(desk)[1][0] - before[1][0] == pytest.approx(10.25 / at.scale, abs=0.02)
    assert clicks(desk)[1][1] == pytest.approx(before[1][1], abs=1e-6)
    shown_as_measured(at)


def test_undo_takes_the_page_back_and_a_reload_loses_nothing(at: Visit, desk: Desk) -> None:
    place_bar(at)
    read = mm(at)
    at.page.get_by_label("Height above the card, mm").fill("20")
    at.page.get_by_label("Height above the card, mm").press("Enter")
    at.until(f"document.getElementById('mm').textContent !== '{read}'")
    raised = mm(at)
    assert float(raised) < float(read)
    at.page.keyboard.press("Tab")
    at.page.locator("#undo").click()
    at.until(f"document.getElementById('mm').textContent === '{read}'")
    at.page.locator("#redo").click()
    at.until(f"document.getElementById('mm').textContent === '{raised}'")
    at.page.reload()
    at.until(f"document.getElementById('mm')?.textContent === '{raised}'")


def test_the_keyboard_alone_places_and_nudges_points(at: Visit, desk: Desk) -> None:
    keys = at.page.keyboard
    button = at.page.get_by_role("button", name="Measure a length")
    button.focus()
    keys.press("Enter")
    at.until("document.activeElement.id === 'stage'")
    for _ in range(5):
        keys.press("ArrowLeft")
    keys.press("Enter")
    at.until("document.querySelectorAll('.handle.draft').length === 1")
    for _ in range(6):
        keys.press("Shift+ArrowRight")
    keys.press("Enter")
    wait_for(lambda: desk.session.specimen.measurements)
    at.until("document.querySelectorAll('.handle.end').length === 2")
    start = clicks(desk)[0]
    at.page.get_by_role("button", name="First end").focus()
    for key, dx in (("ArrowRight", 1.0), ("Shift+ArrowRight", 11.0), ("Alt+ArrowLeft", 10.9)):
        keys.press(key)
        wait_for(lambda dx=dx: abs(clicks(desk)[0][0] - start[0] - dx) < 1e-6)
    assert clicks(desk)[0][1] == start[1]
    shown_as_measured(at)
    keys.press("Control+z")
    wait_for(lambda: clicks(desk)[0] == start)
    at.page.get_by_role("button", name="Second end").focus()
    keys.press("Delete")
    wait_for(lambda: not desk.session.specimen.measurements)


def test_a_corner_of_the_card_is_dragged_and_pulled_back(at: Visit, desk: Desk) -> None:
    at.page.get_by_role("tab", name="Scale").click()
    at.until("document.querySelectorAll('.handle.corner').length === 4")
    found = desk.session.specimen.photos[0].reference
    assert found is not None
    assert found.corners_px is not None
    x, y = at.screen(found.corners_px[0])
    at.page.mouse.move(x, y)
    at.page.mouse.down()
    at.page.mouse.move(x - 1, y - 0.75, steps=3)
    at.page.mouse.up()
    wait_for(lambda: desk.session.specimen.photos[0].reference is not found)
    at.page.get_by_text("outline set by hand").wait_for()
    at.page.get_by_role("button", name="Move the outline to the edges").click()
    wait_for(lambda: math.dist(_corner(desk), found.corners_px[0]) < 0.3)  # type: ignore[index]


def _corner(desk: Desk) -> tuple[float, float]:
    reference = desk.session.specimen.photos[0].reference
    assert reference is not None
    assert reference.corners_px is not None
    return reference.corners_px[0]


def test_notes_lead_to_a_verdict_and_a_write_up(at: Visit, desk: Desk) -> None:
    place_bar(at, "Width")
    at.page.get_by_role("tab", name="Note").click()
    at.page.get_by_role("group", name="Screws").get_by_role("button", name="5").click()
    at.page.get_by_role("group", name="Axle").get_by_role("button", name="through-rod").click()
    at.page.get_by_role("tab", name="Verdict").click()
    at.page.get_by_text("First release").first.wait_for()
    at.page.get_by_role("img", name=re.compile(r"^Width\. Measured .*First release: 176")).wait_for()
    at.page.get_by_role("tab", name="Keep").click()
    at.page.get_by_role("button", name="Write it up").click()
    with at.page.expect_download() as loading:
        at.page.get_by_role("list", name="Written files").get_by_role("link").first.click(timeout=30000)
    assert loading.value.path().stat().st_size > 0


def test_the_bars_of_the_verdict_follow_it(at: Visit, desk: Desk) -> None:
    note = {"do": "observe", "part": "lifeboat", "feature": "screws"}
    desk.session.handle({**note, "value": 5})
    at.page.get_by_role("tab", name="Verdict").click()
    leading = at.page.locator(".chances li").first
    leading.filter(has_text="First release").wait_for()
    desk.session.handle({**note, "value": 4})
    wait_for(lambda: desk.session.state()["verdict"]["chances"][0]["id"] != "first")
    percent = desk.session.state()["verdict"]["chances"][0]["percent"]
    at.until(f"Math.abs(parseFloat(document.querySelector('.chances i').style.width) - {percent}) < 0.01")


def touch(line: Any, kind: str, *points: tuple[float, float]) -> None:
    spots = [{"x": x, "y": y, "id": number} for number, (x, y) in enumerate(points)]
    line.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": spots})


def test_on_a_phone_fingers_place_drag_and_pinch(browser: "Browser", desk: Desk) -> None:
    at = visit(browser, desk, **PHONE)
    at.until(SCALED)
    assert at.page.evaluate("() => document.documentElement.scrollWidth") == 390
    at.page.get_by_role("button", name="Measure a length").tap()
    for point in bar_ends():
        at.page.touchscreen.tap(*at.screen((point[0], point[1])))
    wait_for(lambda: desk.session.specimen.measurements)
    at.until("document.querySelectorAll('.handle.end').length === 2")
    before, scale = clicks(desk), at.scale
    line = at.page.context.new_cdp_session(at.page)
    x, y = at.screen(before[0])
    touch(line, "touchStart", (x + 8, y))
    touch(line, "touchMove", (x - 2, y - 10))
    touch(line, "touchMove", (x - 12, y))
    assert not at.page.locator("#loupe").is_hidden()
    touch(line, "touchEnd")
    wait_for(lambda: clicks(desk) != before)
    assert clicks(desk)[0][0] - before[0][0] == pytest.approx(-20 / scale, abs=0.02)
    touch(line, "touchStart", (150, 150), (230, 150))
    touch(line, "touchMove", (110, 150), (270, 150))
    touch(line, "touchEnd")
    assert at.scale == pytest.approx(2 * scale, rel=0.02)
    assert at.errors == []
    at.page.context.close()


def test_the_picture_and_the_marks_agree_at_odd_sizes(browser: "Browser", tmp_path: Path) -> None:
    path = tmp_path / "odd.png"
    pixels = np.full((1501, 1999, 3), 40, np.uint8)
    # A spot of 24 pixels a side: its middle lies at 1700 + 11.5 and 1200 + 11.5.
    pixels[1200:1224, 1700:1724] = 255
    cv2.imwrite(str(path), pixels)
    desk = started(tmp_path, path)
    at = visit(browser, desk)
    try:
        wait_for(lambda: desk.session.photo("photo-1"))
        at.until("document.getElementById('looking').hidden && !!document.querySelector('#coach .say')")
        for steps in (0, 3, 5):
            for _ in range(steps):
                at.page.keyboard.press("+")
            at.until(_PAINTED)
            wanted = at.screen((1711.5, 1211.5))
            if not (0 < wanted[0] < 860 and 60 < wanted[1] < 790):
                at.page.evaluate(_REVEAL)
                at.until(_PAINTED)
                wanted = at.screen((1711.5, 1211.5))
            grey = np.asarray(Image.open(io.BytesIO(at.page.screenshot())).convert("L")).astype(float)
            box = grey[int(wanted[1]) - 40 : int(wanted[1]) + 40, int(wanted[0]) - 40 : int(wanted[0]) + 40]
            weight = np.clip(box - 45, 0, None)
            rows, columns = np.indices(weight.shape)
            seen = [float((part * weight).sum() / weight.sum()) for part in (columns, rows)]
            # Screen pixel n covers n to n + 1.
            off = [seen[i] + int(wanted[i]) - 40 + 0.5 - wanted[i] for i in range(2)]
            assert max(map(abs, off)) < max(0.15, 0.08 * at.scale), (steps, off)
    finally:
        at.page.context.close()
        desk.stop()


# Two frames go by, and no tile is waited for any more.
_PAINTED = """new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(done)))
  .then(() => import("/static/desk.js"))
  .then(({ desk }) => !desk.view.tiles.queue.length && !desk.view.tiles.flying.size)"""
_REVEAL = """async () => {
  const { desk } = await import("/static/desk.js");
  desk.view.reveal([1712, 1212], 200);
}"""


def test_a_foreign_name_sees_nothing(browser: "Browser", desk: Desk) -> None:
    port = desk.link.split(":")[2].split("/")[0]
    token = desk.link.split("=")[1]
    page = browser.new_context().new_page()
    for path in ("/", f"/open?t={token}"):
        answer = page.goto(f"http://evil.test:{port}{path}")
        assert answer is not None
        assert answer.status == 421
        assert "link" in page.content()
        assert "canvas" not in page.content()
    page.context.close()


_SURE_OR_NOT = "/[✓≈!]/.exec(document.querySelector('#step-scale small')?.textContent)?.[0]"


def _bow_plate() -> list[tuple[float, float]]:
    """Return the true ends of the bow plate in the first sample photo, from the register."""
    folder = samples_folder()
    assert folder is not None
    register = json.loads((folder / "register.json").read_text("utf-8"))
    return [(x, y) for x, y in register["photos"][0]["spans"][0]["points_px"]]


def test_the_coarse_photo_gives_way_to_its_pieces_in_the_same_place(browser: "Browser", desk: Desk) -> None:
    at = visit(browser, desk)
    try:
        at.until("!document.getElementById('first')")
        laid = at.page.evaluate("""() => {
          const image = document.createElement("img");
          image.id = "first";
          const { width, height } = document.querySelector("#stage").getBoundingClientRect();
          document.querySelector("#stage").append(image);
          const style = getComputedStyle(image);
          return [style.objectFit, parseFloat(style.width) / width, parseFloat(style.height) / height];
        }""")
        # The scripts lay the photo whole and in the middle, at 98 % of what would fill the stage.
        assert laid == ["contain", pytest.approx(0.98, abs=0.002), pytest.approx(0.98, abs=0.002)]
        assert at.errors == []
    finally:
        at.page.context.close()


@pytest.mark.skipif(not read_samples(), reason="the sample photos are not there")
def test_a_newcomer_measures_a_sample_and_reads_the_verdict(browser: "Browser", tmp_path: Path) -> None:
    desk = started(tmp_path, None)
    at = visit(browser, desk)
    try:
        at.page.get_by_role("button", name="Ferry from the harbour sale").click()
        # Where the desk doubts the card, it asks, and the newcomer says yes.
        if at.until(_SURE_OR_NOT, 60) == "!":
            at.page.get_by_role("tab", name="Scale").click()
            at.page.get_by_role("button", name="Use the dotted outline").click()
            at.until(SCALED)
            at.page.get_by_role("tab", name="Measure").click()
        at.page.get_by_role("button", name="Width").click()
        for x, y in _bow_plate():
            at.page.mouse.click(*at.screen((x, y)))
        at.page.get_by_role("tab", name="Verdict").click()
        at.page.get_by_role("heading", name="First release").wait_for(timeout=20000)
        assert at.errors == []
    finally:
        at.page.context.close()
        desk.stop()
