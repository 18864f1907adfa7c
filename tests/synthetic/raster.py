"""Composes a simulated photo in linear light: planes seen by the camera, exact coverage at rims."""

import cv2
import numpy as np
from numpy.typing import ArrayLike

from tests.synthetic.bend import Bend
from tests.synthetic.optics import GRID_STEP, Roi, TrueCamera, TruePose, to_linear, upsample


class Canvas:
    """The picture in the making, and the rays of the camera."""

    def __init__(self, camera: TrueCamera, pose: TruePose) -> None:
        self.camera, self.pose = camera, pose
        self.rays = camera.ray_nodes()
        self.light = np.zeros((camera.height_px, camera.width_px, 3), np.float32)

    @property
    def whole(self) -> Roi:
        return (0, 0, self.camera.width_px, self.camera.height_px)

    def to_px(self, xyz_mm: np.ndarray) -> np.ndarray:
        return self.camera.project(self.pose.to_camera(xyz_mm))

    def roi_of(self, points_px: np.ndarray, margin: int = 4) -> Roi | None:
        """Box around points, cut to the picture; None where nothing is left."""
        lo = np.floor(np.min(points_px, axis=0)).astype(int) - margin
        hi = np.ceil(np.max(points_px, axis=0)).astype(int) + margin + 1
        x0, y0 = max(lo[0], 0), max(lo[1], 0)
        x1, y1 = min(hi[0], self.camera.width_px), min(hi[1], self.camera.height_px)
        return (x0, y0, x1, y1) if x1 - x0 > 2 and y1 - y0 > 2 else None

    def seen_roi(self, points_px: np.ndarray, margin: int = 4) -> Roi:
        """The same of what must be in the picture."""
        roi = self.roi_of(points_px, margin)
        assert roi is not None
        return roi

    def plane(self, z_mm: float, roi: Roi, bend: Bend | None = None) -> np.ndarray:
        """Plane coordinates (h, w, 2) in mm of the pixels of roi; on the bent surface if there is one."""
        x0, y0, x1, y1 = roi
        nodes = self.rays[
            y0 // GRID_STEP : (y1 - 1) // GRID_STEP + 3, x0 // GRID_STEP : (x1 - 1) // GRID_STEP + 3
        ]
        mm, _ = self.pose.plane_nodes(nodes, z_mm)
        if bend is not None:
            flat, per_mm = mm, self.pose.plane_nodes(nodes, z_mm - 1.0)[0] - mm
            for _ in range(5):  # the ray meets the surface where its height is that of the point it meets
                mm = flat + bend.height(mm)[..., None] * per_mm
        return upsample(
            mm, (x0 % GRID_STEP, y0 % GRID_STEP, x1 - x0 + x0 % GRID_STEP, y1 - y0 + y0 % GRID_STEP)
        )

    def blend(self, roi: Roi, coverage: np.ndarray, linear_colour: np.ndarray) -> None:
        """Put a colour (3,) or picture (h, w, 3) over the region."""
        x0, y0, x1, y1 = roi
        part = self.light[y0:y1, x0:x1]
        part += coverage[..., None] * (linear_colour - part)

    def darken(self, roi: Roi, factor: np.ndarray) -> None:
        x0, y0, x1, y1 = roi
        self.light[y0:y1, x0:x1] *= factor[..., None]


def rounded_rectangle_sdf(
    mm: np.ndarray, x0: float, y0: float, width: float, height: float, radius: float
) -> np.ndarray:
    """Signed distance in mm to a rounded rectangle: negative inside."""
    qx = np.abs(mm[..., 0] - np.float32(x0 + width / 2)) - np.float32(width / 2 - radius)
    qy = np.abs(mm[..., 1] - np.float32(y0 + height / 2)) - np.float32(height / 2 - radius)
    outside = np.hypot(np.maximum(qx, 0), np.maximum(qy, 0))
    return outside + np.minimum(np.maximum(qx, qy), 0) - np.float32(radius)


def coverage(sdf_mm: np.ndarray) -> np.ndarray:
    """Share of each pixel inside: the distance in px to the rim, by the local gradient, cut to 0..1."""
    gy, gx = np.gradient(sdf_mm)
    slope = np.maximum(np.hypot(gx, gy), 1e-9)
    distance_mm: np.ndarray = np.clip(0.5 - sdf_mm / slope, 0, 1)
    return distance_mm


def polygon_coverage(points_px: np.ndarray, roi: Roi) -> np.ndarray:
    """Anti-aliased mask of a polygon, good to a quarter of a pixel: for things whose rim is not measured."""
    x0, y0, x1, y1 = roi
    mask = np.zeros((y1 - y0, x1 - x0), np.uint8)
    shifted = np.round((np.asarray(points_px) - (x0, y0)) * 16).astype(np.int32)
    cv2.fillPoly(mask, [shifted], 255, cv2.LINE_AA, shift=4)
    return mask.astype(np.float32) * np.float32(1 / 255)


def soft_step(distance_mm: np.ndarray, width_mm: float) -> np.ndarray:
    """1 well inside (distance < 0), 0 well outside, over about this width."""
    t = np.clip(0.5 - distance_mm / np.float32(2 * width_mm), 0, 1)
    return t * t * (3 - 2 * t)


def sample_face(
    picture: np.ndarray, mm: np.ndarray, x0: float, y0: float, width: float, height: float
) -> np.ndarray:
    """Look up a face stretched over a rectangle of the plane, 8-bit encoded -> linear light."""
    sx, sy = picture.shape[1] / width, picture.shape[0] / height
    mx = (mm[..., 0] - np.float32(x0)) * np.float32(sx) - np.float32(0.5)
    my = (mm[..., 1] - np.float32(y0)) * np.float32(sy) - np.float32(0.5)
    return to_linear(cv2.remap(picture, mx, my, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE))


def lay_table(
    canvas: Canvas, tile: np.ndarray, mm_per_texel: float, z_mm: float, angle_deg: float, wall_bgr: ArrayLike
) -> None:
    """The table top over the whole picture, as finely as the camera sees it; above the horizon a wall."""
    mirrored = np.concatenate([tile, tile[:, ::-1]], axis=1)
    mirrored = np.concatenate([mirrored, mirrored[::-1]], axis=0)
    levels = [mirrored]
    while min(levels[-1].shape[:2]) > 64 and len(levels) < 7:
        levels.append(cv2.resize(levels[-1], None, fx=0.5, fy=0.5, interpolation=cv2.INTER_AREA))
    nodes, slope = canvas.pose.plane_nodes(canvas.rays, z_mm)
    turn = np.deg2rad(angle_deg)
    spin = np.array([[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]])
    texel = nodes @ spin.T / mm_per_texel + np.array(mirrored.shape[1::-1]) / 2
    step = np.gradient(texel, axis=(0, 1))
    size = np.sqrt(np.abs(step[0][..., 0] * step[1][..., 1] - step[0][..., 1] * step[1][..., 0])) / GRID_STEP
    lod = np.clip(np.log2(np.maximum(size, 1e-6)) + 0.15, 0, len(levels) - 1)
    for y0 in range(0, canvas.camera.height_px, 512):
        for x0 in range(0, canvas.camera.width_px, 512):
            roi = (x0, y0, min(x0 + 512, canvas.camera.width_px), min(y0 + 512, canvas.camera.height_px))
            _fill_block(canvas, levels, texel, lod, roi)
    if slope.min() < 0.12:
        wall = np.clip((0.12 - slope) / 0.02, 0, 1)
        canvas.blend(canvas.whole, upsample(wall, canvas.whole), to_linear(np.asarray(wall_bgr, np.uint8)))


def _fill_block(
    canvas: Canvas, levels: list[np.ndarray], texel: np.ndarray, lod: np.ndarray, roi: Roi
) -> None:
    at, level = upsample(texel, roi), upsample(lod, roi)
    out = np.zeros((*level.shape, 3), np.float32)
    for i in range(int(level.min()), int(np.ceil(level.max())) + 1):
        weight = np.maximum(1 - np.abs(level - i), 0)
        mx, my = (at[..., 0] + 0.5) / 2**i - 0.5, (at[..., 1] + 0.5) / 2**i - 0.5
        found = cv2.remap(levels[i], mx, my, cv2.INTER_LINEAR, borderMode=cv2.BORDER_WRAP)
        out += weight[..., None] * to_linear(found)
    canvas.light[roi[1] : roi[3], roi[0] : roi[2]] = out
