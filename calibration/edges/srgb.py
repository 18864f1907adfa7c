"""The curve by which a file's grey levels stand for light, IEC 61966-2-1."""

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

# Light below which the curve is a straight line.
_DARK = 0.0031308


def decode(levels: Array) -> Array:
    """Decode the grey levels of a file to linear light.

    Parameters
    ----------
    levels : (...) array
        0 to 255; values outside are clipped.

    Returns
    -------
    (...) array
        Light, 0 to 1.

    References
    ----------
    IEC 61966-2-1:1999 (sRGB).
    """
    value = np.clip(levels / 255.0, 0.0, 1.0)
    return np.where(value <= 0.04045, value / 12.92, ((value + 0.055) / 1.055) ** 2.4)


def encode(light: Array) -> tuple[Array, Array]:
    """Encode linear light as the grey levels of a file.

    Parameters
    ----------
    light : (...) array of float
        0 for black to 1 for white; values outside are not clipped.

    Returns
    -------
    levels : (...) array
        0 to 255 for light from 0 to 1, not rounded.
    slopes : (...) array
        Derivative of the levels by the light.

    References
    ----------
    IEC 61966-2-1:1999 (sRGB).
    """
    safe = np.maximum(light, _DARK)
    power = safe ** (1.0 / 2.4)
    dark = light < _DARK
    levels = np.where(dark, 12.92 * light, 1.055 * power - 0.055)
    return 255.0 * levels, 255.0 * np.where(dark, light.dtype.type(12.92), 1.055 / 2.4 * power / safe)
