"""The least-squares problem behind a plane: corners seen, and everything known beforehand, in one fit.

Every quantity that is not certain is an unknown with a prior: focal length, lens, principal point, the sizes
of the reference objects, the lifts of their corners off the plane. What the corners can tell about one of
them improves it, what they cannot stays as the prior says. The estimate is (to first order) a linear function
of independent unit inputs, namely the whitened corner noise and each prior's standardised error; that matrix
of influences is at once the covariance and the exact budget by source.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import cv2
import numpy as np

from calibration import pose
from calibration.camera import Camera
from calibration.lens import Array
from calibration.targets import Target, corner_weights

CORNERS, SIZE, FLATNESS = "card corners", "card size", "card flatness"
FOCAL, DISTORTION, PRINCIPAL_POINT = "focal length", "lens distortion", "principal point"


@dataclass(frozen=True, slots=True, eq=False)
class Fit:
    """One minimum of the problem.

    Attributes
    ----------
    parameters : (10,) array
        See `calibration.pose`; the turn is zero, it is in `base`.
    base : (3, 3) array
        Rotation, plane to camera.
    influence : (10, M) array
        Change of the parameters per unit of each independent input.
    sources : tuple of str
        What each input is, length M.
    chi2, degrees_of_freedom : float, int
        Misfit at the minimum, priors included, and its expectation.
    """

    parameters: Array
    base: Array
    influence: Array
    sources: tuple[str, ...]
    chi2: float
    degrees_of_freedom: int


class Problem:
    """Residuals of a camera and targets as a function of standardised unknowns."""

    def __init__(self, camera: Camera, targets: Sequence[Target], toward: float) -> None:
        self.camera, self.targets, self.toward = camera, targets, toward
        self.whitening = [np.linalg.inv(np.linalg.cholesky(target.cov_px2)) for target in targets]
        self.weights = [corner_weights(target.points_mm) for target in targets]
        # Unknowns: pose 6; focal, lens, centre 4; per target 2 scales and 4 lifts; per further target a pose
        # of 3.
        self.size = pose.PARAMETERS + 6 * len(targets) + 3 * (len(targets) - 1)
        self.priors = np.r_[6:10, 10 : 10 + 6 * len(targets)]
        self.step = np.full(self.size, 1e-4)
        self.step[pose.TURN], self.step[pose.MOVE] = 1e-6, 1e-3

    def sources(self) -> tuple[str, ...]:
        """Name the independent inputs in the order of the residuals."""
        noise = [CORNERS] * sum(2 * len(target.points_px) for target in self.targets)
        objects = ([SIZE] * 2 + [FLATNESS] * 4) * len(self.targets)
        return (*noise, FOCAL, DISTORTION, PRINCIPAL_POINT, PRINCIPAL_POINT, *objects)

    def camera_sets(self, unknowns: Array) -> Array:
        """Turn standardised unknowns (..., n) into parameter sets (..., 10)."""
        camera = self.camera
        sets = unknowns[..., : pose.PARAMETERS].copy()
        sets[..., pose.LOG_FOCAL] = np.log(camera.focal_px) + camera.log_focal_std * unknowns[..., 6]
        sets[..., pose.DIVISION] = camera.division + camera.k1_std * unknowns[..., 7]
        sets[..., pose.CENTRE] = (
            camera.principal_point_px + camera.principal_point_std_px * unknowns[..., pose.CENTRE]
        )
        return sets

    def residuals(self, unknowns: Array, base: Array) -> Array:
        """Return the whitened residuals (..., m) of unknowns (..., n) at base rotations (..., 3, 3)."""
        sets = self.camera_sets(unknowns)
        parts = []
        for index, target in enumerate(self.targets):
            solid = self._solid(unknowns, index)
            seen = pose.project(sets, base, self.camera.distortion, solid)
            miss = (seen - target.points_px).reshape(*unknowns.shape[:-1], -1)
            parts.append(miss @ self.whitening[index].T)
        return np.concatenate([*parts, unknowns[..., self.priors]], axis=-1)

    def _solid(self, unknowns: Array, index: int) -> Array:
        """Place a target's points (..., N, 3) in the plane's frame: size, lift, in-plane pose."""
        target = self.targets[index]
        first = pose.PARAMETERS + 6 * index
        scale = 1.0 + unknowns[..., first : first + 2] * target.scale_std
        flat = target.points_mm * scale[..., None, :]
        lift = target.flatness_std_mm * (unknowns[..., first + 2 : first + 6] @ self.weights[index].T)
        if index:
            at = pose.PARAMETERS + 6 * len(self.targets) + 3 * (index - 1)
            angle = unknowns[..., at + 2, None]
            c, s = np.cos(angle), np.sin(angle)
            x, y = flat[..., 0], flat[..., 1]
            flat = np.stack([c * x - s * y, s * x + c * y], axis=-1) + unknowns[..., None, at : at + 2]
        return np.concatenate([flat, self.toward * (target.height_mm + lift)[..., None]], axis=-1)

    def jacobian(self, unknowns: Array, base: Array) -> tuple[Array, Array]:
        """Return the residuals (..., m) and their derivatives (..., m, n)."""
        shifts = np.diag(self.step)
        spread = np.concatenate([unknowns[..., None, :] + shifts, unknowns[..., None, :] - shifts], axis=-2)
        values = self.residuals(spread, base[..., None, :, :])
        slope = (values[..., : self.size, :] - values[..., self.size :, :]) / (2 * self.step[:, None])
        return self.residuals(unknowns, base), np.swapaxes(slope, -1, -2)


def solve(problem: Problem, unknowns: Array, base: Array, *, rounds: int = 25) -> tuple[Array, Array, Array]:
    """Minimise from several starts at once, by Levenberg's method.

    Parameters
    ----------
    problem : Problem
        What is minimised.
    unknowns : (B, n) array
        Starts.
    base : (B, 3, 3) array
        Their base rotations.
    rounds : int
        Upper limit of iterations.

    Returns
    -------
    unknowns (B, n), base (B, 3, 3), chi2 (B,)
        The minima, their rotations with the turn taken in, and the sums of squares.
    """
    damping = np.full(len(unknowns), 1e-3)
    values, slope = problem.jacobian(unknowns, base)
    cost = np.sum(values**2, axis=-1)
    for _ in range(rounds):
        normal = np.swapaxes(slope, -1, -2) @ slope
        diagonal = np.einsum("bii->bi", normal)
        damped = normal + np.einsum("b,bi,ij->bij", damping, diagonal + 1e-12, np.eye(problem.size))
        step = -np.linalg.solve(damped, np.einsum("bmn,bm->bn", slope, values)[..., None])[..., 0]
        trial = unknowns + step
        trial_cost = np.sum(problem.residuals(trial, base) ** 2, axis=-1)
        better = trial_cost <= cost
        done = np.where(better, cost - trial_cost < 1e-7 * (1.0 + cost), damping > 1e3)
        damping = np.where(better, damping * 0.1, damping * 10.0)
        unknowns = np.where(better[:, None], trial, unknowns)
        base = base @ pose.rotations(unknowns[:, pose.TURN])
        unknowns[:, pose.TURN] = 0.0
        values, slope = problem.jacobian(unknowns, base)
        cost = np.sum(values**2, axis=-1)
        if np.all(done):
            break
    return unknowns, base, cost


def starts(problem: Problem, logs: Sequence[float]) -> tuple[Array, Array]:
    """Return starting unknowns and rotations: for each focal log, in standard deviations, up to two poses.

    Notes
    -----
    Seen from afar a plane and its mirror image about the line of sight look alike; both are started from, and
    the closed form that gives them (IPPE) is the library's.
    """
    first, found, turns = problem.targets[0], [], []
    points = np.column_stack([first.points_mm, np.zeros(len(first.points_mm))])
    for log in logs:
        sets = np.zeros(problem.size)
        sets[6] = log
        focal_px = problem.camera.focal_px * float(np.exp(log * problem.camera.log_focal_std))
        rays = replace(problem.camera, focal_px=focal_px).normalise(first.points_px)
        _, vectors, moves, _ = cv2.solvePnPGeneric(points, rays, np.eye(3), None, flags=cv2.SOLVEPNP_IPPE)
        for vector, move in zip(vectors, moves, strict=True):
            if not (np.all(np.isfinite(vector)) and np.all(np.isfinite(move))) or float(move[2].item()) <= 0:
                continue
            guess = sets.copy()
            guess[pose.MOVE] = move.ravel()
            found.append(guess)
            turns.append(pose.rotations(np.asarray(vector, dtype=float).ravel()))
    if not found:
        return np.zeros((0, problem.size)), np.zeros((0, 3, 3))
    guesses, rotation = np.array(found), np.array(turns)
    for index in range(1, len(problem.targets)):
        _place(problem, index, guesses, rotation)
    return guesses, rotation


def _place(problem: Problem, index: int, guesses: Array, rotation: Array) -> None:
    """Fill in the in-plane pose of a further target from its rough place on the plane."""
    target = problem.targets[index]
    heights = np.full(len(target.points_px), problem.toward * target.height_mm)
    at = pose.PARAMETERS + 6 * len(problem.targets) + 3 * (index - 1)
    spots = pose.unproject(
        problem.camera_sets(guesses),
        rotation,
        problem.camera.distortion,
        target.points_px[None],
        heights[None],
    )
    spots = np.nan_to_num(spots)
    own = target.points_mm - target.points_mm.mean(axis=0)
    for guess, spot in zip(guesses, spots, strict=True):
        middle = spot.mean(axis=0)
        cross = own.T @ (spot - middle)
        angle = np.arctan2(cross[0, 1] - cross[1, 0], cross[0, 0] + cross[1, 1])
        c, s = np.cos(angle), np.sin(angle)
        guess[at : at + 2] = middle - np.array([[c, -s], [s, c]]) @ target.points_mm.mean(axis=0)
        guess[at + 2] = angle


def finish(problem: Problem, unknowns: Array, base: Array, chi2: float) -> Fit:
    """Work out the influences of the independent inputs at a minimum."""
    _, slope = problem.jacobian(unknowns, base)
    influence = np.linalg.solve(slope.T @ slope, slope.T)
    # From standardised unknowns to parameters. The inputs are errors: seen minus true, and prior mean minus
    # true.
    camera = problem.camera
    units = np.ones(pose.PARAMETERS)
    units[pose.LOG_FOCAL], units[pose.DIVISION] = camera.log_focal_std, camera.k1_std
    units[pose.CENTRE] = camera.principal_point_std_px
    noise = sum(2 * len(target.points_px) for target in problem.targets)
    rows = influence[: pose.PARAMETERS] * units[:, None]
    sources = problem.sources()
    if noise > pose.PARAMETERS:
        # Any number of noise inputs acts on ten parameters like ten of them.
        left, values, _ = np.linalg.svd(rows[:, :noise], full_matrices=False)
        rows = np.column_stack([left * values, rows[:, noise:]])
        sources = (*(CORNERS,) * pose.PARAMETERS, *sources[noise:])
    keep = np.linalg.norm(rows, axis=0) > 0
    return Fit(
        problem.camera_sets(unknowns),
        base,
        rows[:, keep],
        tuple(source for source, kept in zip(sources, keep, strict=True) if kept),
        chi2,
        2 * sum(len(target.points_px) for target in problem.targets) - 6 - 3 * (len(problem.targets) - 1),
    )
