"""Every real photograph as a stranger's would come, by group, the worst group first.

    python -m tests.bench.real_groups --part developers --jobs 2

Three passes over each photograph: nothing named (is a plane given, and is it silently wrong), the kind named
(are the corners in their 95 % region, do intervals hold the known lengths), and the corners given (do they).
The sources in ASIDE are looked at only for a last measurement, with `--part aside`.
"""

import argparse
import json
from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from calibration import locate, read_photo
from calibration.errors import CalibrationError
from calibration.image import Photo
from calibration.lens_seen import camera_seen
from calibration.objects import object_from_key
from calibration.plane import Plane, fit_plane
from measure.kinds import measure_span
from tests.bench import comparing
from tests.bench.real_photos import key_of
from tests.real_photos.manifest import at_hand, photos

Array = NDArray[np.float64]
Row = dict[str, Any]
ASIDE = ("Migran99/", "carlbunn/", "maciejczyzewski/", "abakisita/", "udacity/CarND-Camera", "zxing/")
"""Sources kept aside, about a third of them."""
SMALL_PX = 1_300_000
CLICK_STD_PX = 0.5
CHI2_TWO_95 = 5.991
"""95 % point of chi-squared with two degrees of freedom (tables)."""


def is_aside(entry: Row) -> bool:
    """Whether a photograph belongs to the part that is not looked at while developing."""
    sources = {photo.truth["id"]: photo.repository for photo in photos()}
    return any(name in sources[entry["id"]] for name in ASIDE)


def group_of(entry: Row) -> str:
    """Kind of reference and size of picture."""
    kind = entry["reference"]["kind"]
    sides = {entry["reference"].get("width_mm"), entry["reference"].get("height_mm")}
    names = {"id1": "bank cards", "trading": "trading cards", "bridge": "playing cards", "a4": "sheets"}
    name = "playing cards" if kind == "rect" and sides == {57, 87} else names.get(kind, "boards")
    if kind == "none":
        return "no reference"
    width_px, height_px = entry["image_size"]
    return f"{name}, {'small' if width_px * height_px <= SMALL_PX else 'large'}"


def examine(entry: Row) -> Row:
    """Look at one photograph in all three ways; a plain dict."""
    photo = read_photo(entry["path"])
    row = {"id": entry["id"], "group": group_of(entry), "unnamed": _unnamed(photo, entry)}
    if entry["reference"]["kind"] != "none":
        row["named"] = _named(photo, entry)
        row["given"] = _given(photo, entry)
    return row


def _unnamed(photo: Photo, entry: Row) -> Row:
    located = locate(photo)
    if located.plane is None:
        return {"accepted": False}
    found = located.found
    told = {"accepted": True, "cautions": [one.code for one in located.cautions]}
    if found is None or entry["reference"]["kind"] == "none":
        return told | {"kind": found.object.key if found else "target", "scale_percent": None}
    return told | {"kind": found.object.key, "scale_percent": _scale_percent(located.plane, entry)}


def _scale_percent(plane: Plane, entry: Row) -> float | None:
    """Return the error of the scale at the true reference, in %; where it lies elsewhere it is large, too."""
    width_mm, height_mm = entry["reference"]["width_mm"], entry["reference"]["height_mm"]
    mm = plane.to_mm(entry["reference"]["corners_px"])
    area_mm2 = comparing.area_px2(mm)
    return float(100.0 * (np.sqrt(area_mm2 / (width_mm * height_mm)) - 1.0))


def _named(photo: Photo, entry: Row) -> Row:
    located = locate(photo, object_key=key_of(entry["reference"]))
    found, plane = located.found, located.plane
    if plane is None or found is None:
        return {"accepted": False}
    truth = _same_outline(np.asarray(found.corners_px), entry)
    told: Row = {"accepted": True, "right": truth is not None, "spans": _spans(plane, entry)}
    if truth is not None:
        # Corners are known to so many pixels themselves.
        own_var = (0.5 * entry.get("corner_uncertainty_px", 0.5)) ** 2
        cov = np.asarray(found.corners_cov_px2) + own_var * np.eye(8)
        off = np.asarray(found.corners_px) - truth
        two = [
            float(off[i] @ np.linalg.solve(cov[2 * i : 2 * i + 2, 2 * i : 2 * i + 2], off[i]))
            for i in range(4)
        ]
        told |= {"corner_chi2": two, "corner_px": float(np.linalg.norm(off, axis=1).max())}
    return told


def _same_outline(found_px: Array, entry: Row) -> Array | None:
    """Return the true corners of the thing found, in the found order; None if nothing lies there."""
    places = [entry["reference"], *entry.get("other_references", [])]
    for place in places:
        true = np.array(place["corners_px"], dtype=float)
        orders = [np.roll(each, k, axis=0) for each in (true, true[::-1]) for k in range(4)]
        best = min(orders, key=lambda each: float(np.linalg.norm(each - found_px, axis=1).max()))
        if np.linalg.norm(best - found_px, axis=1).max() < 0.05 * np.linalg.norm(true[2] - true[0]):
            return best
    return None


def _given(photo: Photo, entry: Row) -> Row:
    reference = entry["reference"]
    kind = object_from_key(f"{reference['width_mm']:g}x{reference['height_mm']:g}")
    std_px = max(0.15, 0.5 * entry.get("corner_uncertainty_px", 0.3))
    try:
        plane = fit_plane(camera_seen(photo), kind, reference["corners_px"], std_px**2 * np.eye(8))
    except CalibrationError as error:
        return {"failed": str(error)}
    return {"spans": _spans(plane, entry)}


def _spans(plane: Plane, entry: Row) -> list[tuple[float, float]]:
    """Error and U of each known length, in %; the truth's own uncertainty is part of U."""
    rows = []
    floor = 1.96 * entry.get("truth_floor_median_pct", 0.0) / 0.6745
    for span in entry["spans"]:
        length = measure_span(
            plane,
            span["p_px"],
            standoff_mm=span["standoff_mm"],
            standoff_std_mm=0.05,
            click_std_px=CLICK_STD_PX,
        )
        u_percent = 100.0 * length.expanded_uncertainty_mm / span["length_mm"]
        rows.append((100.0 * (length.value_mm / span["length_mm"] - 1.0), float(np.hypot(u_percent, floor))))
    return rows


def lines(rows: list[Row]) -> Iterator[str]:
    """Yield the three tables."""
    groups = sorted({row["group"] for row in rows})
    yield "== nothing named: silently wrong is a scale more than 1 % off without any caution"
    for group in groups:
        mine = [row for row in rows if row["group"] == group]
        taken = [row for row in mine if row["unnamed"]["accepted"]]
        wrong = [row for row in taken if _is_off(row["unnamed"])]
        silent = [row["id"] for row in wrong if not row["unnamed"]["cautions"]]
        counts = f"{len(mine):3d} photos, a plane {len(taken):3d}, off {len(wrong):3d}"
        yield f"{group:24s} {counts}, silent {silent}"
    for way in ("named", "given"):
        yield f"== {way}"
        told = [
            (group, _told([row[way] for row in rows if row["group"] == group and way in row]))
            for group in groups
        ]
        yield from (f"{group:24s} {words}" for group, words in told if words)


def _is_off(told: Row) -> bool:
    return told["scale_percent"] is None or abs(told["scale_percent"]) > 1.0


def _told(mine: list[Row]) -> str:
    if not mine:
        return ""
    words = f"{len(mine):3d} photos, accepted {sum(one.get('accepted', True) for one in mine):3d}"
    corners = [value for one in mine for value in one.get("corner_chi2", [])]
    if corners:
        held = np.mean(np.array(corners) <= CHI2_TWO_95)
        worst = np.median([one["corner_px"] for one in mine if "corner_px" in one])
        words += f", corners held {100 * held:5.1f} % of {len(corners)}, worst of four {worst:.2f} px"
    spans = np.array([pair for one in mine for pair in one.get("spans", [])])
    if len(spans):
        ratio = np.abs(spans[:, 0]) / spans[:, 1]
        off = np.abs(spans[:, 0])
        words += (
            f"; {len(spans)} lengths held {100 * np.mean(ratio <= 1):5.1f} %, error {np.median(off):.2f} /"
            f" {np.percentile(off, 95):.2f} %, bias {np.median(spans[:, 0]):+.2f} %,"
            f" U {np.median(spans[:, 1]):.2f} %, U is {1 / np.percentile(ratio, 95):.2f} x what 95 % need"
        )
    return words


def main() -> None:
    """Look at all photographs of a part and print the tables."""
    parser = argparse.ArgumentParser(description="Real photographs by group.")
    parser.add_argument("--part", choices=("developers", "aside", "all"), default="developers")
    parser.add_argument("--jobs", type=int, default=1)
    parser.add_argument("--out", help="write the rows as JSON here")
    args = parser.parse_args()
    entries = [one for one in at_hand() if args.part == "all" or is_aside(one) == (args.part == "aside")]
    with ProcessPoolExecutor(args.jobs) as pool:
        rows = list(pool.map(examine, entries))
    print("\n".join(lines(rows)))
    if args.out:
        Path(args.out).write_text(json.dumps(rows, indent=1))


if __name__ == "__main__":
    main()
