"""What the page says of saving, and that each toy has a record of its own."""

import json
import threading
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

from measure.desk.effects import keeper
from measure.desk.server.serve import Server
from measure.desk.session.session import Session
from measure.desk.view import page
from measure.record.file import read_specimen
from tests.browser.conftest import SCALED, Desk, Visit, started, visit
from tests.desk.waiting import wait_for
from tests.synthetic.from_above import bar_ends, plain_photo

if TYPE_CHECKING:
    from playwright.sync_api import Browser

pytestmark = pytest.mark.browser
PHONE: dict[str, Any] = {"viewport": {"width": 390, "height": 844}, "has_touch": True, "is_mobile": True}
STATE = "import('/static/desk.js').then(({ desk }) => desk.state)"


@pytest.fixture(autouse=True)
def quick(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(keeper, "RETRY_S", 0.05)


def go(at: Visit, step: str) -> None:
    at.page.get_by_role("tab", name=step).click()
    at.until(f"document.getElementById('panel').dataset.step === '{step.lower()}'")


def settled(session: Session) -> None:
    wait_for(lambda: not session.judging and session.saved)


def trouble(at: Visit) -> str:
    return str(
        at.until(
            "(!document.getElementById('trouble').hidden && document.getElementById('trouble').innerText)"
        )
    )


def no_trouble(at: Visit) -> None:
    at.until("document.getElementById('trouble').hidden")


def within(at: Visit) -> bool:
    """Nothing of the message sticks out of the window."""
    return bool(
        at.page.evaluate("() => document.getElementById('trouble').scrollWidth <= innerWidth")
        and at.page.evaluate("() => document.documentElement.scrollWidth <= innerWidth")
    )


def test_half_a_character_in_the_name_is_saved_and_shown(at: Visit, desk: Desk) -> None:
    go(at, "Keep")
    field = at.page.get_by_label("What is this toy called?")
    # As pasted from a program that cut a text in the middle of an emoji.
    field.evaluate("(one) => { one.value = 'Ferry \\ud83d'; one.dispatchEvent(new Event('change')); }")
    at.until("document.getElementById('title').textContent === 'Ferry \\ufffd'")
    settled(desk.session)
    at.until("document.getElementById('saved').textContent === 'Saved'")
    assert desk.session.record is not None
    assert read_specimen(desk.session.record).name == "Ferry \ufffd"


@pytest.mark.parametrize("device", [{}, PHONE], ids=["desktop", "telephone"])
def test_a_record_changed_by_another_program_is_told_and_can_be_opened(
    browser: "Browser", desk: Desk, device: dict[str, Any]
) -> None:
    at = visit(browser, desk, **device)
    at.until(SCALED)
    settled(desk.session)
    record = desk.folder / "toy.specimen.json"
    theirs = json.dumps({**json.loads(record.read_text("utf-8")), "name": "Theirs"})
    record.write_text(theirs)
    go(at, "Keep")
    field = at.page.get_by_label("What is this toy called?")
    field.fill("Mine")
    field.press("Tab")
    said = trouble(at)
    assert "Another program has changed toy.specimen.json" in said
    assert "toy-2.specimen.json" in said
    assert within(at)
    settled(desk.session)
    assert record.read_text() == theirs
    assert read_specimen(desk.folder / "toy-2.specimen.json").name == "Mine"
    at.page.get_by_text("toy-2.specimen.json", exact=False).first.wait_for()
    at.page.get_by_role("button", name="Open toy.specimen.json instead").click()
    at.until("document.getElementById('title').textContent === 'Theirs'")
    no_trouble(at)
    assert at.errors == []
    at.page.context.close()


def test_a_message_that_was_read_can_be_put_away(browser: "Browser", desk: Desk) -> None:
    settled(desk.session)
    record = desk.folder / "toy.specimen.json"
    record.write_text(json.dumps({**json.loads(record.read_text("utf-8")), "name": "Theirs"}))
    desk.session.handle({"do": "name", "name": "Mine"})
    at = visit(browser, desk)
    trouble(at)
    at.page.get_by_role("button", name="Go on here").click()
    no_trouble(at)
    # Where the record lies is still told.
    go(at, "Keep")
    at.page.locator("#panel").get_by_text("your work goes on in toy-2.specimen.json").wait_for()
    at.page.context.close()


@pytest.mark.parametrize("device", [{}, PHONE], ids=["desktop", "telephone"])
def test_a_second_desk_on_a_record_says_so(browser: "Browser", desk: Desk, device: dict[str, Any]) -> None:
    settled(desk.session)
    session = Session(desk.folder, desk.folder / "toy.specimen.json")
    server = Server(session)
    thread = threading.Thread(target=server.run, daemon=True)
    thread.start()
    wait_for(lambda: server.started)
    second = Desk(session, server, desk.folder, thread)
    at = visit(browser, second, **device)
    assert "toy.specimen.json is open in another desk as well" in trouble(at)
    assert within(at)
    at.page.context.close()
    second.stop()


@pytest.mark.parametrize("device", [{}, PHONE], ids=["desktop", "telephone"])
def test_work_that_cannot_be_saved_is_told_and_the_word_goes_when_it_is(
    browser: "Browser", tmp_path: Path, device: dict[str, Any]
) -> None:
    home = tmp_path / "home"
    home.mkdir()
    desk = started(home, plain_photo(home / "plain.jpg"))
    wait_for(lambda: desk.session.specimen.photos and desk.session.specimen.photos[0].reference)
    settled(desk.session)
    at = visit(browser, desk, **device)
    at.until(SCALED)
    go(at, "Keep")
    assert at.page.locator("#coach").inner_text() == "Everything is saved as you go."
    away = home.rename(tmp_path / "away")
    home.write_text("in the way")
    desk.session.handle({"do": "name", "name": "Late"})
    said = trouble(at)
    assert said.startswith("Not saved.")
    assert "kept-aside" in said
    assert within(at)
    at.until("document.getElementById('saved').textContent === 'Not saved'")
    assert at.page.locator("#coach").inner_text() == "Not everything is saved."
    home.unlink()
    away.rename(home)
    no_trouble(at)
    at.until("document.getElementById('coach').innerText === 'Everything is saved as you go.'")
    at.page.context.close()
    desk.stop()


def test_a_record_that_cannot_be_shown_is_no_blank_page(
    browser: "Browser", desk: Desk, monkeypatch: pytest.MonkeyPatch
) -> None:
    with monkeypatch.context() as patch:
        patch.setattr(page, "_measurement", lambda desk, entry: 1 / 0)
        desk.session.handle({"do": "add", "photo": "photo-1", "name": "Bar", "clicks_px": bar_ends()})
        at = visit(browser, desk)
        assert "ZeroDivisionError" in trouble(at)
    desk.session.tell()
    no_trouble(at)
    at.until(SCALED)
    at.page.context.close()


@pytest.mark.parametrize("when", ["saved", "not saved"])
def test_a_desk_that_stops_says_saved_only_when_it_is(
    browser: "Browser", tmp_path: Path, when: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    home = tmp_path / "home"
    home.mkdir()
    desk = started(home, plain_photo(home / "plain.jpg"))
    wait_for(lambda: desk.session.specimen.photos and desk.session.specimen.photos[0].reference)
    settled(desk.session)
    at = visit(browser, desk)
    at.until(SCALED)
    if when == "not saved":
        home.rename(tmp_path / "away")
        home.write_text("in the way")
        desk.session.handle({"do": "name", "name": "Late"})
        trouble(at)
    else:
        at.until("document.getElementById('saved').textContent === 'Saved'")
    desk.stop()
    said = at.until(
        "(!document.getElementById('line').hidden && document.getElementById('line').textContent)"
    )
    assert ("Everything is saved in" in said) == (when == "saved")
    assert ("Not everything is saved" in said) == (when == "not saved")
    at.page.context.close()


# ---- another toy ----


@pytest.mark.parametrize("device", [{}, PHONE], ids=["desktop", "telephone"])
def test_the_next_toys_photo_begins_a_record_that_the_page_names(
    browser: "Browser", desk: Desk, device: dict[str, Any], tmp_path_factory: pytest.TempPathFactory
) -> None:
    desk.session.handle({"do": "name", "name": "The first toy"})
    desk.session.handle({"do": "add", "photo": "photo-1", "name": "Bar", "clicks_px": bar_ends()})
    settled(desk.session)
    record = desk.folder / "toy.specimen.json"
    before = record.read_bytes()
    at = visit(browser, desk, **device)
    at.until(SCALED)
    go(at, "Photo")
    at.page.get_by_role("button", name="Remove this one").click()
    at.page.get_by_text("“The first toy” is off the desk.").wait_for()
    assert str(record) in at.page.locator("#start").inner_text()
    at.page.get_by_role("button", name="Put it back").click()
    at.until("document.getElementById('title').textContent === 'The first toy'")
    at.page.get_by_role("button", name="Remove this one").click()
    at.page.get_by_text("“The first toy” is off the desk.").wait_for()
    other = plain_photo(tmp_path_factory.mktemp("photos") / "second_toy.jpg")
    at.page.locator("#file").set_input_files(str(other))
    at.until(f"{STATE}.then(({{ photos }}) => photos.length === 1 && !photos[0].looking && photos[0].card)")
    at.until("document.getElementById('title').textContent === 'Second toy'")
    at.page.get_by_text("A new record begins").wait_for()
    go(at, "Keep")
    settled(desk.session)
    assert desk.session.record is not None
    assert desk.session.record != record
    assert str(desk.session.record) in at.page.locator("#panel").inner_text()
    assert record.read_bytes() == before
    kept = read_specimen(desk.session.record)
    assert (kept.name, len(kept.photos), kept.measurements) == ("Second toy", 1, ())
    assert at.errors == []
    at.page.context.close()


def test_another_sample_is_another_toy_and_the_first_can_be_taken_up_again(
    browser: "Browser", tmp_path: Path
) -> None:
    desk = started(tmp_path, None)
    at = visit(browser, desk)
    at.page.get_by_role("button", name="Ferry from the harbour sale").click()
    at.until("document.getElementById('title').textContent === 'Ferry from the harbour sale'")
    at.until(f"{STATE}.then((state) => state.photos.length === 2 && !state.opening.length)")
    first = desk.session.record
    go(at, "Photo")
    at.page.locator("summary", has_text="Sample photos").click()
    at.page.get_by_role("button", name="Loose bow plate").click()
    at.until("document.getElementById('title').textContent.startsWith('Loose bow plate')")
    at.until(f"{STATE}.then((state) => state.photos.length === 2 && !state.opening.length)")
    settled(desk.session)
    assert desk.session.record != first
    assert first is not None
    assert len(read_specimen(first).photos) == 2
    assert at.page.locator("#undo").is_disabled()
    at.page.get_by_role("button", name="Ferry from the harbour sale last changed").click()
    at.until("document.getElementById('title').textContent === 'Ferry from the harbour sale'")
    assert desk.session.record == first
    assert at.errors == []
    at.page.context.close()
    desk.stop()
