"""Finding a coin's rim from one mark: the largest ellipse that has an edge nearly all the way round."""

import numpy as np
from numpy.typing import NDArray

from calibration.camera import Array
from calibration.edges import Ellipse, Rim, find_rim, fit_ellipse, sample
from calibration.errors import GeometryError

_RAYS = 72
_PEAKS = 8
_TRIALS = 250
# Points on a coin's own edge lie this close to one ellipse.
_MOST_SCATTER_PX = 1.0
# An ellipse is good if this share of the rays has an edge on it.
_GOOD_SHARE = 0.6


def rim_around(pixels: NDArray[np.uint8], mark_px: Array, *, most_px: float | None = None) -> Rim | None:
    """Find the outer rim of a round object around a mark, or None.

    Parameters
    ----------
    pixels : (H, W, 3) array
        The photo.
    mark_px : (2,) array
        A point inside, not too near the rim.
    most_px : float, optional
        Largest half axis; by default a third of the photo's shorter side.

    Notes
    -----
    Edges along rays from the mark; ellipses through five of them drawn at random with a fixed seed (RANSAC,
    Fischler and Bolles 1981); of those with support nearly as good as the best the largest, since a coin's
    face is full of smaller circles about the same centre; then `find_rim`.
    """
    limit = most_px or min(pixels.shape[:2]) / 3.0
    centre = np.asarray(mark_px, dtype=float)
    found: list[Ellipse] = []
    # From a mark off centre the rays meet the rim at unequal distances; the second pass starts from
    # the centre that the first one found.
    for width, least in ((0.6, 0.3), (0.25, _GOOD_SHARE)):
        points, rays = _edges(pixels, centre, limit)
        found = _ellipses(points, rays, centre, limit, (width, least)) if len(points) >= 20 else []
        if not found:
            return None
        centre = np.array(found[0].centre_px)
    for rough in found:
        rim = find_rim(pixels, rough, search_px=max(3.0, 0.03 * rough.semi_axes_px[0]))
        if rim is not None and rim.share > _GOOD_SHARE and rim.residual_px < _MOST_SCATTER_PX:
            return rim
    return None


def _edges(pixels: NDArray[np.uint8], mark_px: Array, limit: float) -> tuple[Array, NDArray[np.int64]]:
    """Strongest edges along rays from the mark: points (N, 2) and the ray of each."""
    from skimage.feature import peak_local_max

    angles = np.arange(_RAYS) * 2.0 * np.pi / _RAYS
    step = max(1.0, limit / 400.0)
    reach = np.arange(4.0, limit, step)
    direction = np.stack([np.cos(angles), np.sin(angles)], axis=1)
    colours = sample(pixels, mark_px + reach[None, :, None] * direction[:, None])
    gradient = np.linalg.norm(colours[:, 2:] - colours[:, :-2], axis=2)
    points, rays = [], []
    for ray in range(_RAYS):
        best = peak_local_max(gradient[ray], threshold_rel=0.15, num_peaks=_PEAKS)[:, 0]
        points.append(mark_px + reach[best + 1][:, None] * direction[ray])
        rays.append(np.full(len(best), ray))
    every = np.concatenate(points)
    inside = np.all((every > 2) & (every < np.array(pixels.shape[1::-1]) - 3), axis=1)
    return every[inside], np.concatenate(rays)[inside]


def _ellipses(
    points: Array, rays: NDArray[np.int64], mark_px: Array, limit: float, how: tuple[float, float]
) -> list[Ellipse]:
    width, least = how
    rng = np.random.default_rng(0)
    reach = np.linalg.norm(points - mark_px, axis=1)
    scored: list[tuple[int, float, Ellipse]] = []
    for _ in range(_TRIALS):
        # Five edges at about the same distance, on rays spread around: what a near-circle gives.
        seed = int(rng.integers(len(points)))
        near = np.flatnonzero(np.abs(reach - reach[seed]) < width * reach[seed])
        wanted = (rays[seed] + np.arange(5) * _RAYS // 5 + rng.integers(-4, 5, 5)) % _RAYS
        chosen = [near[np.argmin(_ray_gap(rays[near], ray) * 100 + rng.random(len(near)))] for ray in wanted]
        if len(set(rays[chosen].tolist())) < 5:
            continue
        try:
            ellipse = fit_ellipse(points[chosen])
        except (GeometryError, np.linalg.LinAlgError):
            continue
        a, b = ellipse.semi_axes_px
        if not (b > 0.5 * a and 6.0 < a < limit) or float(ellipse.distances(mark_px[None])[0]) > -0.2 * b:
            continue
        close = np.abs(ellipse.distances(points)) < max(1.5, 0.01 * a)
        scored.append((len(set(rays[close].tolist())), a, ellipse))
    if not scored:
        return []
    best = max(score for score, _, _ in scored)
    good = [entry for entry in scored if entry[0] >= max(0.85 * best, least * _RAYS)]
    return [ellipse for _, _, ellipse in sorted(good, key=lambda entry: -entry[1])[:4]]


def _ray_gap(rays: NDArray[np.int64], wanted: int) -> Array:
    gap = np.abs(rays - wanted) % _RAYS
    return np.asarray(np.minimum(gap, _RAYS - gap), float)
