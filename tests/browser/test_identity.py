"""The page asks what an outline is, where that is not clear, before anything is measured by it."""

from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

from tests.browser.conftest import SCALED, Visit, started, visit
from tests.desk.waiting import wait_for
from tests.synthetic.from_above import BRIDGE, plain_photo

if TYPE_CHECKING:
    from playwright.sync_api import Browser

pytestmark = pytest.mark.browser


@pytest.fixture
def asked(browser: "Browser", tmp_path: Path) -> Iterator[Visit]:
    """A page on a playing card that is taken for a bank card."""
    desk = started(tmp_path, plain_photo(tmp_path / "bridge.jpg", box=BRIDGE))
    wait_for(lambda: desk.session.specimen.photos and desk.session.specimen.photos[0].reference)
    one = visit(browser, desk)
    one.until(SCALED)
    yield one
    assert one.errors == []
    one.page.context.close()
    desk.stop()


def step(at: Visit, name: str) -> None:
    at.page.get_by_role("tab", name=name).click()


def reference(at: Visit) -> Any:
    return at.desk.session.specimen.photos[0].reference


def test_measuring_waits_for_the_answer_and_undo_asks_again(asked: Visit) -> None:
    step(asked, "Measure")
    page = asked.page
    question = page.get_by_role("region", name="Is this really a bank card?")
    question.wait_for()
    assert page.get_by_role("button", name="Measure a length").count() == 0
    assert "Say what it is" in page.locator("#coach").inner_text()
    question.get_by_role("button", name="Bridge playing card").click()
    page.get_by_role("button", name="Measure a length").wait_for()
    assert question.count() == 0
    assert (reference(asked).kind, reference(asked).said) == ("bridge", True)
    page.locator("#undo").click()
    question.wait_for()
    question.get_by_role("button", name="Yes: Bank card").click()
    page.get_by_role("button", name="Measure a length").wait_for()
    assert (reference(asked).kind, reference(asked).said) == ("id1", True)


def test_none_of_these_leads_to_a_size_of_ones_own(asked: Visit) -> None:
    step(asked, "Measure")
    asked.page.get_by_role("button", name="None of these").click()
    asked.page.get_by_label("One side in millimetres").fill("89")
    asked.page.get_by_label("Other side in millimetres").fill("57")
    asked.page.get_by_role("button", name="Use this size").click()
    wait_for(lambda: reference(asked).kind == "89x57")
    step(asked, "Measure")
    asked.page.get_by_role("button", name="Measure a length").wait_for()
