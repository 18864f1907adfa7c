"""Photos of one card on a plain table whose edges lie exactly where the pinhole camera puts them.

The card has its thickness: where the camera sees its cut side, that lies between the face and the table.
"""

import cv2
import numpy as np
from scipy.special import ndtr

from calibration.camera.prior import Camera
from calibration.image.photo import decode_photo

WIDTH_PX, HEIGHT_PX, FOCAL_PX = 1600, 1200, 1300.0


def camera(log_focal_std=0.03):
    centre = ((WIDTH_PX - 1) / 2, (HEIGHT_PX - 1) / 2)
    return Camera(WIDTH_PX, HEIGHT_PX, FOCAL_PX, log_focal_std, centre, 10.0, source="test")


def project(kind, points_mm, *, tilt_deg=20.0, turn_deg=15.0, distance_mm=300.0, shift_mm=(0.0, 0.0)):
    """Pixels of points (N, 2 or 3), mm, on the card's face or below it; tilted about the picture's x axis."""
    turn, tilt = np.radians(turn_deg), np.radians(tilt_deg)
    about_z = np.array([[np.cos(turn), -np.sin(turn), 0], [np.sin(turn), np.cos(turn), 0], [0, 0, 1]])
    about_x = np.array([[1, 0, 0], [0, np.cos(tilt), -np.sin(tilt)], [0, np.sin(tilt), np.cos(tilt)]])
    points = np.asarray(points_mm, float)
    below = points[:, 2] if points.shape[1] == 3 else np.zeros(len(points))
    centred = np.c_[points[:, :2] - [kind.width_mm / 2, kind.height_mm / 2], below]
    seen = centred @ (about_x @ about_z).T + [*shift_mm, distance_mm]
    return seen[:, :2] / seen[:, 2:] * FOCAL_PX + [(WIDTH_PX - 1) / 2, (HEIGHT_PX - 1) / 2]


def corners_of(kind, **view):
    w, h = kind.width_mm, kind.height_mm
    return project(kind, np.array([[0, 0], [w, 0], [w, h], [0, h]], float), **view)


def photo_of(
    kind, *, card=(200, 190, 60), table=(90, 110, 130), frame=None, blur_px=0.8, noise=1.5, seed=0, **view
):
    """The photo and the card's corners (4, 2); frame draws a printed line that many mm inside the rim."""
    corners = corners_of(kind, **view)
    w, h = kind.width_mm, kind.height_mm
    inside = whole = _seen(kind, 0.0, blur_px, view)
    for share in (0.33, 0.66, 1.0):
        whole = np.maximum(whole, _seen(kind, share * kind.thickness_mm, blur_px, view))
    rim = 0.7 * _linear(card)
    light = (
        _linear(table) + whole[..., None] * (rim - _linear(table)) + inside[..., None] * (_linear(card) - rim)
    )
    if frame is not None:
        mm_x, mm_y = _on_plane(kind, 0.0, view)
        line = _coverage(mm_x, mm_y, (frame, frame, w - 2 * frame, h - 2 * frame), 0.0, blur_px)
        light += line[..., None] * (_linear((40, 40, 160)) - _linear(card))
    rng = np.random.default_rng(seed)
    encoded = _encoded(light) + rng.normal(0, noise, light.shape)
    data = cv2.imencode(".png", np.clip(np.rint(encoded), 0, 255).astype(np.uint8))[1].tobytes()
    return decode_photo(data, "simulated.png"), corners


def _on_plane(kind, depth_mm, view):
    """The coordinates that each pixel shows on the plane of the face, or so deep below it."""
    w, h = kind.width_mm, kind.height_mm
    flat = np.array([[0, 0], [w, 0], [w, h], [0, h]], np.float32)
    seen = project(kind, np.c_[flat, np.full(4, depth_mm)], **view).astype(np.float32)
    inverse = cv2.getPerspectiveTransform(seen, flat).astype(float)
    x, y = np.meshgrid(np.arange(WIDTH_PX, dtype=float), np.arange(HEIGHT_PX, dtype=float))
    scale = inverse[2, 0] * x + inverse[2, 1] * y + inverse[2, 2]
    mm_x = (inverse[0, 0] * x + inverse[0, 1] * y + inverse[0, 2]) / scale
    return mm_x, (inverse[1, 0] * x + inverse[1, 1] * y + inverse[1, 2]) / scale


def _seen(kind, depth_mm, blur_px, view):
    """Share of each pixel that the card's outline, so deep below its face, covers."""
    box = (0, 0, kind.width_mm, kind.height_mm)
    return _coverage(*_on_plane(kind, depth_mm, view), box, kind.corner_radius_mm, blur_px)


def _coverage(mm_x, mm_y, box, radius, blur_px):
    left, top, width, height = box
    qx = np.abs(mm_x - left - width / 2) - width / 2 + radius
    qy = np.abs(mm_y - top - height / 2) - height / 2 + radius
    distance = np.hypot(np.maximum(qx, 0), np.maximum(qy, 0)) + np.minimum(np.maximum(qx, qy), 0) - radius
    down, across = np.gradient(distance)
    return ndtr(-distance / np.maximum(np.hypot(down, across), 1e-9) / blur_px)


def _linear(bgr):
    value = np.asarray(bgr, float) / 255
    return np.where(value <= 0.04045, value / 12.92, ((value + 0.055) / 1.055) ** 2.4)


def _encoded(light):
    return 255 * np.where(
        light <= 0.0031308, 12.92 * light, 1.055 * np.maximum(light, 1e-9) ** (1 / 2.4) - 0.055
    )
