"""Known lengths on real photographs, with points marked as by a person at a given zoom.

    python -m tests.bench.clicks --jobs 2

The truth's own points are better than any click, so each is moved by chance: by 0.7, 0.85 or 1 screen pixel
at the zoom, and by a share of the blur there; then rounded to whole pixels where no zoom is told, as on the
command line. The corners are given, so that the points are most of the error. At most six lengths a photo;
photographs in ../shared without those kept aside, see `real_groups`.
"""

import argparse
from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor
from typing import Any
from zlib import crc32

import numpy as np
from numpy.typing import NDArray

from calibration import read_photo
from calibration.camera import camera_from_photo
from calibration.errors import CalibrationError
from calibration.image import Photo
from calibration.objects import object_from_key
from calibration.plane import Plane, fit_plane
from measure.kinds import measure_span
from measure.kinds.clicks import click_std_px
from measure.kinds.snapping import seen_ends
from measure.length import CLICK, Length
from tests.bench.real_groups import SMALL_PX, is_aside
from tests.real_photos.manifest import at_hand

Array = NDArray[np.float64]
Row = dict[str, Any]
POINTING_SCREEN_PX = (0.7, 0.85, 1.0)
DRAWS = 2
MOST_LENGTHS = 6
ZOOMS = (None, "fit", 1.0, 3.0)
"""Screen pixels per pixel of the photo; None is not told, and the photo fills the screen."""


def examine(entry: Row) -> list[Row]:
    """Measure a photograph's known lengths by chance clicks; a row for each zoom, pointing and draw."""
    photo = read_photo(entry["path"])
    reference = entry["reference"]
    kind = object_from_key(f"{reference['width_mm']:g}x{reference['height_mm']:g}")
    std_px = max(0.15, 0.5 * entry.get("corner_uncertainty_px", 0.3))
    try:
        plane = fit_plane(camera_from_photo(photo), kind, reference["corners_px"], std_px**2 * np.eye(8))
    except CalibrationError:
        return []
    rng = np.random.default_rng(crc32(entry["id"].encode()))
    size = "small" if photo.width_px * photo.height_px <= SMALL_PX else "large"
    return [
        {"id": entry["id"], "size": size, "zoom": zoom, "pointing": pointing}
        | _tried(photo, plane, entry, (zoom, pointing, rng))
        for zoom in ZOOMS
        for pointing in POINTING_SCREEN_PX
    ]


def _tried(photo: Photo, plane: Plane, entry: Row, how: tuple[Any, float, np.random.Generator]) -> Row:
    zoom, pointing, rng = how
    size_px = (photo.width_px, photo.height_px)
    fit = min(1500.0 / photo.width_px, 1000.0 / photo.height_px)
    told = fit if zoom == "fit" else zoom
    # Whoever types coordinates enlarges a large photo until they are sure to a pixel.
    shown = max(fit, 0.85) if told is None else told
    floor = 1.96 * entry.get("truth_floor_median_pct", 0.0) / 0.6745
    before: list[tuple[float, float]] = []
    after: list[tuple[float, float]] = []
    alone: list[tuple[float, float]] = []
    for span in entry["spans"][:: max(1, len(entry["spans"]) // MOST_LENGTHS)][:MOST_LENGTHS]:
        true = np.array(span["p_px"], dtype=float)
        ends = seen_ends(photo, span["p_px"], snap=False, click_std_px=None, zoom_factor=told)
        plain_px = click_std_px(size_px, zoom_factor=told)
        blur_px = np.array([np.sqrt(max(end.point.std_px**2 - plain_px**2, 0.0)) for end in ends])
        for _ in range(DRAWS):
            spread = np.hypot(pointing / shown, blur_px)[:, None]
            marked = true + rng.normal(size=(2, 2)) * spread
            marked = np.round(marked) if told is None else marked
            for stds, rows in (([1.0, 1.0], before), ([end.point.std_px for end in ends], after)):
                rows.append(_error(plane, marked, span, stds, floor))
            alone.append(_moved(plane, (true, marked), span, [end.point.std_px for end in ends]))
    return {"before": before, "after": after, "alone": alone, "std_px": [end.point.std_px for end in ends]}


def _moved(plane: Plane, points: tuple[Array, Array], span: Row, stds: list[float]) -> tuple[float, float]:
    """Return by how much the clicks alone moved the length, and the U of the clicks alone, in %."""
    true, marked = (_length(plane, each, span, stds) for each in points)
    u_mm = sum(line.u_mm for line in marked.budget if line.source == CLICK)
    percent = 100.0 / span["length_mm"]
    return percent * (marked.value_mm - true.value_mm), 1.96 * percent * u_mm


def _length(plane: Plane, ends: Array, span: Row, stds: list[float]) -> Length:
    return measure_span(
        plane,
        np.clip(ends, 0.0, [plane.camera.width_px - 1.0, plane.camera.height_px - 1.0]),
        standoff_mm=span["standoff_mm"],
        standoff_std_mm=0.05,
        click_std_px=stds,
    )


def _error(plane: Plane, marked: Array, span: Row, stds: list[float], floor: float) -> tuple[float, float]:
    length = _length(plane, marked, span, stds)
    u_percent = 100.0 * length.expanded_uncertainty_mm / span["length_mm"]
    return 100.0 * (length.value_mm / span["length_mm"] - 1.0), float(np.hypot(u_percent, floor))


def lines(rows: list[Row]) -> Iterator[str]:
    """Yield the table: coverage, and U as a multiple of what 95 % need, at 1 px and as stated now."""
    yield (
        "size   zoom  pointing  photos lengths  u of a point   1 px each: held, U     by picture: held, U"
        "          the clicks alone: held, U"
    )
    for size in ("small", "large"):
        for zoom in ZOOMS:
            for pointing in POINTING_SCREEN_PX:
                mine = [r for r in rows if (r["size"], r["zoom"], r["pointing"]) == (size, zoom, pointing)]
                if mine:
                    std_px = np.median(np.concatenate([row["std_px"] for row in mine]))
                    words = "   ".join(_told(mine, key) for key in ("before", "after", "alone"))
                    count = sum(len(row["after"]) // DRAWS for row in mine)
                    yield (
                        f"{size:6s} {zoom or 'none'!s:6s} {pointing:4.2f} {len(mine):7d} {count:7d}"
                        f" {std_px:9.2f} px   {words}"
                    )


def _told(mine: list[Row], key: str) -> str:
    pairs = np.array([pair for row in mine for pair in row[key]])
    ratio = np.abs(pairs[:, 0]) / pairs[:, 1]
    held = 100.0 * np.mean(ratio <= 1.0)
    return f"{held:5.1f} % {1.0 / np.percentile(ratio, 95):5.2f} x (U {np.median(pairs[:, 1]):5.2f} %)"


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description="Known lengths by simulated clicks.")
    parser.add_argument("--jobs", type=int, default=1)
    args = parser.parse_args()
    entries = [one for one in at_hand() if one["spans"] and not is_aside(one)]
    with ProcessPoolExecutor(args.jobs) as pool:
        rows = [row for found in pool.map(examine, entries) for row in found]
    print("\n".join(lines(rows)))


if __name__ == "__main__":
    main()
