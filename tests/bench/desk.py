"""How quick and how large the desk is, in headless Chromium: ``python -m tests.bench.desk [--runs N]``.

Opens a 12- and a 48-megapixel photo and prints, for each, the median over the runs of: the time from the
page's opening to its first view of the photo, the time from a pointer's move to the new length on the page,
the frames while zooming, and the memory. Memory is the proportional set size (PSS), so that what processes
share counts once: of the process that holds the page, of all the browser's processes, of those before any
page was open, and of the server.
"""

import argparse
import json
import os
import re
import shutil
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path

import cv2
from PIL import Image
from playwright.sync_api import Browser, Page, sync_playwright

ROOT = Path(__file__).parents[2]
SAMPLE = ROOT / "sample_images" / "first-deck.jpg"
ARGUMENTS = [
    "--no-sandbox",
    "--disable-gpu",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-sync",
]


@dataclass
class Figures:
    """What one run measured."""

    cold_view_ms: float = 0.0
    warm_view_ms: float = 0.0
    card_s: float = 0.0
    drags_ms: list[float] = field(default_factory=list)
    frames_ms: list[float] = field(default_factory=list)
    page_mb: float = 0.0
    blank_mb: float = 0.0
    browser_mb: float = 0.0
    view_cpu_ms: float = 0.0
    move_cpu_ms: float = 0.0
    server_mb: float = 0.0
    server_peak_mb: float = 0.0


def photo_of(megapixels: int, folder: Path) -> Path:
    """Write the sample at this size."""
    path = folder / f"photo-{megapixels}.jpg"
    pixels = cv2.imread(str(SAMPLE))
    assert pixels is not None, f"{SAMPLE} cannot be read"
    scale = (megapixels * 1e6 / (pixels.shape[0] * pixels.shape[1])) ** 0.5
    if scale > 1.1:
        pixels = cv2.resize(pixels, None, fx=scale, fy=scale, interpolation=cv2.INTER_CUBIC)
    # A telephone states its focal length; without it the search for the card takes other ways.
    exif = Image.Exif()
    with Image.open(SAMPLE) as sample:
        exif.get_ifd(0x8769)[0xA405] = sample.getexif().get_ifd(0x8769)[0xA405]
    Image.fromarray(pixels[..., ::-1]).save(path, quality=92, exif=exif)
    return path


@contextmanager
def serving(photo: Path, folder: Path) -> Iterator[tuple[str, int]]:
    """Run the desk on a photo; gives its link and process id."""
    record = folder / "toy.specimen.json"
    record.unlink(missing_ok=True)
    program = ["-c", "from measure.cli import main; main()"]
    command = [sys.executable, *program, "desk", str(photo), "--no-browser", "--specimen", str(record)]
    with subprocess.Popen(
        command, cwd=folder, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True
    ) as one:
        assert one.stdout is not None
        yield one.stdout.readline().strip(), one.pid
        one.terminate()


def pss_mb(pid: int) -> float:
    """Return the proportional set size of a process; 0 when it is gone."""
    try:
        text = Path(f"/proc/{pid}/smaps_rollup").read_text()
    except OSError:
        return 0.0
    found = re.search(r"^Pss:\s+(\d+)", text, re.MULTILINE)
    return int(found[1]) / 1024 if found else 0.0


def is_renderer(pid: int) -> bool:
    """Tell whether a process of the browser shows a page."""
    return b"--type=renderer" in Path(f"/proc/{pid}/cmdline").read_bytes()


def peak_mb(pid: int) -> float:
    """Return the largest resident set that the process has had."""
    found = re.search(r"VmHWM:\s+(\d+)", Path(f"/proc/{pid}/status").read_text())
    return int(found[1]) / 1024 if found else 0.0


def cpu_ms(pids: list[int]) -> float:
    """Return the processor time that processes have used so far, which a busy machine leaves alone."""
    total = 0.0
    for pid in pids:
        fields = Path(f"/proc/{pid}/stat").read_text().rsplit(")", 1)[1].split()
        total += (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK") * 1000.0
    return total


def family(pid: int) -> list[int]:
    """Return a process and all its descendants."""
    parents: dict[int, list[int]] = {}
    for entry in Path("/proc").iterdir():
        if entry.name.isdigit():
            try:
                parent = int((entry / "stat").read_text().rsplit(")", 1)[1].split()[1])
            except OSError:
                continue
            parents.setdefault(parent, []).append(int(entry.name))
    found = [pid]
    for one in found:
        found += parents.get(one, [])
    return found


def first_view_ms(page: Page) -> float:
    """Return when the photo was first painted, from the page's opening: coarse, or by its first piece."""
    script = """() => new Promise((done) => {
      const piece = performance.getEntriesByName("first tile")[0]?.startTime ?? 0;
      new PerformanceObserver((list, observer) => {
        observer.disconnect();
        done(list.getEntries()[0].renderTime);
      }).observe({ type: "element", buffered: true });
      setTimeout(() => done(piece), 50);
    })"""
    while not (at := page.evaluate(script)):
        time.sleep(0.01)
    return float(at)


def corners(photo: Path) -> list[list[float]]:
    """Return the card's corners as the page counts, from the sample's register."""
    shot = json.loads((SAMPLE.parent / "register.json").read_text("utf-8"))["photos"][0]
    small = cv2.imread(str(photo), cv2.IMREAD_REDUCED_GRAYSCALE_8)
    assert small is not None, f"{photo} cannot be read"
    scale = small.shape[1] * 8 / shot["width_px"]
    return [[(x + 0.5) * scale, (y + 0.5) * scale] for x, y in shot["card"]["corners_px"]]


# Enlarging a photo may spoil the card's edges for the finder; the figures are not about finding it.
_MARK = """async (corners_px) => {
  const { desk } = await import("/static/desk.js");
  const ask = { do: "corners", photo: "photo-1", corners_px, kind: "id1" };
  if (!desk.state.photos[0].card) await desk.link.ask(ask);
}"""


def until(page: Page, script: str, most_s: float = 60.0) -> None:
    """Wait for something in the page."""
    end = time.monotonic() + most_s
    while not page.evaluate(f"() => {script}"):
        if time.monotonic() > end:
            raise TimeoutError(script)
        time.sleep(0.02)


def drags(page: Page, count: int) -> list[float]:
    """Drag an end about and return, for each move, how long the new length took to appear."""
    page.evaluate(
        """() => {
          window.times = [];
          let moved = 0;
          addEventListener("pointermove", (event) => { moved = event.timeStamp; }, true);
          const panel = document.getElementById("panel");
          new MutationObserver((changes) => {
            if (!changes.some((one) => document.getElementById("mm")?.contains(one.target))) return;
            if (moved) times.push(performance.now() - moved);
            moved = 0;
          }).observe(panel, { subtree: true, characterData: true, childList: true });
        }"""
    )
    box = page.locator(".handle.end").first.bounding_box()
    assert box is not None
    x, y = box["x"] + 22, box["y"] + 22
    page.mouse.move(x, y)
    page.mouse.down()
    for number in range(count):
        page.mouse.move(x + 15.3 * (number % 7) + 3.7, y + 7.1 * (number % 5))
        time.sleep(0.05)
    time.sleep(0.3)
    page.mouse.up()
    return [float(one) for one in page.evaluate("() => times")]


def frames(page: Page) -> list[float]:
    """Zoom in and out with the wheel and return the time between frames."""
    page.mouse.move(430, 430)
    page.evaluate(
        """() => {
          window.frames_ms = [];
          window.zooming = true;
          let last = performance.now();
          const next = (now) => {
            frames_ms.push(now - last);
            last = now;
            if (zooming) requestAnimationFrame(next);
          };
          requestAnimationFrame(next);
        }"""
    )
    for direction in (-1, 1, -1, 1):
        for _ in range(60):
            page.mouse.wheel(0, 24 * direction)
            time.sleep(0.012)
    found = page.evaluate("() => { window.zooming = false; return window.frames_ms.slice(2); }")
    return [float(one) for one in found]


def once(browser: Browser, browser_pid: int, photo: Path, folder: Path) -> Figures:
    """Measure one run."""
    figures = Figures()
    browser.new_page().goto("about:blank")
    time.sleep(1.0)
    figures.blank_mb = sum(map(pss_mb, family(browser_pid)))
    with serving(photo, folder) as (link, server_pid):
        start = time.monotonic()
        context = browser.new_context(viewport={"width": 1280, "height": 800})
        page = context.new_page()
        page.goto(link)
        figures.cold_view_ms = first_view_ms(page)
        until(page, "/[✓≈!]/.test(document.querySelector('#step-scale small')?.textContent)")
        figures.card_s = time.monotonic() - start
        page.evaluate(_MARK, corners(photo))
        everyone = [server_pid, *family(browser_pid)]
        used = cpu_ms(everyone)
        page.goto(link)
        figures.warm_view_ms = first_view_ms(page)
        figures.view_cpu_ms = cpu_ms(everyone) - used
        until(page, "/[✓≈]/.test(document.querySelector('#step-scale small')?.textContent)")
        time.sleep(2.0)
        page.get_by_role("button", name="Measure a length").click()
        page.mouse.click(200, 500)
        page.mouse.click(300, 250)
        until(page, "document.querySelectorAll('.handle.end').length === 2")
        everyone = [server_pid, *family(browser_pid)]
        used = cpu_ms(everyone)
        figures.drags_ms = drags(page, 120)
        figures.move_cpu_ms = (cpu_ms(everyone) - used) / len(figures.drags_ms)
        figures.frames_ms = frames(page)
        time.sleep(1.0)
        sizes_mb = {pid: pss_mb(pid) for pid in family(browser_pid)}
        figures.browser_mb = sum(sizes_mb.values())
        figures.page_mb = max(size for pid, size in sizes_mb.items() if is_renderer(pid))
        figures.server_mb = pss_mb(server_pid)
        figures.server_peak_mb = peak_mb(server_pid)
        context.close()
    return figures


def percentile(values: list[float], share: float) -> float:
    """Return the value below which this share of them lies."""
    ordered = sorted(values)
    return ordered[min(len(ordered) - 1, int(share * len(ordered)))]


def report(megapixels: int, runs: list[Figures]) -> str:
    """Return the medians over the runs as text."""

    def middle(value: Callable[[Figures], float]) -> float:
        return statistics.median(value(one) for one in runs)

    lines = {
        "first view, desk just started, ms": middle(lambda one: one.cold_view_ms),
        "first view, desk already open, ms": middle(lambda one: one.warm_view_ms),
        "search for the card ended after, s": middle(lambda one: one.card_s),
        "move to new length, median, ms": middle(lambda one: statistics.median(one.drags_ms)),
        "move to new length, 95 %, ms": middle(lambda one: percentile(one.drags_ms, 0.95)),
        "first view, processor time of all, ms": middle(lambda one: one.view_cpu_ms),
        "move to length, processor time, ms": middle(lambda one: one.move_cpu_ms),
        "moves answered": middle(lambda one: len(one.drags_ms)),
        "zoom frames, median, ms": middle(lambda one: statistics.median(one.frames_ms)),
        "zoom frames over 33 ms, %": middle(
            lambda one: 100.0 * sum(frame > 33.4 for frame in one.frames_ms) / len(one.frames_ms)
        ),
        "memory: page, MB": middle(lambda one: one.page_mb),
        "memory: server, MB": middle(lambda one: one.server_mb),
        "memory: page and server, MB": middle(lambda one: one.page_mb + one.server_mb),
        "memory: all of the browser, MB": middle(lambda one: one.browser_mb),
        "memory: all of an empty browser, MB": middle(lambda one: one.blank_mb),
        "memory: server at its largest, MB": middle(lambda one: one.server_peak_mb),
    }
    head = f"{megapixels} megapixels, median of {len(runs)} runs"
    return "\n".join([head, *(f"  {name:38}{value:8.1f}" for name, value in lines.items())])


def main() -> None:
    """Run and print."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--runs", type=int, default=3)
    parser.add_argument("--megapixels", type=int, nargs="+", default=[12, 48])
    chosen = parser.parse_args()
    with tempfile.TemporaryDirectory() as name, sync_playwright() as driver:
        folder = Path(name)
        for megapixels in chosen.megapixels:
            photo = photo_of(megapixels, folder)
            runs = []
            for _ in range(chosen.runs):
                before = set(family(os.getpid()))
                browser = driver.chromium.launch(executable_path=shutil.which("chromium"), args=ARGUMENTS)
                started = [pid for pid in family(os.getpid()) if pid not in before]
                runs.append(once(browser, started[0], photo, folder))
                browser.close()
            print(report(megapixels, runs), flush=True)


if __name__ == "__main__":
    main()
