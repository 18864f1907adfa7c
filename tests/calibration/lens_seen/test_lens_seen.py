"""The lens by straight edges: told where they agree, left open where they don't."""

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray

from calibration.camera import Camera, camera_from_photo, lens_distortion
from calibration.image import Photo, decode_photo
from calibration.lens_seen import camera_seen

WIDTH_PX, HEIGHT_PX = 800, 600
BOOKS = ((60, 50, 330, 240, 4), (420, 40, 300, 200, -7), (70, 340, 300, 210, -3), (450, 310, 290, 230, 11))


def seen_through(division: float, scene: NDArray[np.uint8], rng: np.random.Generator) -> Photo:
    """Return a scene, drawn at twice the size, as a camera with this lens sees it; a PNG without Exif."""
    camera = camera_from_photo(_photo(np.zeros((HEIGHT_PX, WIDTH_PX, 3), dtype=np.uint8)))
    grid = np.stack(np.meshgrid(np.arange(WIDTH_PX), np.arange(HEIGHT_PX)), axis=-1).astype(float)
    rays = (grid - camera.principal_point_px) / camera.focal_px
    # A barrel lens sees more of the scene: all of its corners stay in view.
    flat = lens_distortion.undistort_division(rays, division)
    flat *= np.abs(rays[0, 0, 0]) / max(np.abs(flat[0, 0, 0]), np.abs(rays[0, 0, 0]))
    at = ((flat * camera.focal_px + camera.principal_point_px) * 2.0 + 0.5).astype(np.float32)
    seen = cv2.remap(cv2.GaussianBlur(scene, (0, 0), 1.6), at, None, cv2.INTER_LINEAR)
    return _photo(np.clip(seen + rng.normal(0.0, 3.0, seen.shape), 0, 255).astype(np.uint8))


def _photo(pixels_bgr: NDArray[np.uint8]) -> Photo:
    return decode_photo(cv2.imencode(".png", pixels_bgr)[1].tobytes(), "scene.png")


def books(rng: np.random.Generator) -> NDArray[np.uint8]:
    """Draw four rectangles that lie about."""
    scene = np.full((2 * HEIGHT_PX, 2 * WIDTH_PX, 3), 90, dtype=np.uint8)
    for x, y, width, height, degrees in BOOKS:
        middle = (2.0 * x + width, 2.0 * y + height)
        turned = degrees + rng.uniform(-4.0, 4.0)
        corners = cv2.boxPoints((middle, (2.0 * width, 2.0 * height), turned))
        colour = [int(one) for one in rng.integers(170, 240, 3)]
        cv2.fillPoly(scene, [np.round(corners * 16).astype(np.int32)], colour, cv2.LINE_AA, 4)
    return scene


def plates(rng: np.random.Generator) -> NDArray[np.uint8]:
    """Draw round things only, some of them so large that only an arc is in view."""
    scene = np.full((2 * HEIGHT_PX, 2 * WIDTH_PX, 3), 90, dtype=np.uint8)
    for radius in (1500, 900, 500, 300, 200, 150):
        x, y = rng.uniform(0, 2 * WIDTH_PX), rng.uniform(0, 2 * HEIGHT_PX)
        if radius >= 900:
            x += np.sign(x - WIDTH_PX) * radius * 0.8
        colour = [int(one) for one in rng.integers(20, 240, 3)]
        cv2.circle(scene, (int(x), int(y)), radius, colour, -1, cv2.LINE_AA)
    return scene


def off(camera: Camera, division: float) -> float:
    """Return by how much a camera's lens is off, in standard uncertainties."""
    return abs(camera.division - division) / camera.k1_std


@pytest.mark.parametrize("division", [-0.3, -0.16, -0.08, 0.0, 0.03])
def test_straight_edges_tell_the_lens(division: float) -> None:
    rng = np.random.default_rng(7)
    photo = seen_through(division, books(rng), rng)
    camera = camera_seen(photo)
    assert camera.k1_std < camera_from_photo(photo).k1_std
    assert off(camera, division) < 2.0


def test_a_straight_picture_is_told_to_be_straight() -> None:
    rng = np.random.default_rng(3)
    camera = camera_seen(seen_through(0.0, books(rng), rng))
    assert abs(camera.division) < 0.02
    assert 0.015 <= camera.k1_std < 0.03


@pytest.mark.parametrize("seed", range(8))
def test_curved_things_say_nothing(seed: int) -> None:
    rng = np.random.default_rng(seed)
    photo = seen_through(0.0, plates(rng), rng)
    assert camera_seen(photo) == camera_from_photo(photo)


def test_the_same_picture_gives_the_same_lens() -> None:
    rng = np.random.default_rng(5)
    photo = seen_through(-0.1, books(rng), rng)
    assert camera_seen(photo) == camera_seen(photo)


def test_a_blank_picture_keeps_the_camera() -> None:
    photo = _photo(np.full((HEIGHT_PX, WIDTH_PX, 3), 128, dtype=np.uint8))
    assert camera_seen(photo) == camera_from_photo(photo)
