"""The camera: where a point falls in the picture, and what the lens and the sensor do to the light."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np


@dataclass(frozen=True, eq=False)
class Camera:
    """A camera at rest. Picture coordinates: x right, y down, (0, 0) the centre of the top-left pixel.

    ``rotation`` takes world axes (mm, z up) to camera axes (x right, y down, z forward); ``centre_mm`` is the
    pinhole in the world. The lens moves x = X/Z to x (1 + k1 r^2).
    """

    width_px: int
    height_px: int
    focal_px: float
    principal_point_px: tuple[float, float]
    k1: float
    rotation: np.ndarray
    centre_mm: np.ndarray

    def project(self, world_mm) -> np.ndarray:
        local = (np.atleast_2d(world_mm) - self.centre_mm) @ self.rotation.T
        x = local[:, :2] / local[:, 2:]
        x = x * (1.0 + self.k1 * np.sum(x**2, axis=1, keepdims=True))
        return self.focal_px * x + np.asarray(self.principal_point_px)

    def undistorted(self, points_px) -> np.ndarray:
        """Return X/Z, Y/Z of picture points (Newton's method on the radius)."""
        xd = (np.atleast_2d(points_px) - np.asarray(self.principal_point_px)) / self.focal_px
        rd = np.linalg.norm(xd, axis=1, keepdims=True)
        r = rd.copy()
        for _ in range(6):
            r -= (r * (1 + self.k1 * r**2) - rd) / (1 + 3 * self.k1 * r**2)
        return xd * np.where(rd > 0, r / np.maximum(rd, 1e-12), 1.0)


def aim(target_mm, distance_mm: float, tilt_deg: float, azimuth_deg: float, roll_deg: float = 0.0):
    """Return rotation and centre of a camera that looks at a point.

    ``tilt_deg`` is the angle from looking straight down; at azimuth 0 the camera leans back towards -y.
    """
    tilt, azimuth = np.radians(tilt_deg), np.radians(azimuth_deg)
    away = np.array([-np.sin(tilt) * np.sin(azimuth), -np.sin(tilt) * np.cos(azimuth), np.cos(tilt)])
    forward = -away
    level = np.array([np.cos(azimuth), -np.sin(azimuth), 0.0])
    down = np.cross(forward, level)
    c, s = np.cos(np.radians(roll_deg)), np.sin(np.radians(roll_deg))
    rotation = np.array([c * level + s * down, -s * level + c * down, forward])
    return rotation, np.asarray(target_mm, float) + distance_mm * away


def margin_px(camera: Camera) -> int:
    """Return how far beyond the picture the pinhole picture must reach."""
    w, h = camera.width_px, camera.height_px
    t = np.linspace(0, 1, 33)[:, None]
    edge = np.vstack([t * (w, 0), t * (w, 0) + (0, h), t * (0, h), t * (0, h) + (w, 0)]) - 0.5
    reach = np.abs(camera.focal_px * camera.undistorted(edge)) - (w / 2, h / 2)
    return int(np.ceil(max(reach.max(), 0.0))) + 6


def through_lens(pinhole: np.ndarray, camera: Camera) -> np.ndarray:
    """Resample a centred pinhole picture, ``margin_px`` wider on each side, into the camera's picture."""
    height, width = pinhole.shape[:2]
    out = np.empty((camera.height_px, camera.width_px, 3), np.float32)
    x = np.arange(camera.width_px)
    for y0 in range(0, camera.height_px, 256):
        rows = np.arange(y0, min(y0 + 256, camera.height_px))
        points = np.stack(np.meshgrid(x, rows), -1).reshape(-1, 2)
        source = camera.focal_px * camera.undistorted(points) + ((width - 1) / 2, (height - 1) / 2)
        grid = source.astype(np.float32).reshape(len(rows), -1, 2)
        out[rows] = cv2.remap(
            pinhole, grid[..., 0], grid[..., 1], cv2.INTER_CUBIC, borderMode=cv2.BORDER_REPLICATE
        )
    return np.maximum(out, 0.0)


@dataclass(frozen=True)
class Look:
    """How a phone develops a picture."""

    exposure: float = 1.0
    white_balance: tuple[float, float, float] = (1.0, 1.0, 1.0)  # gains of red, green and blue
    blur_px: float = 0.7  # standard deviation of the lens's blur
    noise: float = 0.004  # standard deviation at mid grey, full scale 1
    vignette: float = 0.18
    smoothing: float = 7.0  # how large a step in 8-bit levels the phone's noise filter takes for noise
    sharpen: float = 0.35
    saturation: float = 1.05


def filmic(x: np.ndarray) -> np.ndarray:
    """Return a soft-shouldered tone curve, sRGB coded."""
    x = np.maximum(x, 0.0)
    x = np.where(x < 0.7, x, 0.7 + 0.3 * (1 - np.exp(-(x - 0.7) / 0.3)))
    x = np.minimum(x, 1.0)
    return np.where(x < 0.0031308, 12.92 * x, 1.055 * x ** (1 / 2.4) - 0.055)


def develop(linear: np.ndarray, camera: Camera, look: Look, rng: np.random.Generator) -> np.ndarray:
    """Return 8-bit RGB of a linear picture: blur, vignette, noise, tone, sharpening."""
    h, w = linear.shape[:2]
    x = cv2.GaussianBlur(linear, (0, 0), look.blur_px)
    r2 = ((np.arange(w) - w / 2) ** 2)[None] + ((np.arange(h) - h / 2) ** 2)[:, None]
    x *= (look.exposure / (1 + look.vignette * r2 / r2.max()) ** 2).astype(np.float32)[..., None]
    x *= np.asarray(look.white_balance, np.float32)
    if look.noise > 0:
        shot = rng.standard_normal(x.shape, dtype=np.float32)
        shot = 1.6 * cv2.GaussianBlur(shot, (0, 0), 0.6)  # a phone smooths its noise
        x += look.noise * np.sqrt(np.maximum(x, 0.0) + 0.01) * shot
    grey = x @ np.array([0.2126, 0.7152, 0.0722], np.float32)
    x = grey[..., None] + look.saturation * (x - grey[..., None])
    y = filmic(x).astype(np.float32)
    if look.smoothing > 0:
        y = cv2.bilateralFilter(y, 5, look.smoothing / 255, 1.8)
    if look.sharpen > 0:
        y += look.sharpen * (y - cv2.GaussianBlur(y, (0, 0), 1.4))
    return np.clip(np.rint(255 * y), 0, 255).astype(np.uint8)
