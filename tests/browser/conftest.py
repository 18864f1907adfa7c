"""A desk that serves and a real Chromium; required where CI runs the tests, else skipped with the reason."""

import os
import shutil
import threading
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

from measure.desk.server.serve import Server
from measure.desk.session.session import Session
from tests.desk.waiting import wait_for
from tests.synthetic.from_above import plain_photo

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page

ARGUMENTS = [
    "--no-sandbox",
    "--disable-gpu",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    # A foreign name that leads to this computer, as a rebinding attack would arrange.
    "--host-resolver-rules=MAP evil.test 127.0.0.1",
]


def missing() -> str | None:
    """Return why no browser can be driven here, or None."""
    try:
        import playwright.sync_api  # noqa: F401 - only whether it is there
    except ImportError:
        return "playwright is not installed: pip install -e '.[dev]'"
    return None if shutil.which("chromium") else "no chromium on the PATH: apt-get install chromium"


@pytest.fixture(autouse=True)
def own_store(tmp_path_factory: pytest.TempPathFactory, monkeypatch: pytest.MonkeyPatch) -> None:
    """What can't be saved at its place is kept aside among the user's data: here, the test's own."""
    monkeypatch.setenv("CARDSPAN_DATA", str(tmp_path_factory.mktemp("data")))


@pytest.fixture(scope="session")
def browser() -> "Iterator[Browser]":
    reason = missing()
    if reason is not None:
        if os.environ.get("CI"):
            pytest.fail(f"the browser tests are required under CI: {reason}")
        pytest.skip(reason)
    from playwright.sync_api import sync_playwright

    with sync_playwright() as driver:
        one = driver.chromium.launch(executable_path=shutil.which("chromium"), args=ARGUMENTS)
        yield one
        one.close()


@dataclass
class Desk:
    """A desk that serves, and what it keeps."""

    session: Session
    server: Server
    folder: Path
    thread: threading.Thread

    @property
    def link(self) -> str:
        return self.server.links.here

    def stop(self) -> None:
        self.server.stop()
        self.thread.join(10.0)


def started(folder: Path, photo: Path | None, sheet: str | None = "saltmarsh-ferry") -> Desk:
    session = Session(folder, folder / "toy.specimen.json" if photo else None, sheet if photo else None)
    server = Server(session)
    thread = threading.Thread(target=server.run, daemon=True)
    thread.start()
    if photo is not None:
        session.open_path(photo)
    wait_for(lambda: server.started)
    return Desk(session, server, folder, thread)


@pytest.fixture
def desk(tmp_path: Path) -> Iterator[Desk]:
    """A desk with the plain photo and its card."""
    one = started(tmp_path, plain_photo(tmp_path / "plain.jpg"))
    wait_for(lambda: one.session.specimen.photos and one.session.specimen.photos[0].reference)
    yield one
    one.stop()


# Something gives the scale, surely or likely.
SCALED = "/[✓≈]/.test(document.querySelector('#step-scale small')?.textContent)"

_PLACE = """async () => {
  const { desk } = await import("/static/desk.js");
  const { left, top } = document.getElementById("stage").getBoundingClientRect();
  return { left, top, x: desk.view.x, y: desk.view.y, scale: desk.view.scale };
}"""


@dataclass
class Visit:
    """A page open on a desk; fails the test on any error in its console."""

    page: "Page"
    desk: Desk
    errors: list[str]

    def screen(self, point_px: tuple[float, float]) -> tuple[float, float]:
        """Return where a point of the photo (pixel centres whole) lies on the screen."""
        place = self.page.evaluate(_PLACE)
        x, y = (axis + 0.5 - place[name] for axis, name in zip(point_px, "xy", strict=True))
        return place["left"] + x * place["scale"], place["top"] + y * place["scale"]

    @property
    def scale(self) -> float:
        """Screen pixels to a pixel of the photo."""
        return float(self.page.evaluate(_PLACE)["scale"])

    def until(self, what: str, timeout_s: float = 40.0) -> Any:
        """Wait until an expression in the page holds; its policy forbids the driver's own way of waiting."""
        end = time.monotonic() + timeout_s
        while not (value := self.page.evaluate(f"() => {what}")):
            assert time.monotonic() < end, f"never true: {what}"
            time.sleep(0.03)
        return value


def visit(browser: "Browser", desk: Desk, **context: Any) -> Visit:
    context.setdefault("viewport", {"width": 1280, "height": 800})
    page = browser.new_context(**context).new_page()
    errors: list[str] = []
    page.on("pageerror", lambda error: errors.append(str(error)))
    page.on("console", lambda message: errors.append(message.text) if message.type == "error" else None)
    page.goto(desk.link)
    return Visit(page, desk, errors)


@pytest.fixture
def at(browser: "Browser", desk: Desk) -> Iterator[Visit]:
    """A page on the plain photo with its card found."""
    one = visit(browser, desk)
    one.until(SCALED)
    yield one
    assert one.errors == []
    one.page.context.close()
