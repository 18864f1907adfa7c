"""Materials: painted tin, moulded plastic, brass, wood, cloth. Colours are sRGB; textures are made here."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np


@dataclass(frozen=True)
class Paint:
    """A surface of one colour with the unevenness of age."""

    colour: tuple[int, int, int]
    roughness: float = 0.32
    metallic: float = 0.0
    clearcoat: float = 0.25
    mottle: float = 3.0
    scratches: int = 40


PAINTS = {
    "cream": Paint((231, 218, 184), 0.30),
    "red": Paint((172, 40, 34), 0.26, clearcoat=0.4),
    "dark-red": Paint((112, 34, 30), 0.42),
    "navy": Paint((30, 52, 96), 0.28, clearcoat=0.4),
    "brass": Paint((196, 156, 84), 0.30, 0.9, 0.0, 5.0, 60),
    "steel": Paint((168, 170, 172), 0.28, 0.9, 0.0, 4.0, 60),
    "dark": Paint((34, 32, 30), 0.55, clearcoat=0.0),
    "glass": Paint((30, 40, 48), 0.10, clearcoat=0.8, mottle=1.0, scratches=8),
    "wood-light": Paint((186, 134, 78), 0.40, clearcoat=0.2, mottle=5.0),
    "wood-dark": Paint((116, 72, 42), 0.42, clearcoat=0.2, mottle=5.0),
    "mustard": Paint((206, 152, 48), 0.3, clearcoat=0.3),
    "cord": Paint((206, 196, 172), 0.85, clearcoat=0.0, mottle=9.0, scratches=0),
    "card-core": Paint((214, 212, 206), 0.5, clearcoat=0.0, mottle=1.0, scratches=0),
}


def clouds(
    rng: np.random.Generator, height: int, width: int, cells_y: float, cells_x: float, octaves: int = 4
):
    """Return smooth noise of about unit spread, with so many cells down and across at the coarsest octave."""
    total = np.zeros((height, width), np.float32)
    for k in range(octaves):
        ny, nx = int(max(2, cells_y * 2**k)), int(max(2, cells_x * 2**k))
        if ny > height or nx > width:
            break
        grid = rng.standard_normal((ny + 3, nx + 3)).astype(np.float32)
        big = cv2.resize(
            grid,
            (int(width * (nx + 3) / nx) + 1, int(height * (ny + 3) / ny) + 1),
            interpolation=cv2.INTER_CUBIC,
        )
        total += big[:height, :width] * 0.6**k
    return total / max(total.std(), 1e-6)


def painted(paint: Paint, rng: np.random.Generator, size: int = 1024) -> np.ndarray:
    """Return a texture of one paint, 200 mm across, with blotches and hair scratches."""
    base = np.asarray(paint.colour, np.float32)
    shade = paint.mottle * (0.7 * clouds(rng, size, size, 5, 5) + 0.5 * clouds(rng, size, size, 60, 60, 3))
    image = base + shade[..., None] * (0.4 + 0.6 * base / 255)
    marks = np.zeros((size, size), np.float32)
    for _ in range(paint.scratches):
        x, y = rng.uniform(0, size, 2)
        angle, length = rng.uniform(0, np.pi), rng.exponential(0.03) * size
        end = (int(x + length * np.cos(angle)), int(y + length * np.sin(angle)))
        cv2.line(marks, (int(x), int(y)), end, float(rng.uniform(-14, 18)), 1, cv2.LINE_AA)
    return np.clip(image + marks[..., None], 0, 255).astype(np.uint8)


def planks(
    rng: np.random.Generator, size: int, across: int, tones, seam_px: float, grain: float = 1.0
) -> np.ndarray:
    """Return boards that run down the picture, each with its own tone and grain."""
    board = size / across
    x = np.arange(size)
    index = np.minimum((x / board).astype(int), across - 1)
    tone = np.asarray(tones, np.float32)[rng.integers(0, len(tones), across)]
    lift = rng.normal(0, 5, across).astype(np.float32)
    image = np.broadcast_to(tone[index] + lift[index][:, None], (size, size, 3)).copy()
    warp = 14 * clouds(rng, size, size, 2, across * 1.5, 3)
    shift = rng.uniform(0, 900, across)[index]
    rings = np.sin((x + shift)[None] * (2 * np.pi * across * 7 / size) + warp * 0.35)
    fibre = clouds(rng, size, size, 9, size / 10, 2)
    pores = np.minimum(clouds(rng, size, size, 40, size / 5, 1), -1.2) + 1.2
    image += (
        grain * (4.5 * rings + 5.0 * fibre + 9.0 * pores)[..., None] * np.array([1.0, 0.92, 0.78], np.float32)
    )
    edge = np.abs((x + 0.5 * board) % board - 0.5 * board)
    image *= (1 - 0.6 * np.exp(-((edge / seam_px) ** 2)))[None, :, None].astype(np.float32)
    return np.clip(image, 0, 255).astype(np.uint8)


def felt(rng: np.random.Generator, size: int, colour) -> np.ndarray:
    shade = 2.2 * clouds(rng, size, size, 6, 6, 3) + 2.6 * clouds(rng, size, size, size / 9, size / 9, 2)
    return np.clip(np.asarray(colour, np.float32) + shade[..., None], 0, 255).astype(np.uint8)


def linen(rng: np.random.Generator, size: int, colour, threads: int = 640) -> np.ndarray:
    """Return a plain weave: warp and weft of slightly uneven threads."""
    x = np.arange(size) * threads / size
    wobble = 0.25 * clouds(rng, size, size, 12, 12, 2)
    warp = np.cos(2 * np.pi * (x[None] + wobble))
    weft = np.cos(2 * np.pi * (x[:, None] + wobble.T))
    tone = 1.1 * clouds(rng, size, size, 3, threads, 1) + 1.1 * clouds(rng, size, size, threads, 3, 1)
    image = (
        np.asarray(colour, np.float32)
        + (4.5 * warp * weft + tone + 3 * clouds(rng, size, size, 4, 4, 3))[..., None]
    )
    return np.clip(image, 0, 255).astype(np.uint8)


OAK = [(150, 114, 80), (158, 122, 88), (142, 106, 74)]
WALNUT = [(96, 66, 44), (104, 72, 48), (88, 60, 40)]
PINE = [(192, 164, 128), (198, 172, 136), (186, 158, 122)]
TABLES = {
    "oak": (lambda rng, n: planks(rng, n, 8, OAK, 3.0), 0.45),
    "walnut": (lambda rng, n: planks(rng, n, 7, WALNUT, 3.0, 0.8), 0.38),
    "pine": (lambda rng, n: planks(rng, n, 9, PINE, 3.0, 1.0), 0.5),
    "green-felt": (lambda rng, n: felt(rng, n, (58, 92, 70)), 1.0),
    "grey-felt": (lambda rng, n: felt(rng, n, (112, 114, 118)), 1.0),
    "linen": (lambda rng, n: linen(rng, n, (186, 178, 160)), 0.95),
    "blue-linen": (lambda rng, n: linen(rng, n, (84, 100, 122)), 0.95),
}


def deck(rng: np.random.Generator, size: int = 2048) -> np.ndarray:
    return planks(rng, size, 22, [(198, 164, 116), (190, 154, 106)], 2.2, 0.5)
