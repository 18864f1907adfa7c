r"""Projection between a plane and its picture, for many parameter sets at once.

A parameter set holds ten numbers:

=================  =======  ==========  ===================================================================
name               index    unit        meaning
=================  =======  ==========  ===================================================================
`ROTATION`         0 to 2   rad         rotation vector w, applied before a base rotation B
`TRANSLATION`      3 to 5   mm          t, from the camera to the origin of the plane's frame
`LOG_FOCAL`        6        log of px   log f
`DIVISION`         7        1           coefficient of the division model, in units of the focal length
`PRINCIPAL_POINT`  8 and 9  px          c
=================  =======  ==========  ===================================================================

A point p of the plane's frame is seen at the pixel

.. math:: c + f \, P(D((B \, R(w) \, p + t)_{xy} / (B \, R(w) \, p + t)_z)),

R the rotation of a vector, D the division model and P the polynomial of a lens profile (see
`calibration.camera.lens_distortion`). Working on batches makes the numeric derivatives of everything that
follows one array operation.
"""

import numpy as np

from calibration.camera import Array, lens_distortion

ROTATION, TRANSLATION, LOG_FOCAL, DIVISION, PRINCIPAL_POINT = slice(0, 3), slice(3, 6), 6, 7, slice(8, 10)
PARAMETERS = 10


def rotations(vectors: Array) -> Array:
    """Return the rotation matrices (..., 3, 3) of rotation vectors (..., 3), by Rodrigues' formula."""
    angle2 = np.sum(vectors * vectors, axis=-1)[..., None, None]
    angle = np.sqrt(angle2)
    small = angle2 < 1e-12
    safe = np.where(small, 1.0, angle)
    sine = np.where(small, 1.0 - angle2 / 6.0, np.sin(safe) / safe)
    cosine = np.where(small, 0.5 - angle2 / 24.0, (1.0 - np.cos(safe)) / safe**2)
    cross = np.zeros((*vectors.shape, 3))
    x, y, z = vectors[..., 0], vectors[..., 1], vectors[..., 2]
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
    rotation = base @ rotations(sets[..., ROTATION])
    seen = points_mm @ np.swapaxes(rotation, -1, -2) + sets[..., None, TRANSLATION]
    depth = np.maximum(seen[..., 2:], 1e-3)
    flat = lens_distortion.distort_division(seen[..., :2] / depth, sets[..., DIVISION, None, None])
    if any(distortion):
        flat = lens_distortion.distort(flat, distortion)
    focal = np.exp(sets[..., LOG_FOCAL])[..., None, None]
    return np.asarray(flat * focal + sets[..., None, PRINCIPAL_POINT])


def project_slope(
    sets: Array, base: Array, distortion: tuple[float, ...], points_mm: Array
) -> tuple[Array, Array, Array]:
    """Project as `project` does, with derivatives.

    Parameters
    ----------
    sets, base, distortion, points_mm
        As for `project`; the sets' rotation vectors must be zero.

    Returns
    -------
    points_px : (..., N, 2) array
        Pixels.
    by_set : (..., N, 2, 10) array
        Derivatives by the parameter set.
    by_point : (..., N, 2, 3) array
        Derivatives by the point's coordinates.
    """
    seen = points_mm @ np.swapaxes(base, -1, -2) + sets[..., None, TRANSLATION]
    depth = np.maximum(seen[..., 2:], 1e-3)
    flat = seen[..., :2] / depth
    division = sets[..., DIVISION, None, None]
    bend, by_division = lens_distortion.distort_division_slope(flat, division)
    bent = lens_distortion.distort_division(flat, division)
    if any(distortion):
        more = lens_distortion.distort_slope(bent, distortion)
        bent = lens_distortion.distort(bent, distortion)
        bend, by_division = more @ bend, (more @ by_division[..., None])[..., 0]
    focal = np.exp(sets[..., LOG_FOCAL])[..., None, None]
    # (x/z, y/z) by (x, y, z)
    flat_by_seen = np.zeros((*flat.shape, 3))
    flat_by_seen[..., 0, 0] = flat_by_seen[..., 1, 1] = 1.0
    flat_by_seen[..., 2] = -flat
    by_seen = focal[..., None] * (bend @ flat_by_seen) / depth[..., None]
    by_point = by_seen @ base[..., None, :, :]
    by_set = np.empty((*flat.shape, PARAMETERS))
    x, y, z = (by_point[..., axis] for axis in range(3))
    px, py, pz = (points_mm[..., axis, None] for axis in range(3))
    # A small rotation w moves the point by w x p in the plane's frame.
    by_set[..., 0], by_set[..., 1], by_set[..., 2] = z * py - y * pz, x * pz - z * px, y * px - x * py
    by_set[..., TRANSLATION] = by_seen
    by_set[..., LOG_FOCAL] = focal * bent
    by_set[..., DIVISION] = focal * by_division
    by_set[..., PRINCIPAL_POINT] = np.eye(2)
    return bent * focal + sets[..., None, PRINCIPAL_POINT], by_set, by_point


def follow(sets: Array, base: Array, steps: Array, middle_mm: Array) -> tuple[Array, Array]:
    """Step from parameter sets along curves that keep the image of a point fixed.

    Parameters
    ----------
    sets : (..., 10) array
        Starting sets; their rotation vectors must be zero.
    base : (..., 3, 3) array
        Base rotations.
    steps : (..., 10) array
        Changes of the parameters, to first order.
    middle_mm : (3,) array
        The point, in the plane's frame.

    Returns
    -------
    sets : (..., 10) array
        New sets; their rotation vectors are those of the steps.
    rotations : (..., 3, 3) array
        Plane to camera, with those rotations applied.

    Notes
    -----
    A longer focal length goes with a longer distance. A straight step in both leaves the valley that the
    corners define, so a Newton step makes little progress, and a draw from the covariance moves the card off
    what was seen. Here it moves in px and in the log of its scale instead, to first order as the step says.
    """
    new = sets + steps
    new[..., ROTATION] = steps[..., ROTATION]
    seat = (base @ middle_mm) + sets[..., TRANSLATION]
    x, y, z = middle_mm
    swing = steps[..., ROTATION] @ np.array([[0.0, -z, y], [z, 0.0, -x], [-y, x, 0.0]])
    shift = (base @ swing[..., None])[..., 0] + steps[..., TRANSLATION]
    depth = np.maximum(seat[..., 2:], 1e-3)
    log_focal = steps[..., LOG_FOCAL, None]
    ahead = seat[..., :2] / depth
    slide = (shift[..., :2] - ahead * shift[..., 2:]) / depth + ahead * log_focal
    far = depth * np.exp(np.clip(shift[..., 2:] / depth, -1.5, 1.5))
    new_seat = np.concatenate([(ahead + slide) * np.exp(-log_focal) * far, far], axis=-1)
    turned = np.asarray(base @ rotations(new[..., ROTATION]))
    new[..., TRANSLATION] = new_seat - turned @ middle_mm
    return np.asarray(new), turned


def unproject(
    sets: Array, base: Array, distortion: tuple[float, ...], points_px: Array, heights_mm: Array
) -> Array:
    """Intersect the rays of pixels with planes of constant z in the plane's frame.

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
    flat = (points_px - sets[..., None, PRINCIPAL_POINT]) / focal
    if any(distortion):
        flat = lens_distortion.undistort(flat, distortion)
    flat = lens_distortion.undistort_division(flat, sets[..., DIVISION, None, None])
    rotation = base @ rotations(sets[..., ROTATION])
    rays = np.concatenate([flat, np.ones((*flat.shape[:-1], 1))], axis=-1) @ rotation
    centre = -(sets[..., None, TRANSLATION] @ rotation)
    with np.errstate(divide="ignore", invalid="ignore"):
        reach = (heights_mm - centre[..., 2]) / rays[..., 2]
    reach = np.where((reach > 0.0) & np.isfinite(reach), reach, np.nan)
    return np.asarray((centre + reach[..., None] * rays)[..., :2])
