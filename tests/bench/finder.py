"""How well the card is found, on simulated photos with known truth.

    python -m tests.bench.finder --level plain --count 200 --seeds held-out --jobs 16

Needs numpy, scipy, opencv-python and pillow, and the repository as working folder. Times are those of the
default settings; with more than one job only the processor time means something.
"""

import argparse
import json
import time
import traceback
from collections.abc import Callable, Sequence
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path
from typing import Any, TypeVar

import cv2
import numpy as np

from calibration import Location, locate
from calibration.image.photo import decode_photo
from calibration.objects import object_from_key
from tests.bench import comparing
from tests.bench.summary import summarise, table
from tests.synthetic.layout import LEVELS
from tests.synthetic.scenes import HELD_OUT_SEEDS, TUNING_SEEDS, VERSION, Scene, make_scene

Row = dict[str, Any]
T = TypeVar("T")

TOLERANCE_PX_12MP = 3.0
TOLERANCE_OF_WIDTH = 0.005
WRONG_SCALE = 0.005
WRONG_OF_WIDTH = 0.01


def examine(job: tuple[int, str, float, Row]) -> Row:
    """Make one photo, look for the card, compare; gives a plain dict."""
    seed, level, megapixels, options = job
    scene = make_scene(seed, level, megapixels=megapixels, cache_folder=options["cache"])
    record = {
        "seed": seed, "level": level, "megapixels": megapixels, "object": scene.object_key,
        "facts": scene.facts | {"exif": scene.focal_35mm_mm is not None},
    }  # fmt: skip
    try:
        photo, record["decode_s"], record["decode_wall_s"] = _timed(
            decode_photo, scene.jpeg, f"{scene.level}-{scene.seed}.jpg"
        )
        key = scene.object_key if options["named"] else None
        located, record["locate_s"], record["locate_wall_s"] = _timed(locate, photo, object_key=key)
    except Exception:  # a benchmark counts crashes instead of stopping at the first
        return record | {"crash": traceback.format_exc(limit=-3), "found": False, "answered": False}
    record |= _compare(scene, located)
    if options["folder"] and _is_failure(record):
        _draw(scene, located, record, Path(options["folder"]))
    return record


def _timed(work: Callable[..., T], *args: Any, **options: Any) -> tuple[T, float, float]:
    """Result, seconds of processor time over all threads, seconds by the clock."""
    clock, busy = time.perf_counter(), time.process_time()
    result = work(*args, **options)
    return result, time.process_time() - busy, time.perf_counter() - clock


def _compare(scene: Scene, located: Location) -> Row:
    found = located.found
    answered = found is not None and located.plane is not None
    cautions = [one.code for one in located.cautions]
    out: Row = {
        "answered": answered,
        "found": False,
        "reason": located.reason and located.reason.code,
        "cautions": cautions,
    }
    if found is None:
        return out
    out |= {
        "accepted": bool(found.accepted) and answered,
        "confidence": float(found.confidence),
        "kind": found.object.key,
        "alternatives": [other.key for other in found.alternatives],
        "tilt_found_deg": float(located.plane.tilt_deg) if located.plane else None,
    }
    if scene.object_key is None:
        return out | {"right": False}
    assert scene.corners_px is not None
    assert scene.line_corners_px is not None
    truth = object_from_key(scene.object_key)
    sides = np.linalg.norm(scene.corners_px - np.roll(scene.corners_px, -1, axis=0), axis=1)
    error = comparing.cyclic_error_px(found.corners_px, scene.corners_px)
    scale = comparing.log_scale_error(found, scene.corners_px, truth)
    tolerance = TOLERANCE_PX_12MP * np.sqrt(scene.width_px * scene.height_px / 12e6)
    kind = comparing.same_kind(found.object.key, truth.key)
    std = comparing.stated_log_scale_std(found)
    near = error <= max(tolerance, TOLERANCE_OF_WIDTH * sides.max())
    wrong = error > WRONG_OF_WIDTH * sides.max() or abs(scale) > WRONG_SCALE
    return out | {
        "found": bool(answered and kind and near),
        "outline_right": bool(kind and near),
        "kind_right": kind,
        "corners_px": np.asarray(found.corners_px).tolist(),
        "corner_error_px": error,
        "line_corner_error_px": comparing.cyclic_error_px(found.corners_px, scene.line_corners_px),
        "card_px": float(sides.max()),
        "log_scale_error": scale,
        "log_scale_std": std,
        "wrong": bool(wrong),
        "beyond_stated": bool(wrong and abs(scale) > 3 * std),
        "right": bool(kind and near),
    }


def _is_failure(record: Row) -> bool:
    if record["level"] == "none":
        return bool(record.get("accepted")) or bool(record.get("answered"))
    return not record["found"] or bool(record.get("accepted") and record.get("wrong"))


def _draw(scene: Scene, located: Location, record: Row, folder: Path) -> None:
    picture = scene.pixels_bgr
    scale = 1100 / max(picture.shape[:2])
    small = cv2.resize(picture, None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA)
    for corners, colour in ((scene.outline_px, (0, 220, 0)), (_outline(located), (0, 0, 255))):
        if corners is not None:
            points = np.round(((np.asarray(corners) + 0.5) * scale - 0.5) * 16).astype(np.int32)
            cv2.polylines(small, [points], True, colour, 1, cv2.LINE_AA, 4)
    kinds = f"{scene.object_key} -> {record.get('kind')} {record.get('confidence', 0):.2f}"
    error = f"e={record.get('corner_error_px', -1):.1f}px"
    words = f"{scene.level} {scene.seed} {kinds} {error} {record['facts']['troubles']}"
    cv2.putText(small, words, (8, small.shape[0] - 10), 0, 0.6, (0, 0, 0), 3, cv2.LINE_AA)
    cv2.putText(small, words, (8, small.shape[0] - 10), 0, 0.6, (255, 255, 255), 1, cv2.LINE_AA)
    folder.mkdir(parents=True, exist_ok=True)
    name = "wrong" if record.get("accepted") else "missed"
    cv2.imwrite(
        str(folder / f"{scene.level}-{scene.seed:05d}-{name}.jpg"), small, [cv2.IMWRITE_JPEG_QUALITY, 70]
    )


def _outline(located: Location) -> np.ndarray | None:
    return None if located.found is None else located.found.corners_px


def run(level: str, seeds: Sequence[int], *, jobs: int, megapixels: float, options: Row) -> list[Row]:
    """Records of all seeds in order, each also appended to a log as it comes."""
    work = [(seed, level, megapixels, options) for seed in seeds]
    log = Path(options["log"])
    records = []
    with log.open("a") as lines, ProcessPoolExecutor(jobs) as pool:
        for record in pool.map(examine, work, chunksize=1):
            records.append(record)
            lines.write(json.dumps(record, default=float) + "\n")
            lines.flush()
    return records


def _arguments() -> argparse.Namespace:
    parser = argparse.ArgumentParser(description="Benchmark of finding the card on simulated photos.")
    parser.add_argument("--level", default="all", help=f"all, or a comma list of {', '.join(LEVELS)}")
    parser.add_argument("--count", type=int, default=40)
    parser.add_argument("--start", type=int, default=0, help="skip this many seeds")
    parser.add_argument("--seeds", choices=("tuning", "held-out"), default="tuning")
    parser.add_argument("--jobs", type=int, default=1)
    parser.add_argument("--megapixels", type=float, default=12.0)
    parser.add_argument("--named", action="store_true", help="tell the finder the kind, as a user may")
    parser.add_argument("--cache", help="folder that keeps the photos between runs (0.2 to 4 MB each)")
    parser.add_argument("--out", default="/tmp/cardspan-bench/finder", help="folder for report and failures")
    return parser.parse_args()


def main() -> None:
    """Run the levels asked for, print their tables, write the report."""
    arguments = _arguments()
    out = Path(arguments.out)
    out.mkdir(parents=True, exist_ok=True)
    pool = TUNING_SEEDS if arguments.seeds == "tuning" else HELD_OUT_SEEDS
    seeds = pool[arguments.start : arguments.start + arguments.count]
    options = {"cache": arguments.cache, "folder": str(out / "failures"), "named": arguments.named}
    options["log"] = str(out / "records.jsonl")
    levels = list(LEVELS) if arguments.level == "all" else arguments.level.split(",")
    report: Row = {
        "scenes_version": VERSION,
        "opencv": cv2.__version__,
        "arguments": vars(arguments),
        "levels": {},
    }
    for level in levels:
        records = run(level, seeds, jobs=arguments.jobs, megapixels=arguments.megapixels, options=options)
        report["levels"][level] = {"summary": summarise(records), "records": records}
        print(table(level, report["levels"][level]["summary"]), flush=True)
    path = out / f"report-{arguments.seeds}-{arguments.level}-{arguments.start}.json"
    path.write_text(json.dumps(report, indent=1, default=float))
    print(f"report: {path}")


if __name__ == "__main__":
    main()
