"""What a newcomer reads and finds: how sure the card is, what to note, where to go, how to come back."""

import shlex
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import pytest

from measure.record.specimen import Specimen
from tests.browser.conftest import SCALED, Desk, Visit, started, visit

if TYPE_CHECKING:
    from playwright.sync_api import Browser

pytestmark = pytest.mark.browser
PHONE: dict[str, Any] = {"viewport": {"width": 390, "height": 844}, "has_touch": True, "is_mobile": True}


def go(at: Visit, step: str) -> None:
    at.page.get_by_role("tab", name=step).click()
    at.until(f"document.getElementById('panel').dataset.step === '{step.lower()}'")


def believed(state: Specimen, confidence: float) -> Specimen:
    (shot,) = state.photos
    assert shot.reference is not None
    return replace(state, photos=(replace(shot, reference=replace(shot.reference, confidence=confidence)),))


def test_a_likely_card_has_another_sign_and_word_than_a_sure_one(browser: "Browser", desk: Desk) -> None:
    desk.session.learn(lambda state: believed(state, 0.9))
    at = visit(browser, desk)
    at.until("document.querySelector('#step-scale small')?.textContent === '≈ likely'")
    go(at, "Scale")
    at.page.get_by_role("heading", name="This is probably a bank card").wait_for()
    assert at.page.locator("#coach").inner_text().startswith("Does the outline sit on the card's edges?")
    desk.session.learn(lambda state: believed(state, 0.999))
    at.until("document.querySelector('#step-scale small')?.textContent === '✓'")
    at.page.get_by_role("heading", name="Bank card found").wait_for()
    at.page.context.close()


def test_notes_begin_with_what_there_is_to_look_for(at: Visit) -> None:
    go(at, "Note")
    panel = at.page.locator("#panel")
    assert panel.get_by_role("heading", level=4).first.inner_text() == "Lifeboat"
    bare = panel.locator("details", has_text="Bow plate")
    assert not bare.get_by_role("group", name="Bow plate as a whole").is_visible()
    bare.locator("summary").click()
    bare.get_by_role("group", name="Bow plate as a whole").get_by_role("button", name="missing").click()
    at.until("import('/static/desk.js').then(({ desk }) => desk.state.observations.length === 1)")


def test_an_empty_verdict_claims_nothing_and_leads_to_measuring(at: Visit) -> None:
    go(at, "Verdict")
    assert at.page.locator("#coach").inner_text() == "There is nothing to judge by yet."
    at.page.get_by_role("button", name="Go to Measure").click()
    at.until("document.getElementById('panel').dataset.step === 'measure'")


def test_keep_shows_how_to_open_the_record_again_ready_to_copy(browser: "Browser", desk: Desk) -> None:
    at = visit(browser, desk, permissions=["clipboard-read", "clipboard-write"])
    at.until(SCALED)
    go(at, "Keep")
    told = at.page.locator("#reopen").inner_text()
    assert shlex.split(told)[1:] == ["desk", "--specimen", str(desk.session.record)]
    at.page.get_by_role("button", name="Copy").click()
    at.page.get_by_text("Copied.").wait_for()
    assert at.page.evaluate("() => navigator.clipboard.readText()") == told
    at.page.context.close()


@pytest.mark.parametrize("step", ["Note", "Verdict", "Keep"])
def test_a_telephone_gives_the_panel_the_room_where_the_photo_is_not_worked_on(
    browser: "Browser", desk: Desk, step: str
) -> None:
    at = visit(browser, desk, **PHONE)
    at.until(SCALED)
    go(at, "Measure")
    half = at.page.locator("#stage").bounding_box()
    go(at, step)
    strip = at.page.locator("#stage").bounding_box()
    assert half is not None
    assert strip is not None
    assert half["height"] > 0.4 * 844
    assert 100 < strip["height"] < 0.3 * 844
    at.page.context.close()


def test_a_telephone_shows_the_whole_title_and_no_word_of_dropping(browser: "Browser", desk: Desk) -> None:
    desk.session.handle({"do": "name", "name": "Ferry from the attic of the lock house"})
    at = visit(browser, desk, **PHONE)
    at.until("document.getElementById('title').textContent.startsWith('Ferry')")
    cut = "({ scrollHeight, clientHeight }) => scrollHeight > clientHeight + 1"
    assert not at.page.locator("#title").evaluate(cut)
    at.page.context.close()
    bare = started(desk.folder / "bare", None)
    first = visit(browser, bare, **PHONE)
    first.page.get_by_role("button", name="Open a photo").wait_for()
    assert not first.page.get_by_text("drop it anywhere").is_visible()
    first.page.context.close()
    bare.stop()
