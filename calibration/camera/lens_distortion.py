r"""Lens distortion: pixel rays of a real lens against those of a pinhole, both ways.

Two models, applied one after the other. A profile's Brown-Conrady polynomial, in OpenCV's order of
coefficients, is what a calibration found. The one-parameter division model stands for what is *not* known
about a lens,

.. math:: r_u = r_d / (1 + \lambda r_d^2),

because one number spans the ways in which lenses are built: 0 is rectilinear, -1/4 stereographic, about -1/3
equidistant, -3/8 equisolid; to first order it equals k1 of the polynomial, and both directions are closed
forms.

References
----------
Brown, Close-range camera calibration, Photogrammetric Engineering 37(8), 1971.
Fitzgibbon, Simultaneous linear estimation of multiple view geometry and lens distortion, CVPR 2001.
"""

from collections.abc import Sequence

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.float64]

# A ray at less than this share of its pinhole length is beyond the model: the picture would fold over itself.
_LEAST_SHARE = 0.02


def undistort_division(points: Array, division: ArrayLike) -> Array:
    """Turn distorted into pinhole coordinates (..., 2), in focal lengths, by the division model."""
    r2 = np.sum(points * points, axis=-1, keepdims=True)
    share = 1.0 + np.asarray(division, dtype=float) * r2
    return np.asarray(points / np.maximum(share, _LEAST_SHARE))


def distort_division(points: Array, division: ArrayLike) -> Array:
    """Turn pinhole into distorted coordinates (..., 2), in focal lengths; inverts `undistort_division`."""
    r2 = np.sum(points * points, axis=-1, keepdims=True)
    root = np.sqrt(np.maximum(1.0 - 4.0 * np.asarray(division, dtype=float) * r2, 0.0))
    return np.asarray(points * (2.0 / (1.0 + root)))


def distort_division_slope(points: Array, division: ArrayLike) -> tuple[Array, Array]:
    """Return the derivatives of `distort_division` by coordinates (..., 2, 2) and coefficient (..., 2)."""
    r2 = np.sum(points * points, axis=-1, keepdims=True)
    coefficient = np.asarray(division, dtype=float)
    root = np.sqrt(np.maximum(1.0 - 4.0 * coefficient * r2, 1e-12))
    bend = 4.0 / (root * (1.0 + root) ** 2)
    outer = points[..., :, None] * points[..., None, :]
    along = (2.0 / (1.0 + root))[..., None] * np.eye(2) + 2.0 * (coefficient * bend)[..., None] * outer
    return along, points * (bend * r2)


def _radial(r2: Array, coefficients: Sequence[float]) -> tuple[Array, Array]:
    """Return the radial factor and its derivative by r²."""
    k1, k2, _, _, k3, k4, k5, k6 = (*coefficients, *(0.0,) * (8 - len(coefficients)))
    above = 1.0 + r2 * (k1 + r2 * (k2 + r2 * k3))
    below = 1.0 + r2 * (k4 + r2 * (k5 + r2 * k6))
    d_above = k1 + r2 * (2 * k2 + 3 * r2 * k3)
    d_below = k4 + r2 * (2 * k5 + 3 * r2 * k6)
    return above / below, (d_above * below - above * d_below) / below**2


def distort(points: Array, coefficients: Sequence[float]) -> Array:
    """Apply OpenCV's polynomial to pinhole coordinates.

    Parameters
    ----------
    points : (..., 2) array
        In units of the focal length.
    coefficients : sequence of 5 to 8 floats
        k1, k2, p1, p2, k3 and, for the rational model, k4, k5, k6.

    Returns
    -------
    (..., 2) array
        Distorted coordinates.
    """
    x, y = points[..., 0], points[..., 1]
    r2 = x * x + y * y
    factor, _ = _radial(r2, coefficients)
    p1, p2 = coefficients[2], coefficients[3]
    return np.stack(
        [
            x * factor + 2 * p1 * x * y + p2 * (r2 + 2 * x * x),
            y * factor + p1 * (r2 + 2 * y * y) + 2 * p2 * x * y,
        ],
        axis=-1,
    )


def distort_slope(points: Array, coefficients: Sequence[float]) -> Array:
    """Return the derivatives (..., 2, 2) of `distort` at pinhole coordinates (..., 2)."""
    x, y = points[..., 0], points[..., 1]
    p1, p2 = coefficients[2], coefficients[3]
    factor, slope = _radial(x * x + y * y, coefficients)
    across = 2 * x * y * slope + 2 * p1 * x + 2 * p2 * y
    along_x = factor + 2 * x * x * slope + 2 * p1 * y + 6 * p2 * x
    along_y = factor + 2 * y * y * slope + 6 * p1 * y + 2 * p2 * x
    return np.stack([np.stack([along_x, across], axis=-1), np.stack([across, along_y], axis=-1)], axis=-2)


def undistort(points: Array, coefficients: Sequence[float]) -> Array:
    """Invert `distort` by Newton's method; same shapes and units.

    Notes
    -----
    Own iteration, because the library's default of five leaves 1.5e-5 at a moderate lens and its adjustable
    form is absent from one of the two major versions.
    """
    found = points.copy()
    for _ in range(12):
        miss = distort(found, coefficients) - points
        slope = distort_slope(found, coefficients)
        (a, b), d = (slope[..., 0, 0], slope[..., 0, 1]), slope[..., 1, 1]
        det = a * d - b * b
        det = np.where(np.abs(det) < 1e-9, 1e-9, det)
        step = np.stack([d * miss[..., 0] - b * miss[..., 1], a * miss[..., 1] - b * miss[..., 0]], axis=-1)
        found = found - step / det[..., None]
        if float(np.max(np.abs(miss), initial=0.0)) < 1e-12:
            break
    return np.asarray(found)
