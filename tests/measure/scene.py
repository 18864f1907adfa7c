"""Views of a plane with exact truth for tests of the kinds of measurement, and rendered shapes in them."""

import hashlib

import cv2
import numpy as np

from calibration.camera.prior import Camera
from calibration.image.exif import ExifFacts
from calibration.image.photo import Photo
from calibration.objects import ID1
from calibration.plane.fit import fit_plane
from measure.kinds.measuring import on_planes

SIZE = (1200, 900)
FOCAL = 1300.0


class View:
    """A pinhole view of a card at the origin of its plane (x right, y down, heights toward the camera)."""

    def __init__(self, *, tilt_deg=(12.0, -8.0, 5.0), distance_mm=300.0, looked=(60.0, 40.0)):
        self.rvec = np.radians(tilt_deg)
        R = cv2.Rodrigues(self.rvec)[0]
        self.tvec = np.array([0, 0, distance_mm]) - R @ [*looked, 0.0]
        self.K = np.array([[FOCAL, 0, (SIZE[0] - 1) / 2], [0, FOCAL, (SIZE[1] - 1) / 2], [0, 0, 1.0]])

    def see(self, points_mm, height_mm=0.0):
        flat = np.atleast_2d(np.asarray(points_mm, float))
        heights = np.broadcast_to(np.asarray(height_mm, float), (len(flat),))
        seen, _ = cv2.projectPoints(np.column_stack([flat, -heights]), self.rvec, self.tvec, self.K, None)
        return np.asarray(seen).reshape(-1, 2)

    def homography(self, height_mm=0.0):
        """Pixels to mm in the plane at this height."""
        R = cv2.Rodrigues(self.rvec)[0]
        columns = np.column_stack([R[:, 0], R[:, 1], self.tvec - height_mm * R[:, 2]])
        return np.linalg.inv(self.K @ columns)

    def plane(self, *, corner_std_px=0.1, log_focal_std=0.02, card=ID1):
        camera = Camera(
            *SIZE, FOCAL, log_focal_std, (self.K[0, 2], self.K[1, 2]), 5.0, k1_std=0.01, source="test"
        )
        w, h = card.width_mm, card.height_mm
        corners = self.see([[0, 0], [w, 0], [w, h], [0, h]])
        return fit_plane(camera, card, corners, np.eye(8) * corner_std_px**2)

    def photo(self, inside_mm, *, height_mm=0.0, tones=(70, 190), blur_px=0.8, noise=1.0, seed=1, box=None):
        """Render `inside_mm(points) -> bool` as a two-tone photo, blurred in linear light."""
        return photo_of(
            two_tone(
                inside_mm, self.homography(height_mm), tones=tones, blur_px=blur_px, noise=noise, seed=seed
            )
        )


def two_tone(inside_mm, homography, *, tones, blur_px, noise, seed, oversample=2):
    w, h = SIZE
    rows = []
    xs = (np.arange(w * oversample) + 0.5) / oversample - 0.5
    for first in range(0, h, 100):
        ys = first + (np.arange(100 * oversample) + 0.5) / oversample - 0.5
        points = np.stack(np.meshgrid(xs, ys), axis=-1).reshape(-1, 1, 2)
        mm = cv2.perspectiveTransform(points, homography).reshape(-1, 2)
        share = inside_mm(mm).reshape(len(ys), len(xs)).astype(np.float32)
        rows.append(cv2.resize(share, (w, 100), interpolation=cv2.INTER_AREA))
    share = cv2.GaussianBlur(np.vstack(rows), (0, 0), blur_px)
    low, high = (_linear(tone / 255.0) for tone in tones)
    grey = 255 * _encoded(low + (high - low) * share)
    rng = np.random.default_rng(seed)
    return np.clip(np.rint(grey[..., None] + rng.normal(0, noise, (h, w, 3))), 0, 255).astype(np.uint8)


def _linear(level):
    return level / 12.92 if level <= 0.04045 else ((level + 0.055) / 1.055) ** 2.4


def _encoded(light):
    return np.where(light <= 0.0031308, 12.92 * light, 1.055 * np.maximum(light, 1e-9) ** (1 / 2.4) - 0.055)


def photo_of(pixels, name="test.png"):
    pixels = np.ascontiguousarray(pixels)
    return Photo(pixels, name, hashlib.sha256(pixels.tobytes()).hexdigest(), ExifFacts())


def measure_kind(kind, photo, plane, clicks_px, choices=None):
    """Measure on one plane."""
    return on_planes(kind, photo, clicks_px, choices)(plane)
