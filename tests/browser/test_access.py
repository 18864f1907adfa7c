"""The desk for those who can't see, point or read small: names, live regions, focus, contrast, reflow."""

import re
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

from tests.browser.conftest import SCALED, Desk, Visit, started, visit
from tests.desk.waiting import wait_for
from tests.synthetic.from_above import bar_ends, plain_photo

if TYPE_CHECKING:
    from playwright.sync_api import Browser

pytestmark = pytest.mark.browser
STEPS = ("Photo", "Scale", "Measure", "Note", "Verdict", "Keep")
# What can be pressed, typed in or chosen, by its role in Chromium's accessibility tree.
CONTROLS = {
    "button", "checkbox", "combobox", "textbox", "spinbutton", "link", "tab", "DisclosureTriangle",
    "application", "menuitem", "listbox", "slider", "radio",
}  # fmt: skip


@pytest.fixture
def at(browser: "Browser", desk: Desk) -> Iterator[Visit]:
    """A page on a desk with nothing measured yet."""
    one = opened(browser, desk)
    yield one
    assert one.errors == []
    one.page.context.close()


@pytest.fixture(scope="module")
def full(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Desk]:
    """A desk with a length and notes, for tests that only look."""
    folder = tmp_path_factory.mktemp("full")
    one = started(folder, plain_photo(folder / "plain.jpg"))
    wait_for(lambda: one.session.specimen.photos and one.session.specimen.photos[0].reference)
    measured(one)
    yield one
    one.stop()


@pytest.fixture
def looked(browser: "Browser", full: Desk) -> Iterator[Visit]:
    """A page on the desk with everything."""
    one = opened(browser, full)
    yield one
    assert one.errors == []
    one.page.context.close()


def opened(browser: "Browser", desk: Desk, **context: Any) -> Visit:
    one = visit(browser, desk, **context)
    one.until(SCALED)
    return one


def measured(desk: Desk) -> None:
    """Put a length and a note on the desk, so that every panel has something to show."""
    handle = desk.session.handle
    handle(
        {"do": "add", "photo": "photo-1", "part": "bow-plate", "feature": "width", "clicks_px": bar_ends()}
    )
    handle({"do": "observe", "part": "lifeboat", "feature": "screws", "value": 5})
    handle({"do": "observe", "part": "paddle-wheel", "feature": "axle", "value": "through-rod"})
    wait_for(lambda: desk.session.state()["verdict"] and not desk.session.judging)


def go(at: Visit, step: str) -> None:
    at.page.get_by_role("tab", name=step).click()
    at.until(f"document.getElementById('panel').dataset.step === '{step.lower()}'")


def tree(at: Visit) -> list[dict[str, Any]]:
    line = at.page.context.new_cdp_session(at.page)
    nodes: list[dict[str, Any]] = line.send("Accessibility.getFullAXTree")["nodes"]
    line.detach()
    return [node for node in nodes if not node.get("ignored")]


def role_of(node: dict[str, Any]) -> str:
    return str(node.get("role", {}).get("value", ""))


def name_of(node: dict[str, Any]) -> str:
    return str(node.get("name", {}).get("value", "")).strip()


def nameless(at: Visit) -> list[str]:
    return [role_of(node) for node in tree(at) if role_of(node) in CONTROLS and not name_of(node)]


def unfold(at: Visit) -> None:
    at.page.evaluate(
        "() => { for (const one of document.querySelectorAll('#panel details')) one.open = true; }"
    )


def test_every_control_has_a_name_in_the_accessibility_tree(looked: Visit) -> None:
    for step in STEPS:
        go(looked, step)
        unfold(looked)
        assert nameless(looked) == [], step


def test_every_form_of_the_scale_has_names(looked: Visit) -> None:
    go(looked, "Scale")
    for choice in ("card", "target", "coin", "rule", "length", "feature"):
        looked.page.get_by_label("What gives the scale?").select_option(choice)
        looked.until(f"!!document.querySelector('[data-key=\"form-{choice}\"]')")
        assert nameless(looked) == [], choice


def test_the_page_has_one_main_heading(looked: Visit) -> None:
    levels = [
        one["value"]["value"]
        for node in tree(looked)
        if role_of(node) == "heading"
        for one in node.get("properties", [])
        if one["name"] == "level"
    ]
    assert levels.count(1) == 1


def test_landmarks_tell_the_photo_from_the_panel(looked: Visit) -> None:
    roles = {(role_of(node), name_of(node)) for node in tree(looked)}
    assert "main" in {role for role, _ in roles}
    assert any(role == "application" and name.startswith("Photo") for role, name in roles)
    assert ("tablist", "Steps") in roles
    assert any(role == "tabpanel" and "Measure" in name for role, name in roles)


def live(at: Visit) -> dict[str, Any]:
    return next(
        node
        for node in tree(at)
        if role_of(node) == "status"
        and any(one["name"] == "live" and one["value"]["value"] == "polite" for one in node["properties"])
        and _dom_id(at, node) == "live"
    )


def _dom_id(at: Visit, node: dict[str, Any]) -> str:
    line = at.page.context.new_cdp_session(at.page)
    found = line.send("DOM.describeNode", {"backendNodeId": node["backendDOMNodeId"]})["node"]
    attributes = found.get("attributes", [])
    return dict(zip(attributes[::2], attributes[1::2], strict=True)).get("id", "")


def test_a_new_length_is_said_in_a_polite_live_region(at: Visit) -> None:
    at.page.get_by_role("button", name="Measure a length").click()
    for x, y in bar_ends():
        at.page.mouse.click(*at.screen((x, y)))
    said = at.until("document.getElementById('live').textContent.match(/millimetres/) && "
                    "document.getElementById('live').textContent")  # fmt: skip
    assert re.match(r"\d+\.\d+ millimetres, give or take \d", said)
    assert live(at)


def test_a_new_verdict_is_said_wherever_the_user_is(at: Visit, desk: Desk) -> None:
    measured(desk)
    said = at.until("document.getElementById('live').textContent.match(/Verdict: /) && "
                    "document.getElementById('live').textContent")  # fmt: skip
    headline = desk.session.state()["verdict"]["headline"]
    assert f"Verdict: {headline}" in said
    assert at.page.locator("#panel").get_attribute("data-step") == "measure"


def test_what_to_do_next_is_a_status(at: Visit) -> None:
    at.page.get_by_role("button", name="Measure a length").click()
    at.page.get_by_role("status").filter(has_text="Point 1 of 2: click the first end.").wait_for()


_FOCUS = """() => {
  const node = document.activeElement;
  const style = getComputedStyle(node);
  const lined = style.outlineStyle !== "none" && parseFloat(style.outlineWidth) >= 2;
  const places = { bar: "#bar", stage: "#stage", side: "#side" };
  const place = Object.keys(places).find((key) => node.closest(places[key])) ?? node.className;
  const name = node.id || node.textContent.trim().slice(0, 30);
  return { name, place, ring: lined || style.boxShadow !== "none" };
}"""


def walk(at: Visit, most: int = 60) -> list[dict[str, Any]]:
    """Return what Tab reaches, from the page's first link until it leaves the page or comes around."""
    at.page.keyboard.press("Tab")
    at.page.evaluate("() => document.querySelector('.skip').focus()")
    found: list[dict[str, Any]] = [at.page.evaluate(_FOCUS)]
    for _ in range(most):
        at.page.keyboard.press("Tab")
        now = at.page.evaluate(_FOCUS)
        if now["place"] == "" or now == found[0]:
            break
        found.append(now)
    return found


def test_tab_goes_from_the_bar_over_the_photo_to_the_panel(looked: Visit) -> None:
    looked.page.get_by_role("button", name=re.compile("Width")).first.click()
    looked.until("document.querySelectorAll('.handle.end').length === 2")
    places = [one["place"] for one in walk(looked)]
    order = [place for n, place in enumerate(places) if n == 0 or place != places[n - 1]]
    assert order[:4] == ["skip", "bar", "stage", "side"]


def test_the_tab_order_is_that_of_the_page(looked: Visit) -> None:
    forced = "() => [...document.querySelectorAll('[tabindex]')].filter((node) => node.tabIndex > 0).length"
    assert looked.page.evaluate(forced) == 0


def test_whatever_has_the_focus_shows_it(looked: Visit) -> None:
    found = walk(looked)
    assert len(found) > 12
    assert [one["name"] for one in found if not one["ring"]] == []


def test_a_list_of_ways_to_measure_keeps_the_keyboard_until_enter(at: Visit) -> None:
    at.page.get_by_role("button", name="Width").first.click()
    ways = at.page.get_by_label("Measure it as")
    ways.focus()
    at.page.keyboard.press("ArrowDown")
    at.page.locator("#coach").filter(has_text="point 1 of 4").wait_for()
    assert at.page.evaluate("() => document.activeElement.tagName") == "SELECT"
    at.page.keyboard.press("Enter")
    at.until("document.activeElement.id === 'stage'")


def test_the_skip_link_leads_past_the_photo(looked: Visit) -> None:
    looked.page.evaluate("() => document.querySelector('.skip').focus()")
    looked.page.keyboard.press("Enter")
    looked.until("document.activeElement.id === 'panel'")


# The text's colour against what lies behind it, by the contrast ratio and relative luminance of WCAG 2.2;
# what is disabled or hidden does not count (1.4.3), nor what lies over the photo and brings its own ground.
_CONTRAST = """() => {
  const rgba = (text) => [...text.match(/[\\d.]+/g).map(Number), 1].slice(0, 4);
  const over = (ink, back) => [0, 1, 2].map((i) => ink[i] * ink[3] + back[i] * (1 - ink[3])).concat(1);
  const linear = (v) => (v <= 0.04045 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4);
  const light = (rgb) => [0.2126, 0.7152, 0.0722].reduce((sum, w, i) => sum + w * linear(rgb[i] / 255), 0);
  const ground = (node) => {
    if (!node) return [255, 255, 255, 1];
    const own = rgba(getComputedStyle(node).backgroundColor);
    return own[3] >= 1 ? own : over(own, ground(node.parentElement));
  };
  const opacity = (node) => (node ? Number(getComputedStyle(node).opacity) * opacity(node.parentElement) : 1);
  const poor = [];
  for (const node of document.querySelectorAll("#bar *, #side *, #start *, #notices *, #zooms *")) {
    const words = [...node.childNodes].some((one) => one.nodeType === 3 && one.textContent.trim());
    if (!words || !node.checkVisibility() || node.closest(":disabled, .vh, [hidden], svg, option")) continue;
    const back = ground(node);
    const ink = rgba(getComputedStyle(node).color);
    const seen = over([ink[0], ink[1], ink[2], ink[3] * opacity(node)], back);
    const [a, b] = [light(seen), light(back)].sort((one, other) => other - one);
    const ratio = (a + 0.05) / (b + 0.05);
    if (ratio < 4.5) poor.push(`${node.textContent.trim().slice(0, 40)}: ${ratio.toFixed(2)}`);
  }
  return poor;
}"""


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_text_stands_out_from_its_ground(browser: "Browser", full: Desk, scheme: Any) -> None:
    at = opened(browser, full, color_scheme=scheme)
    for step in STEPS:
        go(at, step)
        unfold(at)
        assert at.page.evaluate(_CONTRAST) == [], step
    at.page.context.close()


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_what_is_asked_and_told_meanwhile_stands_out_too(browser: "Browser", full: Desk, scheme: Any) -> None:
    at = opened(browser, full, color_scheme=scheme)
    at.page.get_by_label("Kind of measurement").select_option("round")
    at.page.get_by_role("button", name="Measure a diameter").click()
    at.page.get_by_role("button", name="Stop").wait_for()
    for kind in ("note", "wrong"):
        at.page.evaluate(
            f"() => import('/static/desk.js').then(({{ notice }}) => notice('It is so.', '{kind}'))"
        )
    at.page.get_by_role("alert").filter(has_text="It is so.").wait_for()
    assert at.page.evaluate(_CONTRAST) == []
    at.page.context.close()


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_the_first_page_can_be_read_and_its_controls_have_names(
    browser: "Browser", tmp_path: Path, scheme: Any
) -> None:
    desk = started(tmp_path, None)
    at = visit(browser, desk, color_scheme=scheme, viewport={"width": 320, "height": 640})
    at.page.get_by_role("button", name="Open a photo").wait_for()
    assert at.page.evaluate(_CONTRAST) == []
    assert nameless(at) == []
    assert at.page.evaluate(_CUT) == []
    at.page.context.close()
    desk.stop()


_CUT = """() => [...document.querySelectorAll("button, input, select, textarea, a, summary")]
  .filter((node) => node.checkVisibility() && !node.closest(".vh, .skip, #handles"))
  .map((node) => [node.getBoundingClientRect(), node])
  .filter(([box]) => box.left < -0.5 || box.right > innerWidth + 0.5)
  .map(([, node]) => node.outerHTML.slice(0, 120))"""


_PANEL = """() => {
  const { scrollWidth, clientWidth, clientHeight } = document.getElementById("panel");
  return [scrollWidth - clientWidth, clientHeight];
}"""


# 320 CSS pixels wide, and a page of 1280 x 800 at 200 %: WCAG 2.2, 1.4.10 and 1.4.4.
@pytest.mark.parametrize("size", [(320, 640), (640, 400)])
def test_nothing_is_cut_off_on_a_narrow_or_enlarged_page(
    browser: "Browser", full: Desk, size: tuple[int, int]
) -> None:
    at = opened(browser, full, viewport={"width": size[0], "height": size[1]})
    for step in STEPS:
        go(at, step)
        assert at.page.evaluate("() => document.documentElement.scrollWidth") == size[0]
        assert at.page.evaluate(_CUT) == [], step
        panel = at.page.evaluate(_PANEL)
        assert panel[0] <= 0
        assert panel[1] > 100
    at.page.context.close()


def test_nothing_moves_for_those_who_ask_for_less_motion(browser: "Browser", full: Desk) -> None:
    at = opened(browser, full, reduced_motion="reduce")
    moving = """() => [...document.querySelectorAll("*")].filter((node) => {
      const style = getComputedStyle(node);
      return style.animationName !== "none" || parseFloat(style.transitionDuration) > 0;
    }).length"""
    assert at.page.evaluate(moving) == 0
    at.page.context.close()


def test_small_targets_are_large_enough_for_a_finger(browser: "Browser", full: Desk) -> None:
    """WCAG 2.2, 2.5.8: at least 24 by 24 CSS pixels."""
    at = opened(browser, full, viewport={"width": 390, "height": 780}, has_touch=True, is_mobile=True)
    small = """() => [...document.querySelectorAll("button, select, summary, input:not([type=file])")]
      .filter((node) => node.checkVisibility() && !node.closest(".vh"))
      .map((node) => [node.closest("label.check") ?? node, node])
      .map(([target, node]) => [target.getBoundingClientRect(), node])
      .filter(([box]) => box.width < 24 || box.height < 24)
      .map(([, node]) => node.outerHTML.slice(0, 100))"""
    for step in STEPS:
        go(at, step)
        assert at.page.evaluate(small) == [], step
    at.page.context.close()
