"""Damages a file at random, as bad storage and broken transfers do, and says how far its pixels are off."""

import numpy as np

KINDS = ("bit", "bytes", "zeros", "cut", "swapped", "dropped")
# Beyond what compression itself does to a pixel.
_SEEN_LEVELS = 16
_UNSEEN_PX = 256


def damaged(data: bytes, rng: np.random.Generator) -> tuple[str, bytes]:
    """Return the kind of damage and the file with it."""
    kind = str(rng.choice(KINDS))
    out, size = bytearray(data), len(data)
    block = int(rng.choice([512, 4096]))
    if kind == "bit":
        out[int(rng.integers(size))] ^= 1 << int(rng.integers(8))
    elif kind == "bytes":
        for place in rng.integers(0, size, int(rng.integers(1, 8))):
            out[place] = int(rng.integers(256))
    elif kind == "zeros":
        length = int(2 ** rng.uniform(3, 13))
        place = int(rng.integers(max(1, size - length)))
        out[place : place + length] = bytes(min(length, size - place))
    elif kind == "cut":
        del out[int(size * rng.uniform(0.02, 1.0)) :]
    elif kind == "swapped":
        one, other = sorted(int(n) * block for n in rng.choice(max(2, size // block), 2, replace=False))
        last = data[other : other + block]
        out[other : other + block] = data[one : one + len(last)]
        out[one : one + len(last)] = last
    else:
        place = int(rng.integers(max(1, size - block)))
        del out[place : place + block]
    return kind, bytes(out)


def how_far_off(pixels: np.ndarray, sound: np.ndarray) -> str:
    """Return "same", "slight" (at most some 16 x 16 pixels visibly off) or "visible"."""
    if pixels.shape != sound.shape:
        return "visible"
    off = int((np.abs(pixels.astype(np.int16) - sound).max(axis=2) > _SEEN_LEVELS).sum())
    return "same" if off == 0 else "slight" if off <= _UNSEEN_PX else "visible"
