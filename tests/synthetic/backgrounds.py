"""Table tops: square tiles of texture, 8-bit, drawn in mm and mirrored when they repeat."""

from collections.abc import Sequence

import cv2
import numpy as np

Colour = Sequence[float] | np.ndarray
"""Blue, green and red, 0 to 255."""

QUIET = ("plain", "wood", "cloth", "marble", "felt")
BUSY = ("tiles", "carpet", "newspaper", "ruled", "chessboard", "planks", "pattern")

_PALETTE = {  # BGR, typical of the stuff
    "plain": [(225, 228, 230), (60, 60, 62), (120, 140, 150), (150, 130, 90), (90, 110, 70), (200, 205, 190)],
    "wood": [(60, 100, 150), (45, 75, 110), (120, 165, 200), (35, 50, 75), (150, 185, 210)],
    "planks": [(60, 100, 150), (45, 75, 110), (120, 165, 200), (35, 50, 75), (150, 185, 210)],
    "cloth": [(200, 205, 210), (130, 80, 60), (60, 60, 120), (90, 100, 90), (40, 40, 45)],
    "felt": [(60, 110, 50), (120, 60, 40), (40, 40, 110), (70, 70, 72), (190, 195, 200)],
    "marble": [(215, 218, 220), (90, 95, 90), (200, 210, 215)],
    "tiles": [(210, 215, 220), (140, 160, 175), (160, 150, 130)],
    "carpet": [(100, 110, 130), (60, 60, 90), (130, 140, 140), (70, 80, 70)],
    "newspaper": [(205, 215, 220)],
    "ruled": [(235, 238, 240), (120, 90, 40)],
    "chessboard": [(200, 210, 215), (150, 190, 215)],
    "pattern": [(190, 190, 200), (110, 90, 80)],
}


def table_top(
    kind: str, rng: np.random.Generator, size: int, mm_per_texel: float
) -> tuple[np.ndarray, np.ndarray]:
    """A (size, size, 3) tile of this kind and the (BGR) colour it has on the whole."""
    base = np.array(_PALETTE[kind][rng.integers(len(_PALETTE[kind]))], np.float32)
    base = np.clip(base * rng.uniform(0.85, 1.12) + rng.normal(0, 5, 3), 12, 245)
    field = _DRAW[kind](rng, size, mm_per_texel, base.astype(np.float32))
    fine = rng.standard_normal((size, size), dtype=np.float32) * np.float32(rng.uniform(0.5, 6.0))
    tile = np.clip(field + fine[..., None], 3, 252).astype(np.uint8)
    return tile, tile.reshape(-1, 3)[::97].mean(axis=0)


def octaves(
    rng: np.random.Generator, size: int, cells: Sequence[float], *, decay: float = 0.55, stretch: float = 1.0
) -> np.ndarray:
    """Smooth noise of unit spread: random grids, cells[i] along x, cells[i] * stretch along y."""
    out = np.zeros((size, size), np.float32)
    weight = 1.0
    for cell in cells:
        nx, ny = max(2, int(cell)), max(2, int(cell * stretch))
        grid = rng.standard_normal((min(ny, size), min(nx, size))).astype(np.float32)
        out += weight * cv2.resize(grid, (size, size), interpolation=cv2.INTER_CUBIC)
        weight *= decay
    return out / max(float(out.std()), 1e-6)


def _cells(size: int, mm_per_texel: float, period_mm: float, n: int = 4) -> list[float]:
    first = max(size * mm_per_texel / period_mm, 2)
    return [min(first * 2**i, size) for i in range(n)]


def _plain(rng: np.random.Generator, size: int, mm: float, base: np.ndarray) -> np.ndarray:
    grain = octaves(rng, size, _cells(size, mm, 120, 3)) * 2.0 + rng.standard_normal((size, size)).astype(
        np.float32
    )
    return base + grain[..., None] * rng.uniform(0.5, 2.0)


def _wood(rng: np.random.Generator, size: int, mm: float, base: np.ndarray) -> np.ndarray:
    stretch = rng.uniform(12, 30)
    grain = octaves(rng, size, _cells(size, mm, 220, 4), stretch=stretch, decay=0.75)
    rings = np.sin(octaves(rng, size, _cells(size, mm, 260, 2), stretch=stretch / 4) * rng.uniform(2, 6))
    tint = np.array([0.8, 0.95, 1.0], np.float32)
    return base + (grain * rng.uniform(3, 9) + rings * rng.uniform(1, 6))[..., None] * tint


def _planks(rng: np.random.Generator, size: int, mm: float, base: np.ndarray) -> np.ndarray:
    out = _wood(rng, size, mm, base)
    step = max(int(rng.uniform(60, 140) / mm), 24)
    gap = max(int(rng.uniform(0.6, 2.5) / mm), 1)
    for y in range(int(rng.integers(step)), size, step):
        out[y : y + step] += rng.normal(0, 9)
        out[y : y + gap] *= 0.45
        x = int(rng.integers(size))
        out[y : y + step, x : x + gap] *= 0.5
    return out


def _cloth(rng: np.random.Generator, size: int, mm: float, base: np.ndarray) -> np.ndarray:
    period = max(rng.uniform(0.5, 1.6) / mm, 2.2)
    t = np.arange(size, dtype=np.float32) * np.float32(2 * np.pi / period)
    weave = np.sin(t)[None, :] * np.sin(t)[:, None]
    folds = octaves(rng, size, _cells(size, mm, 160, 2)) * rng.uniform(2, 8)
    out = (
        base
        + (weave * rng.uniform(3, 9) + folds + rng.normal(0, 3, (size, size)).astype(np.float32))[..., None]
    )
    if rng.random() < 0.3:
        _stripes(out, rng, mm)
    top: np.ndarray = out
    return top


def _stripes(out: np.ndarray, rng: np.random.Generator, mm: float) -> None:
    step = max(int(rng.uniform(12, 60) / mm), 6)
    wide = max(int(step * rng.uniform(0.1, 0.5)), 2)
    colour = (rng.uniform(0.7, 1.25) * rng.uniform(0.9, 1.1, 3)).astype(np.float32)
    for x in range(int(rng.integers(step)), out.shape[1], step):
        out[:, x : x + wide] *= colour
    if rng.random() < 0.5:
        for y in range(int(rng.integers(step)), out.shape[0], step):
            out[y : y + wide] *= colour


def _felt(rng: np.random.Generator, size: int, mm: float, base: np.ndarray) -> np.ndarray:
    fibres = octaves(rng, size, _cells(size, mm, 2.5, 3), decay=0.8) * rng.uniform(3, 8)
    top: np.ndarray = base + (fibres + octaves(rng, size, _cells(size, mm, 150, 2)) * 3)[..., None]
    return top


def _marble(rng: np.random.Generator, size: int, mm: float, base: np.ndarray) -> np.ndarray:
    warp = octaves(rng, size, _cells(size, mm, 180, 5))
    veins = 1 - np.abs(np.sin(warp * rng.uniform(1.5, 3.0)))
    top: np.ndarray = base - (veins**8 * rng.uniform(15, 45) + warp * 3)[..., None]
    return top


def _tiles(rng: np.random.Generator, size: int, mm: float, base: np.ndarray) -> np.ndarray:
    out = _plain(rng, size, mm, base) + octaves(rng, size, _cells(size, mm, 60, 3))[..., None] * rng.uniform(
        0, 6
    )
    step = max(int(rng.uniform(48, 150) / mm), 30)
    high = step if rng.random() < 0.6 else int(step * rng.choice([0.5, 0.45, 1.9]))
    grout = max(int(rng.uniform(1.5, 4) / mm), 1)
    tone = float(rng.uniform(0.45, 0.85) if rng.random() < 0.75 else rng.uniform(1.1, 1.3))
    for i, y in enumerate(range(0, size, high)):
        shift = (step // 2) * (i % 2) if rng.random() < 0.3 else 0
        for x in range(-shift, size, step):
            out[y : y + high, max(x, 0) : max(x + step, 0)] += rng.normal(0, 4)
            out[y : y + high, max(x, 0) : max(x + grout, 0)] = base * tone
        out[y : y + grout] = base * tone
    return out


def _carpet(rng: np.random.Generator, size: int, mm: float, base: np.ndarray) -> np.ndarray:
    tuft = octaves(rng, size, _cells(size, mm, 4.0, 3), decay=0.9)
    colour = octaves(rng, size, _cells(size, mm, 60, 3))
    out = base + tuft[..., None] * rng.uniform(8, 22) + colour[..., None] * rng.uniform(2, 12)
    if rng.random() < 0.4:
        _stripes(out, rng, mm * 0.6)
    return out


def _newspaper(rng: np.random.Generator, size: int, mm: float, base: np.ndarray) -> np.ndarray:
    out = np.ascontiguousarray(_plain(rng, size, mm, base))
    ink = tuple(float(v) for v in rng.uniform(35, 75, 3))
    column, line = max(int(rng.uniform(42, 60) / mm), 20), max(int(rng.uniform(3.2, 4.5) / mm), 3)
    for x in range(8, size, column):
        y = int(rng.integers(line * 4))
        while y < size:
            y = _column_piece(out, rng, x, y, column, line, ink)
    return out


def _column_piece(
    out: np.ndarray, rng: np.random.Generator, x: int, y: int, column: int, line: int, ink: tuple[float, ...]
) -> int:
    right = min(x + int(column * 0.92), out.shape[1] - 1)
    kind = rng.random()
    if kind < 0.06:
        height = int((right - x) * float(rng.choice([0.5, 0.55, 0.95, 1.05])))
        grey = rng.uniform(60, 170) + rng.normal(0, 6, 3)
        cv2.rectangle(out, (x, y), (right, y + height), tuple(float(v) for v in grey), -1)
        return y + height + line
    if kind < 0.12:
        cv2.line(out, (x, y + line), (int(x + column * 0.8), y + line), ink, max(int(line * 0.9), 1))
        return y + 3 * line
    pos = x
    while pos < right - line:
        word = int(line * rng.uniform(0.6, 2.4))
        cv2.line(out, (pos, y), (min(pos + word, right), y), ink, max(int(line * 0.42), 1))
        pos += word + max(int(line * 0.35), 1)
    return y + line


def _ruled(rng: np.random.Generator, size: int, mm: float, base: np.ndarray) -> np.ndarray:
    out = _plain(rng, size, mm, base)
    step = max(int(rng.choice([5.0, 10.0, 7.0]) / mm), 4)
    thick = max(int(0.25 / mm), 1)
    colour = base * rng.uniform(0.6, 0.85, 3).astype(np.float32)
    both = rng.random() < 0.7
    for v in range(0, size, step):
        out[v : v + thick] = colour
        if both:
            out[:, v : v + thick] = colour
    return out


def _chessboard(rng: np.random.Generator, size: int, mm: float, base: np.ndarray) -> np.ndarray:
    step = max(int(rng.uniform(18, 50) / mm), 16)
    index = np.arange(size) // step
    odd = ((index[:, None] + index[None, :]) % 2).astype(np.float32)[..., None]
    dark = base * rng.uniform(0.15, 0.5)
    top: np.ndarray = (
        base * (1 - odd) + dark * odd + octaves(rng, size, _cells(size, mm, 30, 3))[..., None] * 3
    )
    return top


def _pattern(rng: np.random.Generator, size: int, mm: float, base: np.ndarray) -> np.ndarray:
    out = np.ascontiguousarray(_plain(rng, size, mm, base))
    step = max(int(rng.uniform(15, 45) / mm), 14)
    colours = [
        tuple(float(v) for v in np.clip(base * rng.uniform(0.4, 1.3) + rng.normal(0, 20, 3), 10, 245))
        for _ in range(3)
    ]
    for i, y in enumerate(range(0, size, step)):
        for j, x in enumerate(range(0, size, step)):
            colour = colours[(i * 2 + j) % 3]
            if (i + j) % 2:
                cv2.circle(out, (x + step // 2, y + step // 2), int(step * 0.3), colour, -1)
            else:
                box = ((x + step / 2, y + step / 2), (step * 0.52, step * 0.29), 30.0 * (i % 4))
                cv2.fillPoly(out, [cv2.boxPoints(box).astype(np.int32)], colour)
    return out


_DRAW = {
    "plain": _plain, "wood": _wood, "planks": _planks, "cloth": _cloth, "felt": _felt, "marble": _marble,
    "tiles": _tiles, "carpet": _carpet, "newspaper": _newspaper, "ruled": _ruled, "chessboard": _chessboard,
    "pattern": _pattern,
}  # fmt: skip
