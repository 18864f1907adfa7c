"""How well each place of a face's edge explains the profile across it: a fit about every place."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from calibration.side_model import PARAMETERS, PLACE, Model, Prior, Scan

Array = NDArray[np.float64]

_HOPELESS = 25.0
_WORSE = 2.0
_ROUNDS, _AGAIN, _SMALL_GAIN = 12, 7, 0.05


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


def explain(
    scan: Scan, places_px: Array, starts: Array, of_place: NDArray[np.intp], prior: Prior
) -> Explained:
    """Fit the parameters about each place of the face's edge, (P,), ascending.

    `starts` is an (N, PARAMETERS) array of where to begin, `of_place` (N,) the place that each belongs to;
    every place has at least one. A place that does far worse than the next one inward begins once more where
    that one ended.
    """
    model = Model(scan)
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


def _descend(model: Model, places_px: Array, start: Array, prior: Prior, rounds: int) -> Explained:
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
