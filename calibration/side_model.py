"""What a photo shows across one side of a card, and where that puts the edge of the upper face.

From inside out: the face, the rim (the cut side of the card's thickness, seen where the camera looks at it),
the foot of the rim, the contact shadow, the table. Any step among these may be the clearest one. The lens
blurs the light, the tone curve encodes it (IEC 61966-2-1), and the camera sharpens what is encoded.
"""

from dataclasses import dataclass
from math import pi, sqrt

import numpy as np
import scipy  # loads its parts, each a good part of a second, when they are used
from numpy.typing import NDArray

Array = NDArray[np.float64]
# Single precision serves: the profile itself is known to a part in some hundreds.
Floats = NDArray[np.float32]

# Per channel the light of face, rim and table; then, for all channels alike: depth of the shadow that fades
# from the foot and of the one that a lamp casts, reach of the latter, log of its softness, strength of fine
# and of coarse sharpening, log of the blur.
_COLOURS = 9
NEAR, CAST, REACH, SOFT, FINE, COARSE, BLUR, PLACE = range(_COLOURS, _COLOURS + 8)
PARAMETERS = _COLOURS + 8
_HALO_PX = (0.9, 2.2)
_HOPELESS = 25.0
_WORSE = 2.0
_ROUNDS, _AGAIN, _SMALL_GAIN = 12, 7, 0.05
_DARK = 0.0031308


@dataclass(frozen=True, slots=True, eq=False)
class Scan:
    """A profile across a side.

    Attributes
    ----------
    offsets_px : (M,) array
        Places across, outward, equally spaced.
    levels, levels_std : (M, 3) arrays
        Encoded levels, 0 to 255, and their standard uncertainty.
    reach_px : float
        How far inside offset 0 the edge of the face may be.
    foot_px : float
        How far outside the face the foot of the rim is seen; 0 where the face hides the rim.
    fade_px : float
        Distance over which a contact shadow fades.
    """

    offsets_px: Array
    levels: Array
    levels_std: Array
    reach_px: float
    foot_px: float
    fade_px: float


@dataclass(frozen=True, slots=True, eq=False)
class Prior:
    """Normal prior of the parameters within limits, (PARAMETERS,) arrays."""

    mean: Array
    std: Array
    low: Array
    high: Array


@dataclass(frozen=True, slots=True, eq=False)
class Explained:
    """How well each place of the face's edge explains a profile.

    Attributes
    ----------
    cost : (P,) array
        Negative log evidence up to a constant: all but the place is integrated out by Laplace's method.
    misfit : (P,) array
        Chi-squared of the profile.
    variance_px2 : (P,) array
        Of the place, by the curvature of the cost.
    theta : (P, PARAMETERS) array
    """

    cost: Array
    misfit: Array
    variance_px2: Array
    theta: Array

    def some(self, index: NDArray[np.intp]) -> "Explained":
        """Return some of the places."""
        return Explained(self.cost[index], self.misfit[index], self.variance_px2[index], self.theta[index])

    def take(self, index: NDArray[np.intp], new: "Explained") -> None:
        """Replace some of the places."""
        self.cost[index], self.misfit[index] = new.cost, new.misfit
        self.variance_px2[index], self.theta[index] = new.variance_px2, new.theta


def decode(levels: Array) -> Array:
    """Take encoded levels, 0 to 255, back to light, 0 to 1."""
    value = np.clip(levels / 255.0, 0.0, 1.0)
    return np.where(value <= 0.04045, value / 12.92, ((value + 0.055) / 1.055) ** 2.4)


def _encode(light: Array) -> tuple[Array, Array]:
    """Encode light as levels; also the slope of levels over light."""
    safe = np.maximum(light, _DARK)
    power = safe ** (1.0 / 2.4)
    dark = light < _DARK
    levels = np.where(dark, 12.92 * light, 1.055 * power - 0.055)
    return 255.0 * levels, 255.0 * np.where(dark, light.dtype.type(12.92), 1.055 / 2.4 * power / safe)


def _unsharp(offsets_px: Array, radius_px: float) -> Array:
    """Return the matrix, (M, M), of a profile less its softened copy; the ends are repeated outside."""
    step = offsets_px[1] - offsets_px[0]
    weight = np.exp(-0.5 * ((offsets_px[:, None] - offsets_px) / radius_px) ** 2)
    before = scipy.special.ndtr((offsets_px[0] - 0.5 * step - offsets_px) / radius_px)
    after = scipy.special.ndtr((offsets_px - offsets_px[-1] - 0.5 * step) / radius_px)
    weight *= ((1.0 - before - after) / weight.sum(axis=1))[:, None]
    weight[:, 0] += before
    weight[:, -1] += after
    return np.asarray(np.eye(len(offsets_px)) - weight)


def _bell(x: Array) -> Array:
    return np.asarray(np.exp(-0.5 * x * x) * (1.0 / sqrt(2.0 * pi)))


class _Model:
    """Predicted levels and their derivatives for places (P,) and parameters (P, PARAMETERS)."""

    def __init__(self, scan: Scan) -> None:
        self.offsets = scan.offsets_px.astype(np.float32)
        self.foot_px, self.fade_px = np.float32(scan.foot_px), np.float32(scan.fade_px)
        halos = [_unsharp(scan.offsets_px, radius).T for radius in _HALO_PX]
        self.unsharp = np.stack(halos).astype(np.float32)
        self.target = scan.levels.T.astype(np.float32)
        self.weight = (1.0 / scan.levels_std.T).astype(np.float32)

    def curves(self, places: Array, theta: Array) -> Array:
        """Return the share of face, rim and lit table, and derivatives of the latter three, (P, 13, M)."""
        theta = theta.astype(np.float32)
        at = self.offsets - (places.astype(np.float32) + theta[:, PLACE])[:, None]
        beyond = at - self.foot_px
        sigma, soft = np.exp(theta[:, BLUR, None]), np.exp(theta[:, SOFT, None])
        z, y = at / sigma, beyond / sigma
        face, table = scipy.special.ndtr(-z), scipy.special.ndtr(y)
        face_blur, table_blur = z * _bell(z), -y * _bell(y)
        wide = np.hypot(soft, sigma)
        q = (theta[:, REACH, None] - beyond) / wide
        cast, bell = scipy.special.ndtr(q), _bell(q)
        near = np.exp(-np.maximum(beyond, 0.0) / self.fade_px)
        depth = theta[:, CAST, None]
        shade = 1.0 - theta[:, NEAR, None] * near - depth * cast
        lit_blur = table_blur * shade + table * depth * bell * q * (sigma / wide) ** 2
        face_place, table_place = _bell(z) / sigma, -_bell(y) / sigma
        fading = np.where(beyond > 0.0, near / self.fade_px, np.float32(0.0))
        lit_place = table_place * shade - table * (theta[:, NEAR, None] * fading + depth * bell / wide)
        return np.stack(
            [
                face,
                1.0 - face - table,
                table * shade,
                -table * near,
                -table * cast,
                -table * depth * bell / wide,
                table * depth * bell * q * (soft / wide) ** 2,
                face_blur,
                -face_blur - table_blur,
                lit_blur,
                face_place,
                -face_place - table_place,
                lit_place,
            ],
            axis=1,
        )

    def levels(self, curves: Array, theta: Array) -> tuple[Array, Array, Array]:
        """Return predicted levels (P, 3, M), slope of the encoding, and the two halos (P, 2, 3, M)."""
        theta = theta.astype(np.float32)
        light = theta[:, :_COLOURS].reshape(-1, 3, 3) @ curves[:, :3]
        encoded, slope = _encode(light)
        flat = encoded.reshape(-1, encoded.shape[2])
        halos = np.stack([(flat @ unsharp).reshape(encoded.shape) for unsharp in self.unsharp], axis=1)
        strength = theta[:, FINE : COARSE + 1, None, None]
        return np.clip(encoded + (strength * halos).sum(axis=1), 0.0, 255.0), slope, halos

    def objective(self, levels: Array, theta: Array, prior: Prior) -> tuple[Array, Array]:
        """Half the sum of squares with and without the prior, (P,) each."""
        left = (self.target - levels) * self.weight
        misfit = 0.5 * np.einsum("pcm,pcm->p", left, left).astype(np.float64)
        return misfit + 0.5 * (((theta - prior.mean) / prior.std) ** 2).sum(axis=1), misfit

    def normal(
        self, curves: Array, state: tuple[Array, Array, Array], theta: Array, prior: Prior
    ) -> tuple[Array, Array]:
        """Return the normal matrix and right side of a Gauss-Newton step."""
        levels, slope, halos = state
        single = theta.astype(np.float32)
        colours = single[:, :_COLOURS].reshape(-1, 3, 3)
        count, _, size = levels.shape
        jacobian = np.zeros((count, 3, 11, size), dtype=np.float32)
        jacobian[:, :, :3] = curves[:, None, :3]
        jacobian[:, :, 3:7] = colours[:, :, 2, None, None] * curves[:, None, 3:7]
        jacobian[:, :, 9] = colours @ curves[:, 7:10]
        jacobian[:, :, 10] = colours @ curves[:, 10:13]
        jacobian *= slope[:, :, None]
        # As one product each: many small ones cost several times as much.
        rows = jacobian.reshape(-1, size)
        fine, coarse = ((rows @ unsharp).reshape(jacobian.shape) for unsharp in self.unsharp)
        jacobian += single[:, FINE, None, None, None] * fine + single[:, COARSE, None, None, None] * coarse
        jacobian[:, :, 7:9] = halos.transpose(0, 2, 1, 3)
        jacobian *= self.weight[None, :, None]
        left = (self.target - levels) * self.weight
        products = jacobian @ jacobian.transpose(0, 1, 3, 2)
        right = (jacobian @ left[..., None])[..., 0]
        matrix = np.zeros((count, PARAMETERS, PARAMETERS))
        vector = np.zeros((count, PARAMETERS))
        for channel in range(3):
            own = slice(3 * channel, 3 * channel + 3)
            matrix[:, own, own] = products[:, channel, :3, :3]
            matrix[:, own, _COLOURS:] = products[:, channel, :3, 3:]
            matrix[:, _COLOURS:, own] = products[:, channel, 3:, :3]
            vector[:, own] = right[:, channel, :3]
        matrix[:, _COLOURS:, _COLOURS:] = products[:, :, 3:, 3:].sum(axis=1)
        vector[:, _COLOURS:] = right[:, :, 3:].sum(axis=1)
        matrix += np.diag(1.0 / prior.std**2)
        vector -= (theta - prior.mean) / prior.std**2
        return matrix, vector


def explain(
    scan: Scan, places_px: Array, starts: Array, of_place: NDArray[np.intp], prior: Prior
) -> Explained:
    """Fit the parameters about each place of the face's edge, (P,), ascending.

    `starts` is an (N, PARAMETERS) array of where to begin, `of_place` (N,) the place that each belongs to;
    every place has at least one. A place that does far worse than the next one inward begins once more where
    that one ended.
    """
    model = _Model(scan)
    first = _descend(model, places_px[of_place], starts, prior, _ROUNDS)
    order = np.lexsort((first.cost, of_place))
    _, chosen = np.unique(of_place[order], return_index=True)
    best = first.some(order[chosen])
    inward = np.maximum(np.arange(len(places_px)) - 1, 0)
    hopeful = best.cost[inward] < best.cost.min() + 0.5 * _HOPELESS
    worse = np.flatnonzero((best.cost > best.cost[inward] + _WORSE) & hopeful)
    if len(worse):
        start = best.theta[inward[worse]].copy()
        start[:, PLACE] = 0.0
        new = _descend(model, places_px[worse], start, prior, _AGAIN)
        better = new.cost < best.cost[worse]
        best.take(worse[better], new.some(np.flatnonzero(better)))
    return best


def _descend(model: _Model, places_px: Array, start: Array, prior: Prior, rounds: int) -> Explained:
    """Take damped Gauss-Newton steps; places that have become hopeless are left as they are."""
    nothing = np.full(len(places_px), np.inf)
    found = Explained(nothing.copy(), nothing.copy(), nothing.copy(), np.clip(start, prior.low, prior.high))
    live = np.arange(len(places_px))
    places, now = places_px, found.theta.copy()
    curves = model.curves(places, now)
    state = model.levels(curves, now)
    value, chi = model.objective(state[0], now, prior)
    damping = np.full(len(live), 1e-2)
    for round_ in range(rounds):
        matrix, vector = model.normal(curves, state, now, prior)
        rest = np.linalg.slogdet(matrix[:, :PLACE, :PLACE])[1]
        variance = np.exp(rest - np.linalg.slogdet(matrix)[1])
        found.take(live, Explained(value + 0.5 * rest, 2.0 * chi, variance, now))
        if round_ in (3, 6):
            keep = found.cost[live] < found.cost.min() + (3.0 if round_ == 3 else 1.0) * _HOPELESS
            live, places, now, curves = live[keep], places[keep], now[keep], curves[keep]
            state = (state[0][keep], state[1][keep], state[2][keep])
            value, chi, damping = value[keep], chi[keep], damping[keep]
            matrix, vector = matrix[keep], vector[keep]
        trial = np.clip(now + _step(matrix, vector, now, damping, prior), prior.low, prior.high)
        new_curves = model.curves(places, trial)
        new_state = model.levels(new_curves, trial)
        new_value, new_chi = model.objective(new_state[0], trial, prior)
        better = new_value < value
        damping = np.clip(np.where(better, 0.2 * damping, 6.0 * damping), 1e-5, 1e4)
        gain = float(np.where(better, value - new_value, 0.0).max())
        now[better], curves[better] = trial[better], new_curves[better]
        value[better], chi[better] = new_value[better], new_chi[better]
        for old, new in zip(state, new_state, strict=True):
            old[better] = new[better]
        if gain < _SMALL_GAIN and round_ > 1:
            break
    return found


def _step(matrix: Array, vector: Array, theta: Array, damping: Array, prior: Prior) -> Array:
    """Solve for the step; parameters that press against a limit stay."""
    held = ((theta <= prior.low) & (vector < 0.0)) | ((theta >= prior.high) & (vector > 0.0))
    free = np.where(held, 0.0, 1.0)
    damped = matrix * (1.0 + damping[:, None, None] * np.eye(PARAMETERS))
    damped = damped * free[:, :, None] * free[:, None] + held[:, :, None] * np.eye(PARAMETERS)
    return np.asarray(np.linalg.solve(damped, (vector * free)[..., None])[..., 0])
