"""The two poses in which a plane may be seen, in closed form."""

import numpy as np

from calibration.camera import Array


def two_poses(points_mm: Array, rays: Array) -> tuple[Array, Array]:
    """Return both poses of a plane that agree with the rays of its points, by infinitesimal perspective.

    Parameters
    ----------
    points_mm : (N, 2) array
        Points of the plane, at least four, not on one line.
    rays : (N, 2) array
        Their normalised pixels: x/z and y/z in the camera's frame.

    Returns
    -------
    rotations : (2, 3, 3) array
        Plane to camera. Equal where the plane is seen square on.
    translations : (2, 3) array
        Translations, mm.

    Raises
    ------
    LinAlgError
        No homography takes the points to the rays.

    Notes
    -----
    OpenCV's own form takes the root of a difference that rounding turns negative where the plane is seen
    square on, and goes through rotation vectors, which it mistakes at half a turn: no pose or a false one.
    Here the difference is one of singular values, which are in order, and rotations stay matrices.

    References
    ----------
    Collins and Bartoli, Infinitesimal plane-based pose estimation, IJCV 109(3), 2014.
    """
    middle = points_mm.mean(axis=0)
    flat = points_mm - middle
    H = _homography(flat, rays)
    seen = H[:2, 2]
    slope = H[:2, :2] - np.outer(seen, H[2, :2])
    to_ray = _to_ray(seen)
    left, sizes, right = np.linalg.svd(np.linalg.solve(to_ray[:2, :2] - np.outer(seen, to_ray[2, :2]), slope))
    if not sizes[0] > 0.0:
        raise np.linalg.LinAlgError("the plane is seen as a point")
    shares = sizes / sizes[0]
    upper = left * shares @ right
    lower = right[1] * np.sqrt(1.0 - shares[1] ** 2)
    rotations = np.stack([to_ray @ _completed(upper, way * lower) for way in (1.0, -1.0)])
    translations = [_translation(rotation, flat, rays) - rotation[:, :2] @ middle for rotation in rotations]
    return rotations, np.array(translations)


def _homography(flat: Array, rays: Array) -> Array:
    """Return the matrix (3, 3), its last entry 1, that takes points about their mean to rays."""
    centre, reach = rays.mean(axis=0), np.abs(rays - rays.mean(axis=0)).max()
    size = np.abs(flat).max()
    (x, y), (u, v) = (flat / size).T, ((rays - centre) / reach).T
    one, none = np.ones_like(x), np.zeros_like(x)
    above = np.stack([x, y, one, none, none, none, -u * x, -u * y, -u], axis=1)
    below = np.stack([none, none, none, x, y, one, -v * x, -v * y, -v], axis=1)
    # A row of nothing makes even four points' equations as many as the unknowns.
    equations = np.concatenate([above, below, np.zeros((1, 9))])
    H = np.linalg.svd(equations, full_matrices=False)[2][-1].reshape(3, 3)
    H = np.array([[reach, 0.0, centre[0]], [0.0, reach, centre[1]], [0.0, 0.0, 1.0]]) @ H
    H = H / [size, size, 1.0]
    if not abs(H[2, 2]) > 1e-12 * np.abs(H).max():
        raise np.linalg.LinAlgError("the middle of the plane is seen at infinity")
    return np.asarray(H / H[2, 2])


def _to_ray(seen: Array) -> Array:
    """Return the least rotation that takes the line of sight to a ray."""
    x, y, z = np.append(seen, 1.0) / np.hypot(np.hypot(*seen), 1.0)
    return np.array(
        [
            [1.0 - x * x / (1.0 + z), -x * y / (1.0 + z), x],
            [-x * y / (1.0 + z), 1.0 - y * y / (1.0 + z), y],
            [-x, -y, z],
        ]
    )


def _completed(upper: Array, lower: Array) -> Array:
    """Return the rotation whose first two columns have these first two rows and this third one."""
    columns = np.vstack([upper, lower])
    return np.column_stack([columns, np.cross(columns[:, 0], columns[:, 1])])


def _translation(rotation: Array, flat: Array, rays: Array) -> Array:
    """Return the translation (3,) that fits best, in the least-squares sense of the rays."""
    turned = flat @ rotation[:, :2].T
    along = np.zeros((len(rays), 2, 3))
    along[:, 0, 0] = along[:, 1, 1] = 1.0
    along[..., 2] = -rays
    return np.asarray(
        np.linalg.lstsq(along.reshape(-1, 3), (rays * turned[:, 2:] - turned[:, :2]).ravel(), rcond=None)[0]
    )
