"""Views of a plane with exact truth for tests of the kinds of measurement, and rendered shapes in them."""

import hashlib
from collections.abc import Callable

import cv2
import numpy as np
from numpy.typing import ArrayLike

from calibration.camera.prior import Camera
from calibration.image.exif import ExifFacts
from calibration.image.photo import Photo
from calibration.objects import ID1, ReferenceObject
from calibration.plane import Plane
from calibration.plane.fit import fit_plane
from measure.kinds.measuring import on_planes
from measure.kinds.terms import Choices, Measured
from tests.synthetic.optics import grey_levels, linear_light

SIZE = (1200, 900)
FOCAL = 1300.0


class View:
    """A pinhole view of a card at the origin of its plane (x right, y down, heights toward the camera)."""

    def __init__(
        self,
        *,
        tilt_deg: tuple[float, float, float] = (12.0, -8.0, 5.0),
        distance_mm: float = 300.0,
        looked: tuple[float, float] = (60.0, 40.0),
    ) -> None:
        self.rvec = np.radians(tilt_deg)
        R = cv2.Rodrigues(self.rvec)[0]
        self.tvec = np.array([0, 0, distance_mm]) - R @ [*looked, 0.0]
        self.K = np.array([[FOCAL, 0, (SIZE[0] - 1) / 2], [0, FOCAL, (SIZE[1] - 1) / 2], [0, 0, 1.0]])

    def see(self, points_mm: ArrayLike, height_mm: ArrayLike = 0.0) -> np.ndarray:
        flat = np.atleast_2d(np.asarray(points_mm, float))
        heights = np.broadcast_to(np.asarray(height_mm, float), (len(flat),))
        seen, _ = cv2.projectPoints(np.column_stack([flat, -heights]), self.rvec, self.tvec, self.K, None)
        return np.asarray(seen).reshape(-1, 2)

    def homography(self, height_mm: float = 0.0) -> np.ndarray:
        """Pixels to mm in the plane at this height."""
        R = cv2.Rodrigues(self.rvec)[0]
        columns = np.column_stack([R[:, 0], R[:, 1], self.tvec - height_mm * R[:, 2]])
        return np.linalg.inv(self.K @ columns)

    def plane(
        self, *, corner_std_px: float = 0.1, log_focal_std: float = 0.02, card: ReferenceObject = ID1
    ) -> Plane:
        camera = Camera(
            *SIZE, FOCAL, log_focal_std, (self.K[0, 2], self.K[1, 2]), 5.0, k1_std=0.01, source="test"
        )
        w, h = card.width_mm, card.height_mm
        corners = self.see(np.array([[0, 0], [w, 0], [w, h], [0, h]]))
        return fit_plane(camera, card, corners, np.eye(8) * corner_std_px**2)

    def photo(
        self,
        inside_mm: Callable[[np.ndarray], np.ndarray],
        *,
        height_mm: float = 0.0,
        tones: tuple[int, int] = (70, 190),
        blur_px: float = 0.8,
        noise: float = 1.0,
        seed: int = 1,
    ) -> Photo:
        """Render `inside_mm(points) -> bool` as a two-tone photo, blurred in linear light."""
        return photo_of(
            two_tone(
                inside_mm, self.homography(height_mm), tones=tones, blur_px=blur_px, noise=noise, seed=seed
            )
        )


def two_tone(
    inside_mm: Callable[[np.ndarray], np.ndarray],
    homography: np.ndarray,
    *,
    tones: tuple[int, int],
    blur_px: float,
    noise: float,
    seed: int,
    oversample: int = 2,
) -> np.ndarray:
    w, h = SIZE
    rows = []
    xs = (np.arange(w * oversample) + 0.5) / oversample - 0.5
    for first in range(0, h, 100):
        ys = first + (np.arange(100 * oversample) + 0.5) / oversample - 0.5
        points = np.stack(np.meshgrid(xs, ys), axis=-1).reshape(-1, 1, 2)
        mm = cv2.perspectiveTransform(points, homography).reshape(-1, 2)
        share: np.ndarray = inside_mm(mm).reshape(len(ys), len(xs)).astype(np.float32)
        rows.append(cv2.resize(share, (w, 100), interpolation=cv2.INTER_AREA))
    share = cv2.GaussianBlur(np.vstack(rows), (0, 0), blur_px)
    low, high = linear_light(tones).tolist()
    grey = grey_levels(low + (high - low) * share)
    rng = np.random.default_rng(seed)
    return np.clip(np.rint(grey[..., None] + rng.normal(0, noise, (h, w, 3))), 0, 255).astype(np.uint8)


def photo_of(pixels: np.ndarray, name: str = "test.png") -> Photo:
    pixels = np.ascontiguousarray(pixels)
    return Photo(pixels, name, hashlib.sha256(pixels.tobytes()).hexdigest(), ExifFacts())


def measure_kind(
    kind: str, photo: Photo, plane: Plane, clicks_px: ArrayLike, choices: Choices | None = None
) -> Measured:
    """Measure on one plane."""
    return on_planes(kind, photo, clicks_px, choices)(plane)
