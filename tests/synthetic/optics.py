"""Camera of a simulated photo: exact projection with radial distortion; what lens and sensor do to the light.

Pixel centres lie at integers. The lens blurs linear light, before the tone curve: on a strong step the
steepest place of the encoded picture therefore lies towards the dark side of the edge, as in real photos.
"""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import ArrayLike

Roi = tuple[int, int, int, int]
"""Left, top, right and bottom of a part of the picture; the last two lie outside."""

GRID_STEP = 8  # px; bilinear between nodes this far apart is exact to 0.003 px of a plane's coordinates


@dataclass(frozen=True, slots=True)
class TrueCamera:
    """Pinhole with one radial coefficient: distorted = x (1 + k1 r^2), in units of the focal length."""

    width_px: int
    height_px: int
    focal_px: float
    principal_point_px: tuple[float, float]
    k1: float

    @property
    def matrix(self) -> np.ndarray:
        cx, cy = self.principal_point_px
        return np.array([[self.focal_px, 0, cx], [0, self.focal_px, cy], [0, 0, 1.0]])

    def project(self, xyz: ArrayLike) -> np.ndarray:
        """(N, 3) points in camera axes -> (N, 2) px."""
        xyz = np.asarray(xyz, float)
        xy = xyz[:, :2] / xyz[:, 2:3]
        xy = xy * (1 + self.k1 * (xy**2).sum(axis=1, keepdims=True))
        seen: np.ndarray = xy * self.focal_px + np.asarray(self.principal_point_px)
        return seen

    def rays(self, points_px: ArrayLike) -> np.ndarray:
        """(..., 2) px -> (..., 2) undistorted, in units of the focal length."""
        xy = (np.asarray(points_px, float) - np.asarray(self.principal_point_px)) / self.focal_px
        rd = np.hypot(xy[..., 0], xy[..., 1])
        r = rd.copy()
        for _ in range(8):  # Newton on r + k1 r^3 = rd
            r = r - (r + self.k1 * r**3 - rd) / (1 + 3 * self.k1 * r**2)
        undistorted: np.ndarray = xy * (r / np.maximum(rd, 1e-12))[..., None]
        return undistorted

    def ray_nodes(self) -> np.ndarray:
        """Rays at the centres of GRID_STEP blocks, one more block around the picture: (rows, columns, 2)."""
        nx = -(-self.width_px // GRID_STEP) + 2
        ny = -(-self.height_px // GRID_STEP) + 2
        u = GRID_STEP * (np.arange(nx) - 1) + (GRID_STEP - 1) / 2
        v = GRID_STEP * (np.arange(ny) - 1) + (GRID_STEP - 1) / 2
        return self.rays(np.stack(np.meshgrid(u, v), axis=-1))


@dataclass(frozen=True, slots=True)
class TruePose:
    """Plane axes (X right, Y down, Z away from the camera, mm) -> camera axes."""

    rotation: np.ndarray
    translation_mm: np.ndarray

    def to_camera(self, xyz_mm: ArrayLike) -> np.ndarray:
        moved: np.ndarray = np.asarray(xyz_mm, float) @ self.rotation.T + self.translation_mm
        return moved

    def plane_nodes(self, rays: np.ndarray, z_mm: float) -> tuple[np.ndarray, np.ndarray]:
        """Where rays (..., 2) meet the plane Z = z_mm: (..., 2) mm, and the slope, <= 0 above the horizon."""
        d = np.concatenate([rays, np.ones((*rays.shape[:-1], 1))], axis=-1)
        slope = d @ self.rotation[:, 2]
        scale = (z_mm + self.rotation[:, 2] @ self.translation_mm) / np.maximum(slope, 0.03)
        return (d * scale[..., None] - self.translation_mm) @ self.rotation[:, :2], slope


def upsample(nodes: np.ndarray, roi: Roi) -> np.ndarray:
    """Nodes of a smooth field -> its values at the pixels of roi = (x0, y0, x1, y1), float32."""
    x0, y0, x1, y1 = roi
    bx, by = x0 // GRID_STEP, y0 // GRID_STEP
    part = nodes[by : (y1 - 1) // GRID_STEP + 3, bx : (x1 - 1) // GRID_STEP + 3].astype(np.float32)
    size = (part.shape[1] * GRID_STEP, part.shape[0] * GRID_STEP)
    full = cv2.resize(part, size, interpolation=cv2.INTER_LINEAR)
    ox, oy = x0 - GRID_STEP * (bx - 1), y0 - GRID_STEP * (by - 1)
    return full[oy : oy + y1 - y0, ox : ox + x1 - x0]


# The curve of sRGB, IEC 61966-2-1, written apart from the code under test. All simulated photos use it.
def linear_light(levels: ArrayLike) -> np.ndarray:
    """Grey levels of a file, 0 to 255 -> linear light 0..1."""
    value = np.asarray(levels, float) / 255
    return np.where(value <= 0.04045, value / 12.92, ((value + 0.055) / 1.055) ** 2.4)


def grey_levels(light: np.ndarray) -> np.ndarray:
    """Linear light 0..1 -> the file's grey levels, 0 to 255, not rounded."""
    return 255 * _curve(light)


def _curve(light: np.ndarray) -> np.ndarray:
    return np.where(light <= 0.0031308, 12.92 * light, 1.055 * np.maximum(light, 1e-9) ** (1 / 2.4) - 0.055)


TO_LINEAR = linear_light(np.arange(256)).astype(np.float32)


def to_linear(encoded_u8: np.ndarray) -> np.ndarray:
    """Encoded 8-bit sRGB -> linear light 0..1, float32."""
    if encoded_u8.ndim == 3:
        return cv2.LUT(encoded_u8, TO_LINEAR)
    light: np.ndarray = TO_LINEAR[encoded_u8]
    return light


def tone_table(contrast: float) -> np.ndarray:
    """Linear light in 16 bits -> encoded 0..255: sRGB (IEC 61966-2-1) and an S-curve of this strength."""
    x = np.linspace(0, 1, 65536)
    e = _curve(x)
    s = e + contrast * np.sin(2 * np.pi * (e - 0.5)) / (2 * np.pi)
    return (255 * s).astype(np.float32)


def blur(linear: np.ndarray, sigma_px: float, motion_px: tuple[float, float]) -> np.ndarray:
    """Lens blur (Gaussian) and hand shake (a short straight streak), both centred so that no edge moves."""
    if sigma_px > 0:
        size = 2 * int(np.ceil(3.5 * sigma_px)) + 1
        linear = cv2.GaussianBlur(linear, (size, size), sigma_px, borderType=cv2.BORDER_REPLICATE)
    length = float(np.hypot(*motion_px))
    if length > 0.3:
        linear = cv2.filter2D(linear, -1, _streak(motion_px, length), borderType=cv2.BORDER_REPLICATE)
    return linear


def _streak(motion_px: tuple[float, float], length: float) -> np.ndarray:
    half = int(np.ceil(length / 2)) + 1
    kernel = np.zeros((2 * half + 1, 2 * half + 1), np.float32)
    for t in np.linspace(-0.5, 0.5, 41):
        x, y = half + t * motion_px[0], half + t * motion_px[1]
        ix, iy = int(np.floor(x)), int(np.floor(y))
        fx, fy = x - ix, y - iy
        kernel[iy, ix] += (1 - fx) * (1 - fy)
        kernel[iy, ix + 1] += fx * (1 - fy)
        kernel[iy + 1, ix] += (1 - fx) * fy
        kernel[iy + 1, ix + 1] += fx * fy
    streak: np.ndarray = kernel / kernel.sum()
    return streak


def develop(
    linear: np.ndarray,
    rng: np.random.Generator,
    *,
    sigma_px: float,
    motion_px: tuple[float, float],
    noise_dn: float,
    noise_grain_px: float,
    sharpening: float,
    halo_px: float,
    contrast: float,
) -> np.ndarray:
    """Linear light -> encoded 8-bit picture, with blur, tone curve, sharpening halo, noise and rounding."""
    linear = blur(linear, sigma_px, motion_px)
    np.clip(linear, 0, 1, out=linear)
    linear *= 65535
    encoded = tone_table(contrast)[linear.astype(np.uint16)]
    noise = _noise(encoded.shape, rng, noise_grain_px)
    noise *= noise_dn
    # photon noise after the tone curve: strongest in the shadows, weakest in the lights
    encoded += noise * (1.25 - encoded * (0.6 / 255))
    if sharpening > 0:
        encoded = cv2.addWeighted(
            encoded, 1 + sharpening, cv2.GaussianBlur(encoded, (0, 0), halo_px), -sharpening, 0
        )
    encoded += 0.5
    return np.clip(encoded, 0, 255, out=encoded).astype(np.uint8)


def _noise(shape: tuple[int, ...], rng: np.random.Generator, grain_px: float) -> np.ndarray:
    tile = rng.standard_normal((1031, 1033, 3), dtype=np.float32)
    tile = 0.6 * tile + 0.8 * tile.mean(axis=2, keepdims=True) * np.float32(np.sqrt(3.0))
    if grain_px > 0:
        tile = cv2.GaussianBlur(tile, (0, 0), grain_px, borderType=cv2.BORDER_REFLECT)
        tile /= tile.std()
    repeats = (-(-shape[0] // tile.shape[0]), -(-shape[1] // tile.shape[1]), 1)
    return np.tile(tile, repeats)[: shape[0], : shape[1]]
