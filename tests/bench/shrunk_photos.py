"""Known lengths on real photographs as taken, and shrunk without their Exif as a marketplace does.

    python -m tests.bench.shrunk_photos

Corners are given, so that only the camera assumed makes the difference. Photographs in ../shared, see
`real_photos`.
"""

from collections.abc import Iterator
from dataclasses import replace
from typing import Any

import cv2
import numpy as np

from calibration.image.photo import Photo, decode_photo, read_photo
from calibration.lens_seen import camera_seen
from calibration.objects import object_from_key
from calibration.plane.fit import fit_plane
from measure.kinds.span import measure_span
from tests.bench.real_photos import key_of
from tests.real_photos.manifest import at_hand

Row = dict[str, Any]

SIZES_PX = (None, 1280, 800)
# Lenses that bend: webcams, an action camera, board cameras.
_BENDING = ("opencv", "gopro", "lanecam", "c310", "aruco", "set_webcam")


def with_lengths() -> Iterator[Row]:
    """Truth of every photo with known lengths."""
    yield from (entry for entry in at_hand() if entry["spans"])


def shrunk(photo: Photo, longest_px: int) -> Photo:
    """Return the photo with its longer side this long, saved anew without Exif."""
    scale = longest_px / max(photo.width_px, photo.height_px)
    size = (round(photo.width_px * scale), round(photo.height_px * scale))
    small = cv2.resize(photo.pixels_bgr, size, interpolation=cv2.INTER_AREA)
    data = cv2.imencode(".jpg", small, [cv2.IMWRITE_JPEG_QUALITY, 90])[1]
    return decode_photo(data.tobytes(), photo.name)


def errors(entry: Row, longest_px: int | None = None) -> np.ndarray | None:
    """Errors and expanded uncertainties, (N, 2) in %, as taken or shrunk; None where it is no larger."""
    photo = read_photo(entry["path"])
    own = np.array([photo.width_px, photo.height_px])
    if longest_px is not None:
        if own.max() < 1.15 * longest_px:
            return None
        photo = shrunk(photo, longest_px)
    scale = np.array([photo.width_px, photo.height_px]) / own
    reference = entry["reference"]
    sides = {side: reference[side] for side in ("width_mm", "height_mm")}
    kind = replace(object_from_key(key_of(reference)), **sides)
    corner_std_px = max(0.15, 0.5 * entry.get("corner_uncertainty_px", 0.3) * scale.mean())
    corners = (np.array(reference["corners_px"]) + 0.5) * scale - 0.5
    plane = fit_plane(camera_seen(photo), kind, corners, corner_std_px**2 * np.eye(8))
    rows = []
    for span in entry["spans"]:
        ends = (np.array(span["p_px"]) + 0.5) * scale - 0.5
        how = {"standoff_mm": span["standoff_mm"], "standoff_std_mm": 0.05, "click_std_px": 0.5}
        length = measure_span(plane, ends, **how)
        rows.append(
            (length.value_mm / span["length_mm"] - 1, length.expanded_uncertainty_mm / span["length_mm"])
        )
    return 100 * np.array(rows)


def groups() -> dict[str, tuple[int, np.ndarray]]:
    """Rows of `errors` by group of photos."""
    found: dict[str, list[np.ndarray]] = {}
    for entry in with_lengths():
        bends = entry["id"].startswith(_BENDING)
        for size in SIZES_PX:
            rows = errors(entry, size)
            if rows is not None:
                how = "as they are" if size is None else f"shrunk to {size} px"
                tiny = size is None and not bends and max(entry["image_size"]) < 600
                who = "webcams and action cameras" if bends else "phones, tiny" if tiny else "phones, cameras"
                found.setdefault(f"{who}, {how}", []).append(rows)
    return {name: (len(rows), np.concatenate(rows)) for name, rows in found.items()}


def main() -> None:
    """Print a line for each group."""
    for name, (photos, rows) in groups().items():
        off, held = np.abs(rows[:, 0]), np.mean(np.abs(rows[:, 0]) <= rows[:, 1])
        print(
            f"{name:48s} {photos:3d} photos {len(rows):4d} lengths: error median {np.median(off):5.2f} %,"
            f" p95 {np.percentile(off, 95):5.2f} %, bias {np.median(rows[:, 0]):+5.2f} %,"
            f" held {100 * held:5.1f} %, U {np.median(rows[:, 1]):5.2f} %"
        )


if __name__ == "__main__":
    main()
