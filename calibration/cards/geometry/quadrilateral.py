"""Plane geometry of quadrilaterals: homographies, and how like a rectangle of known sides one looks."""

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


def side_vectors(quads_px: Array, centre_px: tuple[float, float]) -> tuple[Array, Array]:
    """Return the first two columns of the homography from the unit square, up to one common scale.

    Parameters
    ----------
    quads_px : (N, 4, 2) array
        Corners (x, y) in order around each quadrilateral, as a pinhole sees them.
    centre_px : tuple
        Principal point, (x, y).

    Returns
    -------
    tuple of (N, 3) arrays
        Along side 0->1 and along side 0->3, in pixels from the principal point; divide the first two
        components by the focal length to have directions in the camera's frame.

    References
    ----------
    Heckbert, Fundamentals of texture mapping and image warping, thesis, UC Berkeley, 1989.
    """
    x, y = quads_px[..., 0] - centre_px[0], quads_px[..., 1] - centre_px[1]
    x0, x1, x2, x3 = (x[..., i] for i in range(4))
    y0, y1, y2, y3 = (y[..., i] for i in range(4))
    sx, sy = x0 - x1 + x2 - x3, y0 - y1 + y2 - y3
    ax, ay, bx, by = x1 - x2, y1 - y2, x3 - x2, y3 - y2
    determinant = ax * by - bx * ay
    determinant = np.where(np.abs(determinant) < 1e-9, 1e-9, determinant)
    g = (sx * by - bx * sy) / determinant
    h = (ax * sy - sx * ay) / determinant
    first = np.stack([x1 - x0 + g * x1, y1 - y0 + g * y1, g], axis=-1)
    second = np.stack([x3 - x0 + h * x3, y3 - y0 + h * y3, h], axis=-1)
    return first, second


def rectangle_shape(quads_px: Array, centre_px: tuple[float, float], focals_px: Array) -> tuple[Array, Array]:
    """Return side ratio and lack of right angles of each quadrilateral, for each focal length.

    Parameters
    ----------
    quads_px : (N, 4, 2) array
        Corners (x, y) in order around each, as a pinhole sees them.
    centre_px : tuple
        Principal point, (x, y).
    focals_px : (F,) array
        Focal lengths.

    Returns
    -------
    log_ratio : (N, F) array
        Natural logarithm of side 0->1 over side 0->3 of the flat figure, taken as a parallelogram.
    cosine : (N, F) array
        Cosine of the angle between those sides: 0 for a rectangle.

    References
    ----------
    Zhang and He, Whiteboard scanning and image enhancement, MSR-TR-2003-39, 2003.
    """
    first, second = side_vectors(quads_px, centre_px)
    f2 = focals_px[None, :] ** 2

    def product(a: Array, b: Array) -> Array:
        flat = (a[:, :2] * b[:, :2]).sum(axis=1)[:, None]
        return np.asarray(flat + f2 * (a[:, 2] * b[:, 2])[:, None])

    aa, bb = np.maximum(product(first, first), 1e-12), np.maximum(product(second, second), 1e-12)
    return 0.5 * np.log(aa / bb), product(first, second) / np.sqrt(aa * bb)


def tilt_deg(quads_px: Array, centre_px: tuple[float, float], focals_px: Array) -> Array:
    """Return the angle, (N, F), between each quadrilateral's plane and the picture's, per focal length."""
    first, second = side_vectors(quads_px, centre_px)
    (ax, ay, az), (bx, by, bz) = first.T[..., None], second.T[..., None]
    # The normal of two directions (x, y, f z): only its ratio of components depends on f.
    across = np.hypot(ay * bz - az * by, az * bx - ax * bz) * focals_px
    facing = np.abs(ax * by - ay * bx)
    cosine = facing / np.maximum(np.hypot(across, facing), 1e-12)
    return np.asarray(np.degrees(np.arccos(np.clip(cosine, 0.0, 1.0))))


def plane_axes(
    quads_px: Array, centre_px: tuple[float, float], focal_px: float
) -> tuple[Array, Array, Array]:
    """Return both columns of `side_vectors` in the camera's frame, and the unit normal.

    Parameters
    ----------
    quads_px : (N, 4, 2) array
        Corners (x, y) in order around each quadrilateral, as a pinhole sees them.
    centre_px : tuple
        Principal point, (x, y).
    focal_px : float
        Focal length.

    Returns
    -------
    first, second : (N, 3) arrays
        Along side 0->1 and along side 0->3, x right, y down, z forward, up to one common scale.
    normal : (N, 3) array
        Unit vectors; away from the camera where the corners run clockwise in the picture.
    """
    scale = (focal_px, focal_px, 1.0)
    first, second = (vector / scale for vector in side_vectors(quads_px, centre_px))
    normal = np.cross(first, second)
    normal /= np.linalg.norm(normal, axis=1, keepdims=True).clip(1e-12)
    return first, second, normal


def homography(source: Array, target: Array) -> Array:
    """Return the homography that takes four points to four others.

    Parameters
    ----------
    source, target : (4, 2) arrays
        The points, in any unit; no three of the source on one line.

    Returns
    -------
    (3, 3) array
        For column vectors (x, y, 1), its last element 1.
    """
    rows = []
    for (x, y), (u, v) in zip(source, target, strict=True):
        rows.append([x, y, 1, 0, 0, 0, -u * x, -u * y])
        rows.append([0, 0, 0, x, y, 1, -v * x, -v * y])
    solution = np.linalg.solve(np.array(rows, dtype=np.float64), np.asarray(target, dtype=np.float64).ravel())
    return np.append(solution, 1.0).reshape(3, 3)


def apply_homography(matrix: Array, points: Array) -> Array:
    """Return points taken through a homography.

    Parameters
    ----------
    matrix : (3, 3) array
        The homography.
    points : (..., 2) array
        Points (x, y).

    Returns
    -------
    (..., 2) array
        Where they go, in the units of the homography's target.
    """
    flat = points.reshape(-1, 2)
    mapped = np.c_[flat, np.ones(len(flat))] @ matrix.T
    return np.asarray((mapped[:, :2] / mapped[:, 2:]).reshape(points.shape))


def rectangle_corners(width: float, height: float) -> Array:
    """Return the corners of an upright rectangle.

    Parameters
    ----------
    width, height : float
        Sides, in any unit.

    Returns
    -------
    (4, 2) array
        Clockwise in the picture sense (y down) from (0, 0); the first side is the width.
    """
    return np.array([[0.0, 0.0], [width, 0.0], [width, height], [0.0, height]])


def is_convex(quads_px: Array) -> NDArray[np.bool_]:
    """Tell which quadrilaterals are convex and run clockwise in the picture sense.

    Parameters
    ----------
    quads_px : (N, 4, 2) array
        Corners (x, y) of each, y down.

    Returns
    -------
    (N,) array of bool
        True for those that are and do.
    """
    sides = np.roll(quads_px, -1, axis=1) - quads_px
    following = np.roll(sides, -1, axis=1)
    turn = sides[..., 0] * following[..., 1] - sides[..., 1] * following[..., 0]
    return np.asarray((turn > 0).all(axis=1))


def clockwise(quad_px: Array) -> Array:
    """Return a quadrilateral's corners clockwise in the picture sense.

    Parameters
    ----------
    quad_px : (4, 2) array
        Corners (x, y) in order around it, either way, y down.

    Returns
    -------
    (4, 2) array
        The same corners, the first one kept.
    """
    x, y = quad_px[:, 0], quad_px[:, 1]
    area = float(np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y))
    return quad_px if area > 0 else quad_px[[0, 3, 2, 1]]


def intersect(point_a: Array, direction_a: Array, point_b: Array, direction_b: Array) -> Array:
    """Return where lines meet; the arrays broadcast.

    Parameters
    ----------
    point_a, direction_a : (..., 2) arrays
        A point of each first line, and its direction, of any length.
    point_b, direction_b : (..., 2) arrays
        The same of each second line.

    Returns
    -------
    (..., 2) array
        The intersections; parallel lines meet very far away.
    """
    cross = direction_a[..., 0] * direction_b[..., 1] - direction_a[..., 1] * direction_b[..., 0]
    cross = np.where(np.abs(cross) < 1e-9, 1e-9, cross)
    between = point_b - point_a
    along = (between[..., 0] * direction_b[..., 1] - between[..., 1] * direction_b[..., 0]) / cross
    return np.asarray(point_a + along[..., None] * direction_a)
