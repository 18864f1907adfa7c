"""What a photo shows across one side of a card, and where that puts the edge of the upper face.

From inside out: the face, the rim (the cut side of the card's thickness, seen where the camera looks at it),
the foot of the rim, the contact shadow, the table. Any step among these may be the clearest one. The lens
blurs the light, the tone curve encodes it (IEC 61966-2-1), and the camera sharpens what is encoded.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import pi, sqrt
from typing import Any

import numpy as np
import scipy  # loads its parts, each a good part of a second, when they are used
from numpy.typing import NDArray

Array = NDArray[np.float64]
# Single precision suffices: the profile itself is known to one part in a few hundred.
Floats = NDArray[np.float32]

# Per channel the light of face, rim and table; then, for all channels alike: depth of the shadow that fades
# from the foot and of the one that a lamp casts, reach of the latter, log of its softness, strength of fine
# and of coarse sharpening, log of the blur.
_COLOURS = 9
NEAR, CAST, REACH, SOFT, FINE, COARSE, BLUR, PLACE = range(_COLOURS, _COLOURS + 8)
PARAMETERS = _COLOURS + 8
_EACH = np.arange(PARAMETERS)
_HALO_PX = (0.9, 2.2)
_DARK = 0.0031308
# Multiplications up to which OpenBLAS stays in one thread: 65536 times its GEMM_MULTITHREAD_THRESHOLD of 4.
_ONE_THREADS_SHARE = 262_144


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
    """Normal prior of the parameters within limits: (PARAMETERS,) arrays, or one row for each place."""

    mean: Array
    std: Array
    low: Array
    high: Array

    def some(self, index: NDArray[Any]) -> "Prior":
        """Return the rows of some places."""
        return Prior(self.mean[index], self.std[index], self.low[index], self.high[index])

    @classmethod
    def for_places(cls, priors: Sequence["Prior"], counts: Sequence[int]) -> "Prior":
        """Give each of so many places the prior of its scan."""
        names = ("mean", "std", "low", "high")
        return cls(*(np.repeat([getattr(one, name) for one in priors], counts, axis=0) for name in names))


def decode(levels: Array) -> Array:
    """Decode levels, 0 to 255, to linear light, 0 to 1."""
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
    """Return the matrix, (M, M), of a profile minus its smoothed copy; the ends are repeated outside."""
    step = offsets_px[1] - offsets_px[0]
    weight = np.exp(-0.5 * ((offsets_px[:, None] - offsets_px) / radius_px) ** 2)
    before = scipy.special.ndtr((offsets_px[0] - 0.5 * step - offsets_px) / radius_px)
    after = scipy.special.ndtr((offsets_px - offsets_px[-1] - 0.5 * step) / radius_px)
    weight *= ((1.0 - before - after) / weight.sum(axis=1))[:, None]
    weight[:, 0] += before
    weight[:, -1] += after
    return np.asarray(np.eye(len(offsets_px)) - weight)


def _product(rows: Array, matrix: Array) -> Array:
    """Multiply (N, M) by (M, K) in blocks that the algebra library leaves to one thread.

    Splitting products as small as these among threads costs more than it saves, far more on busy processors.
    """
    most = max(_ONE_THREADS_SHARE // matrix.size, 1)
    result = np.empty((len(rows), matrix.shape[1]), rows.dtype)
    for first in range(0, len(rows), most):
        np.matmul(rows[first : first + most], matrix, out=result[first : first + most])
    return result


def _bell(x: Array) -> Array:
    return np.asarray(np.exp(-0.5 * x * x) * (1.0 / sqrt(2.0 * pi)))


class Profiles:
    """Several scans as arrays of one shape: shorter ones are padded with samples of zero weight.

    Parameters
    ----------
    scans : sequence of Scan
    """

    def __init__(self, scans: Sequence[Scan]) -> None:
        size = max(len(scan.offsets_px) for scan in scans)
        shape = (len(scans), 3, size)
        self.offsets = np.empty((len(scans), size), np.float32)
        self.target, self.weight = np.zeros(shape, np.float32), np.zeros(shape, np.float32)
        self.unsharp = np.zeros((len(scans), len(_HALO_PX), size, size), np.float32)
        self.foot_px = np.array([[scan.foot_px] for scan in scans], np.float32)
        self.fade_px = np.array([[scan.fade_px] for scan in scans], np.float32)
        for index, scan in enumerate(scans):
            own, step = len(scan.offsets_px), scan.offsets_px[1] - scan.offsets_px[0]
            self.offsets[index] = scan.offsets_px[0] + step * np.arange(size)
            self.offsets[index, :own] = scan.offsets_px
            self.target[index, :, :own] = scan.levels.T
            self.weight[index, :, :own] = 1.0 / scan.levels_std.T
            for which, radius_px in enumerate(_HALO_PX):
                self.unsharp[index, which, :own, :own] = _unsharp(scan.offsets_px, radius_px).T


class Model:
    """Predicted levels and their derivatives for places (P,) and parameters (P, PARAMETERS).

    Parameters
    ----------
    profiles : Profiles
        What was seen.
    of_scan : (P,) array of int
        Which of them each place is on, ascending.
    """

    def __init__(self, profiles: Profiles, of_scan: NDArray[np.intp]) -> None:
        self.profiles, self.of_scan = profiles, of_scan
        self.offsets = profiles.offsets[of_scan]
        self.foot_px, self.fade_px = profiles.foot_px[of_scan], profiles.fade_px[of_scan]
        self.target, self.weight = profiles.target[of_scan], profiles.weight[of_scan]
        first = np.searchsorted(of_scan, np.arange(len(profiles.offsets) + 1))
        self._rows = [slice(*pair) for pair in pairwise(first.tolist())]

    def curves(self, places: Array, theta: Array) -> Array:
        """Return the share of face, rim and lit table, and derivatives of the latter three, (P, 13, M)."""
        theta = theta.astype(np.float32)
        at = self.offsets - (places.astype(np.float32) + theta[:, PLACE])[:, None]
        beyond = at - self.foot_px
        sigma, soft = np.exp(theta[:, BLUR, None]), np.exp(theta[:, SOFT, None])
        z, y = at / sigma, beyond / sigma
        face, table = scipy.special.ndtr(-z), scipy.special.ndtr(y)
        face_bell, table_bell = _bell(z), -_bell(y)
        face_blur, table_blur = z * face_bell, y * table_bell
        wide = np.hypot(soft, sigma)
        q = (theta[:, REACH, None] - beyond) / wide
        cast, bell = scipy.special.ndtr(q), _bell(q)
        near = np.exp(-np.maximum(beyond, 0.0) / self.fade_px)
        depth = theta[:, CAST, None]
        shade = 1.0 - theta[:, NEAR, None] * near - depth * cast
        rim_of_cast = table * depth * bell
        lit_blur = table_blur * shade + rim_of_cast * q * (sigma / wide) ** 2
        face_place, table_place = face_bell / sigma, table_bell / sigma
        fading = np.where(beyond > 0.0, near / self.fade_px, np.float32(0.0))
        lit_place = table_place * shade - table * (theta[:, NEAR, None] * fading + depth * bell / wide)
        return np.stack(
            [
                face,
                1.0 - face - table,
                table * shade,
                -table * near,
                -table * cast,
                -rim_of_cast / wide,
                rim_of_cast * q * (soft / wide) ** 2,
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
        halos = self._halos(encoded)
        strength = theta[:, FINE : COARSE + 1, None, None]
        return np.clip(encoded + (strength * halos).sum(axis=1), 0.0, 255.0), slope, halos

    def _halos(self, encoded: Array) -> Array:
        halos = np.empty((len(encoded), len(_HALO_PX), *encoded.shape[1:]), encoded.dtype)
        for rows, matrices in zip(self._rows, self.profiles.unsharp, strict=True):
            flat = encoded[rows].reshape(-1, encoded.shape[2])
            for which, matrix in enumerate(matrices):
                halos[rows, which] = _product(flat, matrix).reshape(-1, *encoded.shape[1:])
        return halos

    def _sharpening(self, strength: Floats) -> Floats:
        """Return each place's matrix, (P, M, M), of fine and coarse sharpening together."""
        size = self.offsets.shape[1]
        result = np.empty((len(strength), size, size), np.float32)
        for rows, matrices in zip(self._rows, self.profiles.unsharp, strict=True):
            np.einsum("pk,kij->pij", strength[rows], matrices, out=result[rows])
        return result

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
        soft = np.empty((count, 3, 9, size), dtype=np.float32)
        soft[:, :, :3] = curves[:, None, :3]
        soft[:, :, 3:7] = colours[:, :, 2, None, None] * curves[:, None, 3:7]
        soft[:, :, 7] = colours @ curves[:, 7:10]
        soft[:, :, 8] = colours @ curves[:, 10:13]
        soft *= slope[:, :, None]
        flat = soft.reshape(count, -1, size)
        sharp = flat @ self._sharpening(single[:, FINE : COARSE + 1])
        sharp += flat
        sharp = sharp.reshape(soft.shape)
        # The last row is the residual, so that one product gives both results.
        rows, weight = np.empty((count, 3, 12, size), dtype=np.float32), self.weight[:, :, None]
        np.multiply(sharp[:, :, :7], weight, out=rows[:, :, :7])
        np.multiply(halos.transpose(0, 2, 1, 3), weight, out=rows[:, :, 7:9])
        np.multiply(sharp[:, :, 7:], weight, out=rows[:, :, 9:11])
        np.multiply(self.target - levels, self.weight, out=rows[:, :, 11])
        products = (rows @ rows.transpose(0, 1, 3, 2)).astype(np.float64)
        products, right = products[:, :, :11, :11], products[:, :, :11, 11]
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
        matrix[:, _EACH, _EACH] += 1.0 / prior.std**2
        vector -= (theta - prior.mean) / prior.std**2
        return matrix, vector
