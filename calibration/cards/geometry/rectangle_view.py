"""Which known rectangle a quadrilateral can be a picture of, given the camera."""

from dataclasses import dataclass
from math import log

import numpy as np
import scipy  # loads its parts when they are used
from numpy.typing import NDArray

from calibration.camera import Camera
from calibration.cards.geometry.quadrilateral import plane_axes, rectangle_shape, tilt_deg
from calibration.objects import ReferenceObject

Array = NDArray[np.float64]

STEEPEST_DEG = 72.0
# Unmodelled errors of a side ratio: a slight bow, print or cut not square, the lens's tangential part.
_SHAPE_FLOOR = 0.0025
_EACH = np.arange(8)
# Sheets bow: one corner pair rises against the other by about this share of the diagonal (tuning seeds, where
# bows are a millimetre or so). What is thinner than this is a sheet.
_SHEET_TWIST, _SHEET_MM = 0.0016, 0.2
_TWIST_STEP = 1e-3
# A focal length less certain than this (logarithm) is an assumption; from it to a tele lens of a phone or a
# portrait lens is a factor of four.
ASSUMED_FROM = 0.2
_LONGEST_FACTOR = 4.0


@dataclass(frozen=True, slots=True)
class KindFit:
    """How well a quadrilateral agrees with one kind of object in one orientation.

    Attributes
    ----------
    object : ReferenceObject
        The kind.
    turned : bool
        Whether the quadrilateral's first side is the object's height.
    chi2 : float
        Squared disagreement of proportions, right angles and focal length in units of their uncertainty.
    focal_px : float
        Focal length at which they agree best.
    tilt_deg : float
        Between the object's plane and the picture's, at that focal length.
    error : float
        Disagreement of log side ratio and of the right angle at that focal length, less what the likeliest
        bow of the object explains: root of sum of squares.
    log_area : float
        Logarithm of the product of both's standard uncertainties, focal length included: how many shapes
        would have agreed as well. Agreement means little where this is large.
    """

    object: ReferenceObject
    turned: bool
    chi2: float
    focal_px: float
    tilt_deg: float
    error: float
    log_area: float


def focal_grid(camera: Camera, count: int) -> tuple[Array, Array]:
    """Return plausible focal lengths, and by how many standard uncertainties each is off.

    From 2.6 standard uncertainties below to as many above; if the focal length is only assumed, up to that
    of a long lens, since such photos are not rare.
    """
    if camera.log_focal_std == 0.0:
        return np.array([camera.focal_px]), np.zeros(1)
    above = (
        2.6 if camera.log_focal_std < ASSUMED_FROM else max(log(_LONGEST_FACTOR) / camera.log_focal_std, 2.6)
    )
    off = np.linspace(-2.6, above, count)
    return camera.focal_px * np.exp(off * camera.log_focal_std), off


def _focal_cost(off: Array, camera: Camera) -> Array:
    """Squared disagreement with the camera's focal length; with heavy tails if that is only assumed."""
    if camera.log_focal_std < ASSUMED_FROM:
        return off**2
    # Student's t with four degrees of freedom: a tele lens costs about 8 instead of 16.
    return np.asarray(5.0 * np.log1p(off**2 / 4.0))


def aspect_errors(
    quads_px: Array,
    camera: Camera,
    objects: tuple[ReferenceObject, ...],
    *,
    corner_std_px: float,
    floor: float = 0.03,
) -> Array:
    """Return how far the proportions of rough quadrilaterals are from those of each kind, (N, K).

    Parameters
    ----------
    quads_px : (N, 4, 2) array
        Corners, full-resolution px.
    camera : Camera
        For its focal length, principal point and lens.
    objects : tuple of ReferenceObject
        The kinds.
    corner_std_px : float
        Standard uncertainty of their coordinates: its effect on a small or oblique outline is tolerated.
    floor : float
        Other errors of the proportions; noise is added to it.

    Returns
    -------
    (N, K) array
        Root of the sum of squares of log side ratio, cosine of the corner, and a little for the focal length
        it takes; in either orientation. The effect of a typical bow of the object is tolerated.
    """
    flat = camera.undistort_px(quads_px.reshape(-1, 2)).reshape(quads_px.shape)
    focals, off = focal_grid(camera, 9 if camera.log_focal_std > 0.1 else 4)
    log_ratio, cosine = rectangle_shape(flat, camera.principal_point_px, focals)
    twists = np.array([_twist_std(kind) for kind in objects])
    ease_ratio, ease_cosine = _ease(flat, camera, corner_std_px, floor, twists)
    wanted = np.array([log(kind.aspect) for kind in objects])
    apart = (np.abs(log_ratio)[..., None] - wanted) / ease_ratio[:, None]
    square = cosine[..., None] / ease_cosine[:, None]
    strain = np.broadcast_to(0.006 * np.sqrt(_focal_cost(off, camera))[None, :, None], apart.shape)
    return np.sqrt(_least_between(np.stack([apart, square, strain])))


def _least_between(errors: Array) -> Array:
    """Least sum of squares, (N, K), of errors (3, N, F, K) anywhere on the lines from focal to focal length.

    Proportions change so much with the focal length that a grid alone would reject right outlines.
    """
    if errors.shape[2] == 1:
        return np.asarray((errors[:, :, 0] ** 2).sum(axis=0))
    start, step = errors[:, :, :-1], np.diff(errors, axis=2)
    steepness = np.maximum((step**2).sum(axis=0), 1e-12)
    share = np.clip(-(start * step).sum(axis=0) / steepness, 0.0, 1.0)
    return np.asarray(((start + share * step) ** 2).sum(axis=0).min(axis=1))


def _ease(
    flat: Array, camera: Camera, corner_std_px: float, floor: float, twists: Array
) -> tuple[Array, Array]:
    """Return by how much corner noise and bows widen log ratio and cosine, (N, K) each, over the floor."""
    step = max(0.25 * corner_std_px, 0.02)
    # Undisturbed first, then with each coordinate moved by a step, then twisted.
    moved = np.tile(flat, (10, 1, 1, 1))
    moved.reshape(10, len(flat), 8)[_EACH + 1, :, _EACH] += step
    moved[9] += _TWIST_STEP * _twisted(flat, camera)
    shapes = rectangle_shape(moved.reshape(-1, 4, 2), camera.principal_point_px, np.array([camera.focal_px]))
    eases = []
    for shape in shapes:
        own = shape.reshape(10, len(flat))
        noise = (((own[1:9] - own[0]) / step * corner_std_px) ** 2).sum(axis=0)
        bow = (own[9] - own[0])[:, None] / _TWIST_STEP * twists
        eases.append(np.sqrt(1.0 + (noise[:, None] + bow**2) / floor**2))
    return eases[0], eases[1]


@dataclass(frozen=True, slots=True, eq=False)
class _Comparison:
    """One quadrilateral, at each of F focal lengths, against each of K kinds: what is known of both."""

    focals: Array
    tilts: Array
    log_ratio: Array
    cosine: Array
    strain: Array  # what each focal length costs by itself
    cov: Array  # (K, F, 2, 2), of log ratio and cosine
    twist: Array  # (K, F, 2), what the usual bow of each kind does to them; within `cov`

    def errors(self, objects: tuple[ReferenceObject, ...], *, turned: bool) -> Array:
        """Return by how much log ratio and cosine are off each kind's, (K, F, 2)."""
        wanted = np.log([kind.width_mm / kind.height_mm for kind in objects]) * (-1.0 if turned else 1.0)
        off = self.log_ratio - wanted[:, None]
        return np.stack(np.broadcast_arrays(off, self.cosine), axis=-1)


def _compare(
    corners_px: Array, corners_cov_px2: Array, camera: Camera, objects: tuple[ReferenceObject, ...]
) -> _Comparison:
    """Collect what may make proportions disagree: noise, tolerance, bow, lens, principal point, focal."""
    corners = camera.undistort_px(corners_px)
    focals, off = focal_grid(camera, 41)
    tilts = tilt_deg(corners[None], camera.principal_point_px, focals)[0]
    log_ratio, cosine = (
        value[0] for value in rectangle_shape(corners[None], camera.principal_point_px, focals)
    )
    covariance, per_twist = _shape_covariance(corners, corners_cov_px2, camera, focals)
    twist = per_twist * np.array([_twist_std(kind) for kind in objects])[:, None, None]
    cov = covariance + _object_covariances(objects, corners, camera, tilts)
    cov += twist[..., :, None] * twist[..., None, :]
    # A steep view explains almost any outline: tilt beyond the steepest allowed counts against it.
    strain = _focal_cost(off, camera) + np.maximum(tilts - STEEPEST_DEG, 0.0) ** 2
    return _Comparison(focals, tilts, log_ratio, cosine, strain, cov, twist)


def fit_kinds(
    corners_px: Array, corners_cov_px2: Array, camera: Camera, objects: tuple[ReferenceObject, ...]
) -> tuple[KindFit, ...]:
    """Compare one quadrilateral with every kind in both orientations.

    The disagreement is judged against all possible causes: corner noise, the object's tolerance and bow, the
    lens, the principal point, and the focal length, which is free within its uncertainty.

    Parameters
    ----------
    corners_px : (4, 2) array
        Corners (x, y) in order around it, as the photo shows them.
    corners_cov_px2 : (8, 8) array
        Covariance of x0, y0, x1, y1, ...
    camera : Camera
        For focal length, principal point and lens, each with its uncertainty.
    objects : tuple of ReferenceObject
        The kinds, K of them.

    Returns
    -------
    tuple of KindFit
        Two for each kind, best first.
    """
    one = _compare(corners_px, corners_cov_px2, camera, objects)
    focal_part = _focal_covariance(one.log_ratio, one.cosine, one.focals, camera.log_focal_std)
    inverse = np.linalg.inv(one.cov)
    every, fits = np.arange(len(objects)), []
    for turned in (False, True):
        error = one.errors(objects, turned=turned)
        chi2 = np.einsum("kfi,kfij,kfj->kf", error, inverse, error) + one.strain
        best = chi2.argmin(axis=1)
        own, bend = error[every, best], one.twist[every, best]
        areas = 0.5 * np.linalg.slogdet(one.cov[every, best] + focal_part[best])[1]
        bowed = np.einsum("ki,kij,kj->k", bend, inverse[every, best], own)
        sizes = np.hypot(*(own - bowed[:, None] * bend).T)
        found = (chi2[every, best], one.focals[best], one.tilts[best], sizes, areas)
        numbers = np.stack(found, axis=1).tolist()
        fits += [KindFit(kind, turned, *each) for kind, each in zip(objects, numbers, strict=True)]
    return tuple(sorted(fits, key=lambda fit: fit.chi2))


def shape_log_likelihoods(
    corners_px: Array, corners_cov_px2: Array, camera: Camera, objects: tuple[ReferenceObject, ...]
) -> Array:
    """Return how likely each kind would have shown these proportions.

    Probability densities of log side ratio and corner, the better way round, the focal length integrated out
    over its prior; all that `fit_kinds` allows for widens them.

    Parameters
    ----------
    corners_px, corners_cov_px2, camera, objects
        As for `fit_kinds`.

    Returns
    -------
    (K,) array
        Natural logarithms, up to one common constant.
    """
    one = _compare(corners_px, corners_cov_px2, camera, objects)
    (a, b), d = (one.cov[..., 0, 0], one.cov[..., 0, 1]), one.cov[..., 1, 1]
    det = a * d - b * b
    weights = -0.5 * one.strain - scipy.special.logsumexp(-0.5 * one.strain)
    ways = []
    for turned in (False, True):
        ratio, corner = np.moveaxis(one.errors(objects, turned=turned), -1, 0)
        chi2 = (d * ratio**2 - 2.0 * b * ratio * corner + a * corner**2) / det
        ways.append(scipy.special.logsumexp(weights - 0.5 * (chi2 + np.log(det)), axis=1))
    return np.asarray(np.maximum(*ways))


def _shape_covariance(
    corners: Array, corners_cov_px2: Array, camera: Camera, focals: Array
) -> tuple[Array, Array]:
    """Covariance, (F, 2, 2), of log ratio and cosine from corners, lens and principal point.

    Also how much a twist of the object changes both, (F, 2) per share of its size (see `_twisted`).
    """
    step = 0.05
    twist = _TWIST_STEP * _twisted(corners[None], camera).reshape(1, 8)
    shifts = np.concatenate([np.eye(8), _nuisance(corners, camera), twist]).reshape(-1, 4, 2) * step
    stack = np.concatenate([corners + shifts, corners - shifts])
    ratio, cosine = rectangle_shape(stack, camera.principal_point_px, focals)
    count = len(shifts)
    slopes = np.stack([ratio[:count] - ratio[count:], cosine[:count] - cosine[count:]], axis=2) / (2.0 * step)
    full = np.zeros((count, count))
    full[:8, :8] = corners_cov_px2
    full[8:-1, 8:-1] = np.eye(count - 9)
    by_focal = slopes.transpose(1, 2, 0)
    covariance = by_focal @ full @ by_focal.transpose(0, 2, 1)
    return covariance + _SHAPE_FLOOR**2 * np.eye(2), slopes[-1] / _TWIST_STEP


def _twisted(quads: Array, camera: Camera) -> Array:
    """Displacements, (N, 4, 2) px, of corners lifted alternately up and down by the size.

    Of all ways to lift corners it is the one that no pose of a flat rectangle reproduces; in weak
    perspective it changes the inferred plane, and so the proportions, far more than it shifts the corners.
    The size is the root of width times height.
    """
    centred = (quads - camera.principal_point_px) / camera.focal_px
    ahead, down, normal = plane_axes(quads, camera.principal_point_px, camera.focal_px)
    ahead_z, down_z = ahead[:, 2], down[:, 2]
    depth = 1.0 + np.stack([0.0 * ahead_z, ahead_z, ahead_z + down_z, down_z], axis=1)
    size = np.sqrt(np.linalg.norm(ahead, axis=1) * np.linalg.norm(down, axis=1)).clip(1e-12)
    shift = normal[:, None, :2] - centred * normal[:, None, 2:]
    moved = camera.focal_px * size[:, None, None] * shift / np.clip(depth, 0.2, 5.0)[..., None]
    return np.asarray(moved * np.array([[1.0], [-1.0], [1.0], [-1.0]]))


def _twist_std(kind: ReferenceObject) -> float:
    """Return the standard uncertainty of the twist, half that of one corner, as a share of the size."""
    twist_mm = 0.5 * kind.flatness_std_mm
    if kind.thickness_mm < _SHEET_MM:
        twist_mm = max(twist_mm, _SHEET_TWIST * kind.diagonal_mm)
    return float(twist_mm / (kind.width_mm * kind.height_mm) ** 0.5)


def _focal_covariance(log_ratio: Array, cosine: Array, focals: Array, log_focal_std: float) -> Array:
    """Covariance, (F, 2, 2), of log ratio and cosine that the focal length's uncertainty makes."""
    if len(focals) < 2:
        return np.zeros((len(focals), 2, 2))
    slope = np.gradient(np.stack([log_ratio, cosine], axis=1), np.log(focals), axis=0) * log_focal_std
    return np.asarray(slope[:, :, None] * slope[:, None, :])


def _nuisance(corners: Array, camera: Camera) -> Array:
    """Displacements, (3, 8) in px, of the corners by one standard uncertainty of lens and principal point."""
    centred = (corners - camera.principal_point_px) / camera.focal_px
    bend = camera.k1_std * (centred**2).sum(axis=1, keepdims=True) * centred * camera.focal_px
    shift = np.full((4, 1), camera.principal_point_std_px)
    nothing = np.zeros((4, 1))
    return np.stack([bend.ravel(), np.hstack([shift, nothing]).ravel(), np.hstack([nothing, shift]).ravel()])


def _object_covariances(
    objects: tuple[ReferenceObject, ...], corners: Array, camera: Camera, tilts: Array
) -> Array:
    """Covariances, (K, F, 2, 2), from each object's size tolerance and from corners that do not lie flat."""
    sides = np.array([(kind.width_mm, kind.height_mm) for kind in objects])
    stds = np.array([(kind.width_std_mm, kind.height_std_mm) for kind in objects])
    size = ((stds / sides) ** 2).sum(axis=1)
    flatness = np.array([kind.flatness_std_mm for kind in objects]) / sides.min(axis=1)
    slant = np.tan(np.radians(np.minimum(tilts, 70.0)))
    off_axis = np.linalg.norm(corners.mean(axis=0) - camera.principal_point_px) / camera.focal_px
    lift = flatness[:, None] * np.hypot(slant, off_axis)
    result = np.zeros((*lift.shape, 2, 2))
    result[..., 0, 0] = size[:, None] + lift**2
    result[..., 1, 1] = lift**2
    return result
