"""Photos of one card on a plain table whose edges lie exactly where the pinhole camera puts them.

The card has its thickness: where the camera sees its cut side, that lies between the face and the table.
"""

from typing import Any

import cv2
import numpy as np
from numpy.typing import ArrayLike
from scipy.special import ndtr

from calibration.camera.prior import Camera
from calibration.image import Photo
from calibration.image.photo import decode_photo
from calibration.objects import ReferenceObject
from tests.synthetic.optics import grey_levels, linear_light
from tests.synthetic.raster import rounded_rectangle_sdf

WIDTH_PX, HEIGHT_PX, FOCAL_PX = 1600, 1200, 1300.0


def camera(log_focal_std: float = 0.03) -> Camera:
    centre = ((WIDTH_PX - 1) / 2, (HEIGHT_PX - 1) / 2)
    return Camera(WIDTH_PX, HEIGHT_PX, FOCAL_PX, log_focal_std, centre, 10.0, source="test")


def project(
    kind: ReferenceObject,
    points_mm: ArrayLike,
    *,
    tilt_deg: float = 20.0,
    turn_deg: float = 15.0,
    distance_mm: float = 300.0,
    shift_mm: tuple[float, float] = (0.0, 0.0),
) -> np.ndarray:
    """Pixels of points (N, 2 or 3), mm, on the card's face or below it; tilted about the picture's x axis."""
    turn, tilt = np.radians(turn_deg), np.radians(tilt_deg)
    about_z = np.array([[np.cos(turn), -np.sin(turn), 0], [np.sin(turn), np.cos(turn), 0], [0, 0, 1]])
    about_x = np.array([[1, 0, 0], [0, np.cos(tilt), -np.sin(tilt)], [0, np.sin(tilt), np.cos(tilt)]])
    points = np.asarray(points_mm, float)
    below = points[:, 2] if points.shape[1] == 3 else np.zeros(len(points))
    centred = np.c_[points[:, :2] - [kind.width_mm / 2, kind.height_mm / 2], below]
    seen = centred @ (about_x @ about_z).T + [*shift_mm, distance_mm]
    pixels: np.ndarray = seen[:, :2] / seen[:, 2:] * FOCAL_PX + [(WIDTH_PX - 1) / 2, (HEIGHT_PX - 1) / 2]
    return pixels


def corners_of(kind: ReferenceObject, **view: Any) -> np.ndarray:
    w, h = kind.width_mm, kind.height_mm
    return project(kind, np.array([[0, 0], [w, 0], [w, h], [0, h]], float), **view)


def photo_of(
    kind: ReferenceObject,
    *,
    card: ArrayLike = (200, 190, 60),
    table: ArrayLike = (90, 110, 130),
    frame: float | None = None,
    blur_px: float = 0.8,
    noise: float = 1.5,
    seed: int = 0,
    **view: Any,
) -> tuple[Photo, np.ndarray]:
    """The photo and the card's corners (4, 2); frame draws a printed line that many mm inside the rim."""
    corners = corners_of(kind, **view)
    w, h = kind.width_mm, kind.height_mm
    inside = whole = _seen(kind, 0.0, blur_px, view)
    for share in (0.33, 0.66, 1.0):
        whole = np.maximum(whole, _seen(kind, share * kind.thickness_mm, blur_px, view))
    rim = 0.7 * linear_light(card)
    light = (
        linear_light(table)
        + whole[..., None] * (rim - linear_light(table))
        + inside[..., None] * (linear_light(card) - rim)
    )
    if frame is not None:
        mm_x, mm_y = _on_plane(kind, 0.0, view)
        line = _coverage(mm_x, mm_y, (frame, frame, w - 2 * frame, h - 2 * frame), 0.0, blur_px)
        light += line[..., None] * (linear_light((40, 40, 160)) - linear_light(card))
    rng = np.random.default_rng(seed)
    encoded = grey_levels(light) + rng.normal(0, noise, light.shape)
    data = cv2.imencode(".png", np.clip(np.rint(encoded), 0, 255).astype(np.uint8))[1].tobytes()
    return decode_photo(data, "simulated.png"), corners


def _on_plane(kind: ReferenceObject, depth_mm: float, view: dict[str, Any]) -> tuple[np.ndarray, np.ndarray]:
    """The coordinates that each pixel shows on the plane of the face, or so deep below it."""
    w, h = kind.width_mm, kind.height_mm
    flat = np.array([[0, 0], [w, 0], [w, h], [0, h]], np.float32)
    seen = project(kind, np.c_[flat, np.full(4, depth_mm)], **view).astype(np.float32)
    inverse = cv2.getPerspectiveTransform(seen, flat).astype(float)
    x, y = np.meshgrid(np.arange(WIDTH_PX, dtype=float), np.arange(HEIGHT_PX, dtype=float))
    scale = inverse[2, 0] * x + inverse[2, 1] * y + inverse[2, 2]
    mm_x = (inverse[0, 0] * x + inverse[0, 1] * y + inverse[0, 2]) / scale
    return mm_x, (inverse[1, 0] * x + inverse[1, 1] * y + inverse[1, 2]) / scale


def _seen(kind: ReferenceObject, depth_mm: float, blur_px: float, view: dict[str, Any]) -> np.ndarray:
    """Share of each pixel that the card's outline, so deep below its face, covers."""
    box = (0, 0, kind.width_mm, kind.height_mm)
    return _coverage(*_on_plane(kind, depth_mm, view), box, kind.corner_radius_mm, blur_px)


def _coverage(
    mm_x: np.ndarray, mm_y: np.ndarray, box: tuple[float, float, float, float], radius: float, blur_px: float
) -> np.ndarray:
    distance = rounded_rectangle_sdf(np.stack([mm_x, mm_y], axis=-1), *box, radius)
    down, across = np.gradient(distance)
    share: np.ndarray = ndtr(-distance / np.maximum(np.hypot(down, across), 1e-9) / blur_px)
    return share
