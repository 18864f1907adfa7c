"""Takes the README's picture of the desk: ``python -m tests.browser.picture OUT.png``."""

import shutil
import sys
import tempfile
from pathlib import Path
from typing import Any

from measure.demo.samples import read_register, samples_folder
from tests.browser.conftest import ARGUMENTS, SCALED, Visit, started, visit

SPECIMEN, PHOTO = "Ferry from the attic of the lock house", "mixed-bow"
NOTED = {"Screws": "5", "Axle": "through-rod"}


def take(out: Path) -> None:
    """Measure a sample as a newcomer would, and picture the verdict."""
    from playwright.sync_api import sync_playwright

    facts = next(one for one in read_register(samples_folder())["photos"] if one["id"] == PHOTO)
    with tempfile.TemporaryDirectory() as folder, sync_playwright() as driver:
        browser = driver.chromium.launch(executable_path=shutil.which("chromium"), args=ARGUMENTS)
        desk = started(Path(folder), None)
        _measure(visit(browser, desk), facts["spans"]).page.screenshot(path=out)
        browser.close()
        desk.stop()


def _measure(at: Visit, spans: list[dict[str, Any]]) -> Visit:
    page = at.page
    page.get_by_role("button", name=SPECIMEN).click()
    at.until(SCALED, 90)
    by_id = {one["id"]: one for one in spans}
    for number, (key, name) in enumerate((("depth", "Depth"), ("width", "Width"))):
        page.get_by_role("button", name=name).first.click()
        for x, y in by_id[key]["clicks_px"]:
            page.mouse.click(*at.screen((x, y)))
        at.until(f"document.querySelector('#step-measure small').textContent === '{number + 1}/5'", 60)
    page.get_by_role("tab", name="Note").click()
    for group, value in NOTED.items():
        page.get_by_role("group", name=group).get_by_role("button", name=value).click()
    page.get_by_role("tab", name="Verdict").click()
    page.get_by_role("heading", name="Bow plate").first.wait_for()
    settled = (
        "import('/static/desk.js').then(({ desk }) => !desk.state.judging && !desk.view.tiles.flying.size)"
    )
    at.until(settled, 60)
    return at


if __name__ == "__main__":
    if len(sys.argv) != 2:
        sys.exit(__doc__)
    take(Path(sys.argv[1]))
