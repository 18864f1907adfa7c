"""Projection between a plane and its picture, for many parameter sets at once.

A parameter set holds ten numbers: a small turn (3, radians) of a base rotation, the translation (3, mm), the
log of the focal length, the division coefficient and the principal point (2, px). Working on batches makes
the numeric derivatives of everything that follows one array operation.
"""

import numpy as np

from calibration import lens
from calibration.lens import Array

TURN, MOVE, LOG_FOCAL, DIVISION, CENTRE = slice(0, 3), slice(3, 6), 6, 7, slice(8, 10)
PARAMETERS = 10


def rotations(turns: Array) -> Array:
    """Return the rotation matrices (..., 3, 3) of rotation vectors (..., 3), by Rodrigues' formula."""
    angle2 = np.sum(turns * turns, axis=-1)[..., None, None]
    angle = np.sqrt(angle2)
    small = angle2 < 1e-12
    safe = np.where(small, 1.0, angle)
    sine = np.where(small, 1.0 - angle2 / 6.0, np.sin(safe) / safe)
    cosine = np.where(small, 0.5 - angle2 / 24.0, (1.0 - np.cos(safe)) / safe**2)
    cross = np.zeros((*turns.shape, 3))
    x, y, z = turns[..., 0], turns[..., 1], turns[..., 2]
    cross[..., 0, 1], cross[..., 0, 2], cross[..., 1, 2] = -z, y, -x
    cross[..., 1, 0], cross[..., 2, 0], cross[..., 2, 1] = z, -y, x
    return np.asarray(np.eye(3) + sine * cross + cosine * (cross @ cross))


def project(sets: Array, base: Array, distortion: tuple[float, ...], points_mm: Array) -> Array:
    """Project points of the plane's frame into the picture.

    Parameters
    ----------
    sets : (..., 10) array
        Parameter sets.
    base : (..., 3, 3) array
        Base rotations, plane to camera.
    distortion : tuple of float
        A profile's polynomial coefficients, or zeros.
    points_mm : (..., N, 3) array
        Points in the plane's frame.

    Returns
    -------
    (..., N, 2) array
        Pixels; points behind the camera are pushed to its front, far out, so that a fit can recover.
    """
    turn = base @ rotations(sets[..., TURN])
    seen = points_mm @ np.swapaxes(turn, -1, -2) + sets[..., None, MOVE]
    depth = np.maximum(seen[..., 2:], 1e-3)
    flat = lens.divide(seen[..., :2] / depth, sets[..., DIVISION, None, None])
    if any(distortion):
        flat = lens.distort(flat, distortion)
    focal = np.exp(sets[..., LOG_FOCAL])[..., None, None]
    return np.asarray(flat * focal + sets[..., None, CENTRE])


def unproject(
    sets: Array, base: Array, distortion: tuple[float, ...], points_px: Array, heights_mm: Array
) -> Array:
    """Meet the rays of pixels with planes of constant z in the plane's frame.

    Parameters
    ----------
    sets, base, distortion
        As for `project`.
    points_px : (..., N, 2) array
        Pixels.
    heights_mm : (..., N) array
        The z coordinate of each plane, signed as the frame's axis is.

    Returns
    -------
    (..., N, 2) array
        x and y in mm; NaN where the ray doesn't meet the plane in front of the camera.
    """
    focal = np.exp(sets[..., LOG_FOCAL])[..., None, None]
    flat = (points_px - sets[..., None, CENTRE]) / focal
    if any(distortion):
        flat = lens.undistort(flat, distortion)
    flat = lens.undivide(flat, sets[..., DIVISION, None, None])
    turn = base @ rotations(sets[..., TURN])
    rays = np.concatenate([flat, np.ones((*flat.shape[:-1], 1))], axis=-1) @ turn
    centre = -(sets[..., None, MOVE] @ turn)
    with np.errstate(divide="ignore", invalid="ignore"):
        reach = (heights_mm - centre[..., 2]) / rays[..., 2]
    reach = np.where((reach > 0.0) & np.isfinite(reach), reach, np.nan)
    return np.asarray((centre + reach[..., None] * rays)[..., :2])
