"""What the bends of a picture's long edges say of its lens."""

from dataclasses import replace

import numpy as np

from calibration.camera import Array, Camera, lens_hypotheses
from calibration.lens_seen.arcs import Arcs

# Below this the lens is known well enough.
UNCERTAIN_STD = 0.05
# Of long edges about half are straight in the scene (our judgement). The others bend as they like: a
# sagitta of a hundredth of the length is typical, and any is possible (Cauchy).
_STRAIGHT_SHARE, _CURVED_SAGITTA = 0.5, 0.01
# Edges of one sheet or table share what makes them bend, so that two count as one.
_INDEPENDENT = 0.5
# The posterior is no narrower: lenses that bend otherwise than by the division model.
_LEAST_STD = 0.015
# So many edges, not all parallel or on one side of the centre, have to agree.
_FEWEST, _CROSSING_DEG = 3, 30.0
# Closer parallel edges are two edges of one thing, as a share of the diagonal.
_TWIN_DEG, _TWIN_SHARE = 5.0, 0.02
_SEEN_AT, _DIVISIONS = np.linspace(-0.8, 0.25, 106), np.linspace(-0.6, 0.12, 145)
_CENTRES = np.array([(x, y) for x in (-1.0, 0.0, 1.0) for y in (-1.0, 0.0, 1.0)]) * np.sqrt(1.5)
_FOCAL_LOGS = np.linspace(-2.0, 2.0, 9)


def camera_by_arcs(camera: Camera, arcs: Arcs) -> Camera:
    """Return the camera with the lens that its edges show, or as it was where they show too little.

    Parameters
    ----------
    camera : Camera
        Beforehand.
    arcs : Arcs
        Of edges, in pixels of the photo.

    Returns
    -------
    Camera
        Only `division` and `k1_std` may differ.
    """
    arcs = arcs.only(_without_twins(arcs, _TWIN_SHARE * camera.diagonal_px))
    if len(arcs) < _FEWEST:
        return camera
    seen = _log_likelihoods(camera, arcs)
    prior = np.zeros(len(_DIVISIONS))
    for share, mean, std in lens_hypotheses(camera):
        prior += share / std * np.exp(-0.5 * ((_DIVISIONS - mean) / std) ** 2)
    # What is seen is the bend in pixels: the same at a longer focal length is a larger coefficient.
    logs = _FOCAL_LOGS[:, None]
    at = _DIVISIONS * np.exp(-2.0 * camera.log_focal_std * logs)
    likelihood = np.exp(np.interp(at, _SEEN_AT, seen) - seen.max()) * np.exp(-0.5 * logs**2)
    posterior = prior * likelihood.sum(axis=0)
    posterior /= posterior.sum()
    mean = float(posterior @ _DIVISIONS)
    std = float(np.sqrt(posterior @ (_DIVISIONS - mean) ** 2))
    if std >= camera.k1_std or not _agree(camera, arcs, float(_SEEN_AT[seen.argmax()])):
        return camera
    std = max(std, _LEAST_STD)
    return replace(camera, division=mean, k1_std=std)


def _without_twins(arcs: Arcs, apart_px: float) -> list[int]:
    """Return which arcs to use, the longest of each bundle of close parallels."""
    kept: list[int] = []
    for index in np.argsort(-arcs.length, kind="stable"):
        across = np.abs(arcs.normal[kept] @ arcs.normal[index]) > np.cos(np.radians(_TWIN_DEG))
        off = np.abs((arcs.middle[kept] - arcs.middle[index]) @ arcs.normal[index])
        if not np.any(across & (off < apart_px)):
            kept.append(int(index))
    return kept


def _expected(arcs: Arcs, camera: Camera, divisions: Array, off_px: Array) -> Array:
    """Return the bends (N, ...) of straight edges, 1/px, at these coefficients and shifts of the centre.

    Notes
    -----
    A straight line becomes a circle in regard to which the centre has the power 1 / coefficient. With m from
    the centre to a point of it, in focal lengths, and n the normal there, its curvature is
    2 c m·n / (1 - c m²).
    """
    m = (arcs.middle - camera.principal_point_px - off_px) / camera.focal_px
    lever = np.sum(m * arcs.normal, axis=1)[:, None]
    return np.asarray(
        2.0 * divisions * lever / (1.0 - divisions * np.sum(m * m, axis=1)[:, None]) / camera.focal_px
    )


def _by_each(arcs: Arcs, expected: Array) -> tuple[Array, Array]:
    """Return the densities of each bend: of an edge that is straight in the scene, and of a curved one."""
    off = (arcs.bend[:, None] - expected) / arcs.bend_std[:, None]
    straight = np.exp(-0.5 * off**2) / (np.sqrt(2.0 * np.pi) * arcs.bend_std[:, None])
    typical = 8.0 * _CURVED_SAGITTA / arcs.length
    curved = 1.0 / (np.pi * typical * (1.0 + (arcs.bend / typical) ** 2))
    return _STRAIGHT_SHARE * straight, (1.0 - _STRAIGHT_SHARE) * curved[:, None]


def _log_likelihoods(camera: Camera, arcs: Arcs) -> Array:
    """Return the log likelihood of each of `_SEEN_AT`, the centre's place left open."""
    of_centres = []
    for shift in _CENTRES * camera.principal_point_std_px:
        straight, curved = _by_each(arcs, _expected(arcs, camera, _SEEN_AT, shift))
        weight = 0.25 ** np.count_nonzero(shift)
        of_centres.append(_INDEPENDENT * np.log(straight + curved).sum(axis=0) + np.log(weight))
    return np.asarray(np.logaddexp.reduce(of_centres, axis=0))


def _agree(camera: Camera, arcs: Arcs, division: float) -> bool:
    """Tell whether enough edges that say something agree on a coefficient, on two sides or crosswise."""
    expected = _expected(arcs, camera, np.array([division]), np.zeros(2))
    straight, curved = _by_each(arcs, expected)
    # What a coefficient wrong by the prior's spread would do to the bend.
    lever = np.sum((arcs.middle - camera.principal_point_px) * arcs.normal, axis=1) / camera.focal_px**2
    telling = 2.0 * np.abs(lever) * camera.k1_std > arcs.bend_std
    chosen = (straight > curved)[:, 0] & telling
    if np.count_nonzero(chosen) < _FEWEST:
        return False
    normals = arcs.normal[chosen]
    crossing = np.abs(normals @ normals.T).min() < np.cos(np.radians(_CROSSING_DEG))
    same = np.sign(normals @ normals.T)
    sides = same * np.outer(lever[chosen], lever[chosen])
    return bool(crossing or sides.min() < 0.0)
