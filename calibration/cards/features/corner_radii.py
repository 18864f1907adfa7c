"""Whether an outline's corners have the radius of its kind: compared with models of other radii.

A box, a phone or a tile may have a card's proportions; its corners rarely have a card's radius.
"""

from functools import lru_cache

import numpy as np
import scipy  # loads its parts, each a good part of a second, when they are used
from numpy.typing import NDArray

from calibration.cards.geometry import apply_homography, homography, rectangle_corners
from calibration.edges import interpolate
from calibration.image import Pyramid
from calibration.objects import ReferenceObject

Array = NDArray[np.float64]

# Radii tried, and the sampling points around the sharp corner, in units of the kind's own radius.
_RADII = (0.0, 0.35, 0.7, 1.0, 1.4, 2.0, 2.8)
_OWN = _RADII.index(1.0)
_FROM, _TO, _STEP, _REACH = -1.1, 2.5, 0.2, 2.6
# Blur of bilinear sampling at a reduced level, px of that level; the least blur, in radii.
_SAMPLING_PX, _LEAST_BLUR = 0.45, 0.06
# What even a perfect fit leaves, squared grey levels: noise and compression.
_NOISE = 2.0
# The radii of cards lie about here, in short sides: the unit where the kind itself is sharp.
_USUAL_SHARE = 0.055
# What one corner may say at most against a radius (log of the mean square), and what that is worth as a log
# likelihood: its samples go together (tuning seeds).
_MOST_PER_CORNER, _PER_LOG = 0.8, 4.0
_DIRECTIONS = ((1.0, 1.0), (-1.0, 1.0), (-1.0, -1.0), (1.0, -1.0))


def radius_margins(pyramid: Pyramid, corners_px: Array, kind: ReferenceObject, blur_px: float) -> Array:
    """Return by how much the best other radius explains each corner better than the kind's own.

    Each corner is compared with a corner of one colour on a ground of another, blurred as the outline's
    edges are; the two colours are those that fit best.

    Parameters
    ----------
    pyramid : Pyramid
        The photo.
    corners_px : (4, 2) array
        Sharp corners, where the sides meet; side 0->1 is the object's width.
    kind : ReferenceObject
        One with rounded corners.
    blur_px : float
        Width of the outline's edges, full-resolution px.

    Returns
    -------
    (4,) array
        Natural logarithm of the ratio of residual mean squares; 0 where the kind's own radius is the best.
    """
    logs = _log_misfits(pyramid, corners_px, kind, kind.corner_radius_mm, blur_px)
    return np.asarray(logs[:, _OWN] - logs.min(axis=1))


def radius_log_likelihoods(
    pyramid: Pyramid, corners_px: Array, kind: ReferenceObject, blur_px: float
) -> tuple[tuple[float, float], ...]:
    """Return how well corners of each radius explain those of an outline.

    Parameters
    ----------
    pyramid, corners_px, blur_px
        As for `radius_margins`.
    kind : ReferenceObject
        What the outline is taken for, with rounded or sharp corners.

    Returns
    -------
    tuple of (float, float)
        Radius as a share of the short side, rising from 0, and the logarithm of its likelihood, 0 for the
        best.
    """
    short_mm = min(kind.width_mm, kind.height_mm)
    unit_mm = kind.corner_radius_mm or _USUAL_SHARE * short_mm
    logs = _log_misfits(pyramid, corners_px, kind, unit_mm, blur_px)
    # A corner that is covered or printed on explains nothing well: none may count beyond a limit.
    off = np.minimum(logs - logs.min(axis=1, keepdims=True), _MOST_PER_CORNER).sum(axis=0)
    likelihoods = -_PER_LOG * (off - off.min())
    shares = np.array(_RADII) * unit_mm / short_mm
    return tuple(zip(shares.tolist(), likelihoods.tolist(), strict=True))


def _log_misfits(
    pyramid: Pyramid, corners_px: Array, kind: ReferenceObject, radius_mm: float, blur_px: float
) -> Array:
    """Return the logarithm of the mean square left of each corner by each radius tried, (4, R)."""
    px_per_mm = float(np.linalg.norm(corners_px[2] - corners_px[0])) / kind.diagonal_mm
    level = pyramid.level_for(_STEP * radius_mm * px_per_mm)
    blur_px = float(np.hypot(blur_px, _SAMPLING_PX * pyramid.scales[level]))
    blur = float(np.hypot(blur_px / (px_per_mm * radius_mm), _LEAST_BLUR))
    shown = _pictures(round(blur, 2))
    flat_mm = rectangle_corners(kind.width_mm, kind.height_mm)
    places_mm = flat_mm[:, None] + radius_mm * np.array(_DIRECTIONS)[:, None] * _places()
    places_px = apply_homography(homography(flat_mm, corners_px), places_mm)
    seen = interpolate(pyramid.levels[level], pyramid.to_level(places_px, level)).astype(np.float64)
    seen -= seen.mean(axis=1, keepdims=True)
    explained = np.einsum("rn,cnk->crk", shown, seen) ** 2
    left = ((seen**2).sum(axis=(1, 2))[:, None] - explained.sum(axis=2)) / seen[0].size
    return np.asarray(np.log(np.maximum(left, 0.0) + _NOISE))


@lru_cache(maxsize=1)
def _places() -> Array:
    """Return the sampling points, (N, 2) in radii: along one side and along the other from the corner."""
    steps = np.arange(_FROM, _TO, _STEP)
    places = np.stack(np.meshgrid(steps, steps), axis=-1).reshape(-1, 2)
    places = places[np.hypot(*places.T) < _REACH]
    places.setflags(write=False)
    return np.asarray(places)


@lru_cache(maxsize=64)
def _pictures(blur: float) -> Array:
    """Return pictures of corners of each radius, (R, N), of zero mean and unit sum of squares."""
    along, down = _places().T
    pictures = []
    for radius in _RADII:
        beside = np.minimum(along, down)
        round_it = radius - np.hypot(radius - along, radius - down)
        inside = np.where((along < radius) & (down < radius), round_it, beside)
        picture = scipy.special.ndtr(inside / blur)
        picture = picture - picture.mean()
        pictures.append(picture / np.linalg.norm(picture))
    result = np.array(pictures)
    result.setflags(write=False)
    return result
