"""The curve by which a file's grey levels stand for light, IEC 61966-2-1."""

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

# Light below which the curve is a straight line.
_DARK = 0.0031308


def decode(levels: Array) -> Array:
    """Decode levels, 0 to 255, to linear light, 0 to 1."""
    value = np.clip(levels / 255.0, 0.0, 1.0)
    return np.where(value <= 0.04045, value / 12.92, ((value + 0.055) / 1.055) ** 2.4)


def encode(light: Array) -> tuple[Array, Array]:
    """Encode light as levels; also the slope of levels over light."""
    safe = np.maximum(light, _DARK)
    power = safe ** (1.0 / 2.4)
    dark = light < _DARK
    levels = np.where(dark, 12.92 * light, 1.055 * power - 0.055)
    return 255.0 * levels, 255.0 * np.where(dark, light.dtype.type(12.92), 1.055 / 2.4 * power / safe)
