"""How well each position of a face's edge explains the profile across it: a fit at every position."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from calibration.cards.refine.side_model import PARAMETERS, PLACE, Model, Prior, Profiles, Scan

Array = NDArray[np.float64]

_HOPELESS = 25.0
_WORSE = 2.0
_ROUNDS, _AGAIN, _SMALL_GAIN = 12, 7, 0.05
_EACH = np.arange(PARAMETERS)


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


@dataclass(frozen=True, slots=True, eq=False)
class Task:
    """One profile, and where to look for its explanation.

    Attributes
    ----------
    scan : Scan
    places_px : (P,) array
        Places of the face's edge, ascending.
    starts : (N, PARAMETERS) array
        Where to begin.
    of_place : (N,) array of int
        The place that each start belongs to; every place has at least one.
    prior : Prior
    """

    scan: Scan
    places_px: Array
    starts: Array
    of_place: NDArray[np.intp]
    prior: Prior


def explain(tasks: Sequence[Task]) -> list[Explained]:
    """Fit the parameters about each place of the face's edge on each profile.

    A position that does far worse than the next one inward starts again where that one ended. All profiles
    are fitted together, since the steps take the time, not the number of positions.
    """
    profiles = Profiles([task.scan for task in tasks])
    begun = [(task.places_px[task.of_place], task.starts) for task in tasks]
    best = [
        _best_start(task, found)
        for task, found in zip(tasks, _descend(profiles, tasks, begun, _ROUNDS), strict=True)
    ]
    worse = [_worse_than_inward(found) for found in best]
    again = []
    for task, found, places in zip(tasks, best, worse, strict=True):
        start = found.theta[places - 1].copy()
        start[:, PLACE] = 0.0
        again.append((task.places_px[places], start))
    if any(len(places) for places in worse):
        for found, new, places in zip(best, _descend(profiles, tasks, again, _AGAIN), worse, strict=True):
            better = new.cost < found.cost[places]
            found.take(places[better], new.some(np.flatnonzero(better)))
    return best


def _best_start(task: Task, found: Explained) -> Explained:
    order = np.lexsort((found.cost, task.of_place))
    _, chosen = np.unique(task.of_place[order], return_index=True)
    return found.some(order[chosen])


def _worse_than_inward(found: Explained) -> NDArray[np.intp]:
    inward = np.maximum(np.arange(len(found.cost)) - 1, 0)
    hopeful = found.cost[inward] < found.cost.min() + 0.5 * _HOPELESS
    return np.flatnonzero((found.cost > found.cost[inward] + _WORSE) & hopeful)


def _descend(
    profiles: Profiles, tasks: Sequence[Task], begun: Sequence[tuple[Array, Array]], rounds: int
) -> list[Explained]:
    """Take damped Gauss-Newton steps from places and starts on each profile.

    Hopeless positions are dropped, and so is a profile on which no step gains much.
    """
    counts = [len(places) for places, _ in begun]
    of_scan = np.repeat(np.arange(len(counts)), counts)
    every = Prior.for_places([task.prior for task in tasks], counts)
    start = np.clip(np.concatenate([theta for _, theta in begun]), every.low, every.high)
    nothing = np.full(len(of_scan), np.inf)
    found = Explained(nothing.copy(), nothing.copy(), nothing.copy(), start)
    live = np.arange(len(of_scan))
    now = _Now.at(Model(profiles, of_scan), np.concatenate([places for places, _ in begun]), start, every)
    for round_ in range(rounds):
        matrix, vector = now.normal()
        if round_ in (3, 6):
            found.take(live, now.figures().explained(matrix))
            lowest = np.full(len(counts), np.inf)
            np.minimum.at(lowest, of_scan, found.cost)
            bound = lowest[of_scan[live]] + (3.0 if round_ == 3 else 1.0) * _HOPELESS
            keep = found.cost[live] < bound
            live, now, matrix, vector = live[keep], now.some(keep), matrix[keep], vector[keep]
        before = now.figures()
        gains = np.zeros(len(counts))
        np.maximum.at(gains, of_scan[live], now.step(matrix, vector))
        going = (gains >= _SMALL_GAIN)[of_scan[live]] if round_ > 1 else np.ones(len(live), bool)
        if round_ == rounds - 1:
            going[:] = False
        if not going.all():
            found.take(live[~going], before.some(~going).explained(matrix[~going]))
            live, now = live[going], now.some(going)
        if not len(live):
            break
    ends = np.cumsum(counts)[:-1]
    return [found.some(index) for index in np.split(np.arange(len(of_scan)), ends)]


@dataclass(frozen=True, slots=True, eq=False)
class _Figures:
    """Objective, misfit and parameters of some places."""

    value: Array
    misfit: Array
    theta: Array

    def some(self, index: NDArray[np.bool_]) -> "_Figures":
        """Return those of some of the places."""
        return _Figures(self.value[index], self.misfit[index], self.theta[index])

    def explained(self, matrix: Array) -> Explained:
        """Return how well the places explain their profiles, from the normal matrices there."""
        rest = np.linalg.slogdet(matrix[:, :PLACE, :PLACE])[1]
        variance = np.exp(rest - np.linalg.slogdet(matrix)[1])
        return Explained(self.value + 0.5 * rest, 2.0 * self.misfit, variance, self.theta)


@dataclass(slots=True, eq=False)
class _Now:
    """The state of the descent at each position."""

    model: Model
    places_px: Array
    prior: Prior
    theta: Array
    curves: Array
    state: tuple[Array, Array, Array]
    value: Array
    misfit: Array
    damping: Array

    @classmethod
    def at(cls, model: Model, places_px: Array, theta: Array, prior: Prior) -> "_Now":
        """Begin."""
        curves = model.curves(places_px, theta)
        state = model.levels(curves, theta)
        value, misfit = model.objective(state[0], theta, prior)
        damping = np.full(len(places_px), 1e-2)
        return cls(model, places_px, prior, theta.copy(), curves, state, value, misfit, damping)

    def some(self, keep: NDArray[np.bool_]) -> "_Now":
        """Continue with some of the positions."""
        levels, slope, halos = self.state
        return _Now(
            Model(self.model.profiles, self.model.of_scan[keep]),
            self.places_px[keep],
            self.prior.some(keep),
            self.theta[keep],
            self.curves[keep],
            (levels[keep], slope[keep], halos[keep]),
            self.value[keep],
            self.misfit[keep],
            self.damping[keep],
        )

    def normal(self) -> tuple[Array, Array]:
        """Return the normal matrices and right sides here."""
        return self.model.normal(self.curves, self.state, self.theta, self.prior)

    def figures(self) -> "_Figures":
        """Return the values by which each position is judged, as they are now."""
        return _Figures(self.value.copy(), self.misfit.copy(), self.theta.copy())

    def step(self, matrix: Array, vector: Array) -> Array:
        """Try a step and accept it where it reduces the cost; return the gain of each position, (P,)."""
        theta, prior = self.theta, self.prior
        trial = np.clip(theta + _step(matrix, vector, theta, self.damping, prior), prior.low, prior.high)
        curves = self.model.curves(self.places_px, trial)
        state = self.model.levels(curves, trial)
        value, misfit = self.model.objective(state[0], trial, prior)
        better = value < self.value
        self.damping = np.clip(np.where(better, 0.2 * self.damping, 6.0 * self.damping), 1e-5, 1e4)
        gain = np.where(better, self.value - value, 0.0)
        theta[better], self.curves[better] = trial[better], curves[better]
        self.value[better], self.misfit[better] = value[better], misfit[better]
        for old, new in zip(self.state, state, strict=True):
            old[better] = new[better]
        return gain


def _step(matrix: Array, vector: Array, theta: Array, damping: Array, prior: Prior) -> Array:
    """Solve for the step; parameters that press against a limit stay fixed."""
    held = ((theta <= prior.low) & (vector < 0.0)) | ((theta >= prior.high) & (vector > 0.0))
    damped = np.where(held[:, :, None] | held[:, None], 0.0, matrix)
    own = matrix[:, _EACH, _EACH] * (1.0 + damping[:, None])
    damped[:, _EACH, _EACH] = np.where(held, 1.0, own)
    return np.asarray(np.linalg.solve(damped, np.where(held, 0.0, vector)[..., None])[..., 0])
