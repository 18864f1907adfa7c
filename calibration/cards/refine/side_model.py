r"""What a photo shows across one side of a card, and where that puts the edge of the upper face.

From inside out: the face, the rim (the cut side of the card's thickness, seen where the camera looks at it),
the foot of the rim, the contact shadow, the table. Any step among these may be the clearest one. The lens
blurs the light, the tone curve encodes it (IEC 61966-2-1), and the camera sharpens what is encoded.

Along the offset x across the side, the edge of the face lies at :math:`e = e_0 + d`, where :math:`e_0` is the
place tried, and the foot of the rim is at :math:`e + h`. With :math:`b = x - e - h`, in px beyond the foot,
and :math:`\Phi` the normal distribution function, the light of a channel k is

.. math::
    L_k &= F_k \Phi(-(x - e) / \sigma) + R_k (1 - \Phi(-(x - e) / \sigma) - \Phi(b / \sigma))
           + T_k \Phi(b / \sigma) S \\
    S &= 1 - a_n \exp(-\max(b, 0) / l) - a_c \Phi((r - b) / \sqrt{s^2 + \sigma^2}),

and its level, where E encodes and :math:`G_w` is a Gaussian blur of w px,

.. math:: E(L_k) + p_f (E - G_{0.9} E)(L_k) + p_c (E - G_{2.2} E)(L_k).

The foot's distance h and the length l over which the contact shadow fades are known (see `Scan`). The 17
parameters of each place are

=====================  ========  ========  ===================================================================
index                  symbol    unit      meaning
=====================  ========  ========  ===================================================================
`LIGHT`, 0 to 8        F, R, T   0 to 1    light of face, rim and table: three for each channel, in turn
`CONTACT_DEPTH`        a_n       1         depth of the shadow that fades from the foot
`CAST_DEPTH`           a_c       1         depth of the shadow that a lamp casts
`CAST_REACH`           r         px        how far beyond the foot the cast shadow reaches
`LOG_CAST_SOFTNESS`    log s     log px    softness of its end
`FINE`, `COARSE`       p_f, p_c  1         strength of fine and of coarse sharpening
`LOG_BLUR`             log σ     log px    blur of the lens
`PLACE`                d         px        shift of the face's edge from the place tried
=====================  ========  ========  ===================================================================
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import pi, sqrt
from typing import Any

import numpy as np
import scipy  # loads its parts, each a good part of a second, when they are used
from numpy.typing import NDArray

from calibration.edges import encode

Array = NDArray[np.float64]
# Single precision suffices: the profile itself is known to one part in a few hundred.
Floats = NDArray[np.float32]

# Where each parameter is, see the table above.
_COLOURS = 9
LIGHT, RIM_LIGHT = slice(0, _COLOURS), slice(1, _COLOURS, 3)
CONTACT_DEPTH, CAST_DEPTH, CAST_REACH, LOG_CAST_SOFTNESS = range(_COLOURS, _COLOURS + 4)
FINE, COARSE, LOG_BLUR, PLACE = range(_COLOURS + 4, _COLOURS + 8)
SHARPENING = slice(FINE, COARSE + 1)
SHARED = slice(_COLOURS, _COLOURS + 8)
PARAMETERS = _COLOURS + 8
# Rows of `Model.curves`: the shares of face, rim and lit table; the derivatives of the lit table by the four
# parameters of the shadows; those of the three shares by the log of the blur, and by the place.
_SHARES, _BY_SHADOWS, _BY_BLUR, _BY_PLACE = slice(0, 3), slice(3, 7), slice(7, 10), slice(10, 13)
# Rows of a channel's own system of equations: light, shadows, sharpening, blur and place, as the parameters
# are ordered; the last one is the residual.
_OWN_LIGHT, _OWN_SHARPENING, _OWN_BLUR_PLACE = slice(0, 3), slice(7, 9), slice(9, 11)
_UNKNOWN, _OWN_SHARED, _RESIDUAL = slice(0, 11), slice(3, 11), 11
_EACH = np.arange(PARAMETERS)
_HALO_PX = (0.9, 2.2)
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
        self.observed, self.weight = np.zeros(shape, np.float32), np.zeros(shape, np.float32)
        self.unsharp = np.zeros((len(scans), len(_HALO_PX), size, size), np.float32)
        self.foot_px = np.array([[scan.foot_px] for scan in scans], np.float32)
        self.fade_px = np.array([[scan.fade_px] for scan in scans], np.float32)
        for index, scan in enumerate(scans):
            own, step = len(scan.offsets_px), scan.offsets_px[1] - scan.offsets_px[0]
            self.offsets[index] = scan.offsets_px[0] + step * np.arange(size)
            self.offsets[index, :own] = scan.offsets_px
            self.observed[index, :, :own] = scan.levels.T
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
        self.observed, self.weight = profiles.observed[of_scan], profiles.weight[of_scan]
        first = np.searchsorted(of_scan, np.arange(len(profiles.offsets) + 1))
        self._rows = [slice(*pair) for pair in pairwise(first.tolist())]

    def curves(self, places: Array, theta: Array) -> Array:
        """Return the shares of face, rim and lit table and their derivatives, (P, 13, M), rows as above."""
        theta = theta.astype(np.float32)
        at = self.offsets - (places.astype(np.float32) + theta[:, PLACE])[:, None]
        beyond = at - self.foot_px
        sigma, soft = np.exp(theta[:, LOG_BLUR, None]), np.exp(theta[:, LOG_CAST_SOFTNESS, None])
        z, y = at / sigma, beyond / sigma
        face, table = scipy.special.ndtr(-z), scipy.special.ndtr(y)
        face_bell, table_bell = _bell(z), -_bell(y)
        face_blur, table_blur = z * face_bell, y * table_bell
        wide = np.hypot(soft, sigma)
        q = (theta[:, CAST_REACH, None] - beyond) / wide
        cast, bell = scipy.special.ndtr(q), _bell(q)
        near = np.exp(-np.maximum(beyond, 0.0) / self.fade_px)
        depth = theta[:, CAST_DEPTH, None]
        shade = 1.0 - theta[:, CONTACT_DEPTH, None] * near - depth * cast
        rim_of_cast = table * depth * bell
        lit_blur = table_blur * shade + rim_of_cast * q * (sigma / wide) ** 2
        face_place, table_place = face_bell / sigma, table_bell / sigma
        fading = np.where(beyond > 0.0, near / self.fade_px, np.float32(0.0))
        lit_place = table_place * shade - table * (
            theta[:, CONTACT_DEPTH, None] * fading + depth * bell / wide
        )
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
        light = theta[:, LIGHT].reshape(-1, 3, 3) @ curves[:, _SHARES]
        encoded, slope = encode(light)
        halos = self._halos(encoded)
        strength = theta[:, SHARPENING, None, None]
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
        left = (self.observed - levels) * self.weight
        misfit = 0.5 * np.einsum("pcm,pcm->p", left, left).astype(np.float64)
        return misfit + 0.5 * (((theta - prior.mean) / prior.std) ** 2).sum(axis=1), misfit

    def normal(
        self, curves: Array, state: tuple[Array, Array, Array], theta: Array, prior: Prior
    ) -> tuple[Array, Array]:
        """Return the normal matrix and right side of a Gauss-Newton step."""
        levels, slope, halos = state
        single = theta.astype(np.float32)
        colours = single[:, LIGHT].reshape(-1, 3, 3)
        count, _, size = levels.shape
        soft = np.empty((count, 3, 9, size), dtype=np.float32)
        soft[:, :, _SHARES] = curves[:, None, _SHARES]
        soft[:, :, _BY_SHADOWS] = colours[:, :, 2, None, None] * curves[:, None, _BY_SHADOWS]
        soft[:, :, 7] = colours @ curves[:, _BY_BLUR]
        soft[:, :, 8] = colours @ curves[:, _BY_PLACE]
        soft *= slope[:, :, None]
        flat = soft.reshape(count, -1, size)
        sharp = flat @ self._sharpening(single[:, SHARPENING])
        sharp += flat
        sharp = sharp.reshape(soft.shape)
        # The last row is the residual, so that one product gives both results.
        rows, weight = np.empty((count, 3, 12, size), dtype=np.float32), self.weight[:, :, None]
        np.multiply(sharp[:, :, :7], weight, out=rows[:, :, :7])
        np.multiply(halos.transpose(0, 2, 1, 3), weight, out=rows[:, :, _OWN_SHARPENING])
        np.multiply(sharp[:, :, 7:], weight, out=rows[:, :, _OWN_BLUR_PLACE])
        np.multiply(self.observed - levels, self.weight, out=rows[:, :, _RESIDUAL])
        products = (rows @ rows.transpose(0, 1, 3, 2)).astype(np.float64)
        products, right = products[:, :, _UNKNOWN, _UNKNOWN], products[:, :, _UNKNOWN, _RESIDUAL]
        matrix = np.zeros((count, PARAMETERS, PARAMETERS))
        vector = np.zeros((count, PARAMETERS))
        for channel in range(3):
            own = slice(3 * channel, 3 * channel + 3)
            matrix[:, own, own] = products[:, channel, _OWN_LIGHT, _OWN_LIGHT]
            matrix[:, own, SHARED] = products[:, channel, _OWN_LIGHT, _OWN_SHARED]
            matrix[:, SHARED, own] = products[:, channel, _OWN_SHARED, _OWN_LIGHT]
            vector[:, own] = right[:, channel, _OWN_LIGHT]
        matrix[:, SHARED, SHARED] = products[:, :, _OWN_SHARED, _OWN_SHARED].sum(axis=1)
        vector[:, SHARED] = right[:, :, _OWN_SHARED].sum(axis=1)
        matrix[:, _EACH, _EACH] += 1.0 / prior.std**2
        vector -= (theta - prior.mean) / prior.std**2
        return matrix, vector
