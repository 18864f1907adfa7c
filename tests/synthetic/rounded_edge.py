"""A moulded part's rounded edge seen from above, with its outline known: a matt rounding under a lamp and the
light of a room, the shadow that it throws on the ground, lens, tone curve and JPEG."""

from dataclasses import dataclass

import cv2
import numpy as np

from tests.synthetic.optics import blur, tone_table

WIDTH_PX, HEIGHT_PX, FINE = 96, 72, 10


@dataclass(frozen=True, slots=True)
class Edge:
    """A picture in which a part ends, going right, at x = outline_px in the middle row."""

    pixels_bgr: np.ndarray
    outline_px: float
    px_per_mm: float


def draw_edge(
    rng: np.random.Generator,
    radius_mm: tuple[float, float] = (0.15, 1.0),
    blur_px: tuple[float, float] = (0.5, 1.1),
) -> Edge:
    """An edge of random radius, scale, lamp, colours and lens."""
    px_per_mm = float(np.exp(rng.uniform(np.log(4.0), np.log(14.0))))
    outline_px = WIDTH_PX / 2 + rng.uniform(-0.5, 0.5)
    x_mm = ((np.arange(WIDTH_PX * FINE) + 0.5) / FINE - 0.5 - outline_px) / px_per_mm
    light = _light(rng, x_mm, rng.uniform(*radius_mm))
    light *= rng.uniform(0.4, 0.95) / np.percentile(light, 98)
    row = blur(light[None].astype(np.float32), FINE * rng.uniform(*blur_px), (0.0, 0.0))[0]
    row = row.reshape(WIDTH_PX, FINE, 3).mean(axis=1)
    return Edge(_developed(rng, row), float(outline_px), px_per_mm)


def _light(rng: np.random.Generator, x_mm: np.ndarray, radius_mm: float) -> np.ndarray:
    """Linear light at distances outside the outline, (N, 3)."""
    zenith, azimuth, room = np.radians(rng.uniform(25, 60)), rng.uniform(0, 2 * np.pi), rng.uniform(0.15, 0.5)
    outward, up = np.sin(zenith) * np.cos(azimuth), np.cos(zenith)
    height_mm = float(np.exp(rng.uniform(np.log(2.0), np.log(40.0))))
    slope = np.clip((x_mm + radius_mm) / radius_mm, 0.0, 1.0)
    facing = np.sqrt(1.0 - slope**2)
    part = (1 - room) * np.maximum(0.0, slope * outward + facing * up) + room * (1 + facing) / 2
    reach_mm, softness_mm = -outward / up * height_mm, height_mm * rng.uniform(0.005, 0.035) / up
    lit = 1.0 / (1.0 + np.exp(-np.clip((x_mm - reach_mm) / softness_mm, -50.0, 50.0)))
    open_sky = 0.5 + 0.5 * x_mm / np.hypot(x_mm, height_mm)
    ground = (1 - room) * up * lit + room * open_sky
    paints = rng.uniform(0.06, 0.9, 2)[:, None] * rng.uniform(0.6, 1.0, (2, 3))
    light: np.ndarray = np.where((x_mm < 0)[:, None], part[:, None] * paints[0], ground[:, None] * paints[1])
    return light


def _developed(rng: np.random.Generator, row: np.ndarray) -> np.ndarray:
    turn, sharpening = rng.uniform(-0.12, 0.12), rng.uniform(0.0, 0.4)
    columns = np.arange(WIDTH_PX)
    rows = [columns - turn * (y - HEIGHT_PX / 2) for y in range(HEIGHT_PX)]
    linear = np.stack([np.stack([np.interp(at, columns, c) for c in row.T], axis=-1) for at in rows])
    encoded = tone_table(0.0)[(np.clip(linear, 0, 1) * 65535).astype(np.uint16)]
    encoded += rng.normal(0.0, 1.2, encoded.shape).astype(np.float32)
    encoded += sharpening * (encoded - cv2.GaussianBlur(encoded, (0, 0), 1.4))
    pixels = np.clip(np.rint(encoded), 0, 255).astype(np.uint8)
    seen = cv2.imdecode(cv2.imencode(".jpg", pixels, [cv2.IMWRITE_JPEG_QUALITY, 88])[1], cv2.IMREAD_COLOR)
    assert seen is not None
    return seen
