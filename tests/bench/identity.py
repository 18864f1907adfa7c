"""How often it is asked what an outline is, on simulated photos of things of the catalogue and on real ones.

    python -m tests.bench.identity --count 20 --jobs 2

Nothing is named. For each kind of thing: how many of its outlines are accepted, as what, how many of those
with a caution about what else they may be (told from 1 %, asked from 10 %, left open without a plane above
half), and how many silently give a scale that is more than 1 % wrong.
"""

import argparse
import json
from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path
from typing import Any

import numpy as np

from calibration import Location, locate, read_photo
from calibration.cards.identity import is_doubtful
from calibration.cautions import CautionCode, NoAnswerCode
from calibration.image.photo import decode_photo
from calibration.objects import object_from_key
from tests.bench import comparing
from tests.real_photos.manifest import at_hand
from tests.synthetic.scenes import HELD_OUT_SEEDS, TUNING_SEEDS, make_scene

Row = dict[str, Any]

THINGS = (
    "id1", "bridge", "bridge-57x88", "bc-eu", "bc-eu-round", "bc-85x54", "bc-us", "bc-jp", "trading",
    "trading-metric", "a4", "letter", "a5", "a6", "b5", "photo-102x152", "photo-10x15", "index-3x5",
)  # fmt: skip
LEVELS = ("plain", "clutter")


def examine(job: tuple[str, int, str, float]) -> Row:
    """Look at one simulated photo; a plain dict."""
    thing, seed, level, megapixels = job
    scene = make_scene(seed, level, object_key=thing, megapixels=megapixels)
    located = locate(decode_photo(scene.jpeg, "scene.jpg"))
    assert scene.corners_px is not None
    row = {"group": f"simulated {thing}", "seed": seed, "level": level}
    right = object_from_key(thing)
    return row | _told(located, [(scene.corners_px, right.width_mm * right.height_mm)])


def examine_real(job: tuple[Path, Row]) -> Row:
    """Look at one real photograph; a plain dict."""
    _, entry = job
    reference = entry["reference"]
    located = locate(read_photo(entry["path"]))
    places = []
    if reference["kind"] != "none":
        area_mm2 = reference["width_mm"] * reference["height_mm"]
        others = [one["corners_px"] for one in entry.get("other_references", [])]
        places = [(np.array(corners), area_mm2) for corners in (reference["corners_px"], *others)]
    kind = reference["kind"]
    if kind == "rect":
        kind = "bridge" if {reference["width_mm"], reference["height_mm"]} == {57, 87} else "board"
    return {"group": f"real {kind}", "id": entry["id"]} | _told(located, places)


def _told(located: Location, places: list[tuple[np.ndarray, float]]) -> Row:
    found = located.found
    if found is None or located.plane is None or found.object.key == "target":
        open_still = located.reason is not None and located.reason.code == NoAnswerCode.IDENTITY_OPEN
        return {"accepted": False, "open": open_still}
    # Of the thing itself, so that the factor between sizes is that of the scale.
    own = [area for corners, area in places if _same(found.corners_px, corners)]
    factor = (own[0] / (found.object.width_mm * found.object.height_mm)) ** 0.5 if own else None
    return {
        "accepted": True,
        "kind": found.object.key,
        "others": float(sum(one.probability for one in found.rivals)),
        "told": any(one.code == CautionCode.IDENTITY for one in located.cautions),
        "asked": is_doubtful(found),
        "factor": factor,
        "likeliest": [(one.kind.key, round(one.probability, 3)) for one in found.rivals[:3]],
        "confidence": float(found.confidence),
    }


def _same(found_px: np.ndarray, corners_px: np.ndarray) -> bool:
    size = np.linalg.norm(corners_px[2] - corners_px[0])
    return bool(comparing.cyclic_error_px(found_px, corners_px) < 0.05 * size)


def is_silently_wrong(row: Row) -> bool:
    """Whether an outline is accepted with a scale more than 1 % off, and not a word."""
    return (
        row["accepted"] and not row["told"] and (row["factor"] is None or abs(np.log(row["factor"])) > 0.01)
    )


def real_jobs() -> Iterator[tuple[Path, Row]]:
    """Every real photograph at hand."""
    yield from ((entry["path"].parent, entry) for entry in at_hand())


def table(rows: list[Row]) -> None:
    """Print a line for each group."""
    for group in dict.fromkeys(row["group"] for row in rows):
        mine = [row for row in rows if row["group"] == group]
        taken = [row for row in mine if row["accepted"]]
        kinds = ", ".join(
            f"{sum(row['kind'] == kind for row in taken)} {kind}"
            for kind in sorted({r["kind"] for r in taken})
        )
        asked, wrong = sum(row["asked"] for row in taken), sum(map(is_silently_wrong, mine))
        told, left_open = sum(row["told"] for row in taken), sum(row.get("open", False) for row in mine)
        others = 100 * np.percentile([row["others"] for row in taken], (10, 50, 90)) if taken else (0, 0, 0)
        print(
            f"{group:26s} {len(mine):3d} photos, left open {left_open:3d},"
            f" accepted {len(taken):3d} ({kinds}), told {told:3d}, asked {asked:3d},"
            f" silently wrong {wrong:2d}; others' probability {others[0]:.0f}, {others[1]:.0f},"
            f" {others[2]:.0f} % (10th, 50th, 90th of 100)"
        )


def main() -> None:
    """Look at all, print the table, write the rows."""
    parser = argparse.ArgumentParser(description="What else an outline may be: how often it is asked.")
    parser.add_argument("--count", type=int, default=20, help="simulated photos of each thing")
    parser.add_argument("--start", type=int, default=0, help="skip this many seeds")
    parser.add_argument("--seeds", choices=("tuning", "held-out"), default="tuning")
    parser.add_argument("--megapixels", type=float, default=3.0)
    parser.add_argument("--jobs", type=int, default=1)
    parser.add_argument("--out", help="write the rows as JSON here")
    parser.add_argument("--things", default=",".join(THINGS), help="a comma list of the catalogue's keys")
    parser.add_argument("--no-real", action="store_true", help="leave the real photographs out")
    given = parser.parse_args()
    pool = TUNING_SEEDS if given.seeds == "tuning" else HELD_OUT_SEEDS
    seeds = pool[given.start : given.start + given.count]
    work = [
        (thing, seed, LEVELS[place % 2], given.megapixels)
        for thing in given.things.split(",")
        for place, seed in enumerate(seeds)
    ]
    real = [] if given.no_real else list(real_jobs())
    with ProcessPoolExecutor(given.jobs) as workers:
        rows = [*workers.map(examine_real, real), *workers.map(examine, work)]
    table(rows)
    if given.out:
        Path(given.out).write_text(json.dumps(rows, indent=1))


if __name__ == "__main__":
    main()
