"""A robust, slightly bent line through points found across an edge, and its covariance."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from calibration.edges.profiles import Places

Array = NDArray[np.float64]

TUKEY = 4.685  # 95 % efficiency for normal residuals (Beaton and Tukey, Technometrics 16, 1974)
# Residual scatter understates a line's error: neighbouring profiles share paper, print and lens. Block means
# and this factor bring 95 % intervals of corners to 95.8 % coverage on simulated photos (own simulation).
INFLATION = 1.3
BLOCKS = 10
_LEAST_PLACES = 8


@dataclass(frozen=True, slots=True, eq=False)
class Line:
    """Result of `fit_line`; a step is the distance between two samples of a profile.

    Attributes
    ----------
    start_steps, end_steps : float
        Offsets where the path starts and ends.
    sag_steps : float
        Additional offset in the middle.
    used : (N,) array of bool
        Places on the line.
    residual_steps : float
        Robust standard deviation of the points.
    scatter : _Scatter
        What the covariance is computed from.
    """

    start_steps: float
    end_steps: float
    sag_steps: float
    used: NDArray[np.bool_]
    residual_steps: float
    scatter: "_Scatter"

    @property
    def covariance(self) -> Array:
        """Covariance (2, 2) of the first two, computed on demand, since most lines are fitted again."""
        return _covariance(self.scatter)


def fit_line(along: Array, places: Places, present_sag_steps: float, sag_std_steps: float) -> Line | None:
    """Fit a slightly bent line by Tukey's biweight.

    Parameters
    ----------
    along : (N,) array
        Shares of the path, 0 to 1.
    places : Places
        Where the edge lies at each.
    present_sag_steps : float
        Sag that the path has already; it counts against the prior.
    sag_std_steps : float
        Prior standard uncertainty of the whole sag about zero.

    Returns
    -------
    Line or None
        None if too few points agree.

    Notes
    -----
    The offset at the share t of the path is :math:`a (1 - t) + b t + 4 c t (1 - t)`, a and b at its ends, c
    the sag. The covariance comes from the scatter of block means, since neighbouring points share errors.

    References
    ----------
    Beaton and Tukey, The fitting of power series, meaning polynomials, Technometrics 16, 1974.
    """
    seen = np.isfinite(places.offset)
    if seen.sum() < _LEAST_PLACES:
        return None
    typical = median(places.height[seen])
    seen &= places.height > max(0.25 * typical, 0.3)
    if seen.sum() < _LEAST_PLACES:
        return None
    t, offset = along[seen], places.offset[seen]
    strength = np.minimum(places.height[seen], 2.0 * typical) ** 2
    strength /= strength.mean()
    prior = _Prior(present_sag_steps, sag_std_steps)
    solution, weight, sigma, residual = _robust(t, offset, strength, prior)
    used = np.zeros(len(along), dtype=bool)
    used[np.flatnonzero(seen)[weight > 0.05 * strength]] = True
    if used.sum() < _LEAST_PLACES - 2:
        return None
    scatter = _Scatter(t, residual, weight, prior)
    return Line(float(solution[0]), float(solution[1]), float(solution[2]), used, sigma, scatter)


def median(values: Array) -> float:
    """Return the median of finite values, bit for bit as numpy does.

    numpy's own checks take five times longer than the work on some hundred values, and a point that is
    dragged needs dozens of medians within the time of a frame.

    Parameters
    ----------
    values : (N,) array
        At least one value, all finite; their order does not matter.

    Returns
    -------
    float
        The middle value, or the mean of the two middle ones.
    """
    middle = len(values) // 2
    if len(values) % 2:
        return float(np.partition(values, middle)[middle])
    parted = np.partition(values, (middle - 1, middle))
    return float((parted[middle - 1] + parted[middle]) / 2.0)


@dataclass(frozen=True, slots=True)
class _Prior:
    """Prior of the sag, as one more observation."""

    present_sag_steps: float
    sag_std_steps: float


@dataclass(frozen=True, slots=True, eq=False)
class _Scatter:
    """Points along a line, the distance of each from it, and its weight."""

    t: Array
    residual: Array
    weight: Array
    prior: _Prior


def _design(t: Array) -> Array:
    return np.stack([1.0 - t, t, 4.0 * t * (1.0 - t)], axis=1)


def _solve(design: Array, value: Array, weight: Array, sag_weight: float, present_sag_steps: float) -> Array:
    scaled = design * weight[:, None]
    (a, b, c), (_, d, e), (_, _, f) = (design.T @ scaled).tolist()
    x, y, z = (value @ scaled).tolist()
    ridge = 1e-9 * float(weight.sum())
    a, d, f = a + ridge, d + ridge, f + ridge + sag_weight
    z -= sag_weight * present_sag_steps
    # By cofactors: numpy's own checks take ten times longer than the work on three equations.
    p, q, r = d * f - e * e, c * e - b * f, b * e - c * d
    s, t, u = a * f - c * c, b * c - a * e, a * d - b * b
    determinant = a * p + b * q + c * r
    solution = np.array([p * x + q * y + r * z, q * x + s * y + t * z, r * x + t * y + u * z])
    return np.asarray(solution / determinant)


def _robust(t: Array, offset: Array, strength: Array, prior: _Prior) -> tuple[Array, Array, float, Array]:
    """Return the line, the weight of each point, their robust standard deviation and their residuals."""
    design = _design(t)
    sigma, weight = 1.0, strength
    residual = offset - median(offset)
    solution = np.zeros(3)
    for round_ in range(12):
        size = np.abs(residual)
        sigma = max(1.4826 * median(size), 0.02)
        bounded = np.minimum(size / (TUKEY * sigma), 1.0)
        weight = strength * (1.0 - bounded**2) ** 2 + 1e-12
        # Errors of neighbouring points are correlated: a quarter of the points count as independent.
        previous = solution
        solution = _solve(
            design, offset, weight, (2.0 * sigma / prior.sag_std_steps) ** 2, prior.present_sag_steps
        )
        residual = offset - design @ solution
        if round_ > 2 and np.abs(solution - previous).max() < 1e-4:
            break
    return solution, weight, sigma, residual


def _covariance(scatter: _Scatter) -> Array:
    """Covariance of both ends from the scatter of block means about the line."""
    t, residual, weight, prior = scatter.t, scatter.residual, scatter.weight, scatter.prior
    edges = np.linspace(t.min(), t.max() + 1e-9, BLOCKS + 1)
    block = np.clip(np.searchsorted(edges, t, side="right") - 1, 0, BLOCKS - 1)
    total = np.bincount(block, weight, BLOCKS)
    some = total > 0.02 * total.max()
    if some.sum() < 4:
        return np.eye(2)
    mean_t = np.bincount(block, weight * t, BLOCKS)[some] / total[some]
    mean_r = np.bincount(block, weight * residual, BLOCKS)[some] / total[some]
    weights = total[some] / total[some].mean()
    design = _design(mean_t)
    variance = 1e-4
    for _ in range(2):
        sag_weight = variance / prior.sag_std_steps**2
        correction = _solve(design, mean_r, weights, sag_weight, 0.0)
        off = mean_r - design @ correction
        variance = max(float(np.sum(weights * off**2)) / (some.sum() - 2.5), 1e-6)
    normal = design.T @ (design * weights[:, None]) + 1e-9 * np.eye(3)
    normal[2, 2] += variance / prior.sag_std_steps**2
    return np.asarray(INFLATION**2 * variance * np.linalg.inv(normal)[:2, :2])
