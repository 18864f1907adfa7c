"""Solving for a pose: where to start, and the minimisation to one or two minima."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from calibration.camera import Array
from calibration.plane import projection
from calibration.plane.bundle import Problem, rotation_2d
from calibration.plane.metric_plane import Plane
from calibration.plane.two_poses import two_poses

# Normals closer than this belong to one minimum.
_APART_DEG = 2.0


def solve(problem: Problem, unknowns: Array, base: Array, *, rounds: int) -> tuple[Array, Array, Array]:
    """Minimise from several starts at once, by Levenberg's method with Nielsen's damping.

    Parameters
    ----------
    problem : Problem
        What is minimised.
    unknowns : (B, n) array
        Starts.
    base : (B, 3, 3) array
        Their base rotations, plane to camera.
    rounds : int
        Upper limit of iterations.

    Returns
    -------
    unknowns : (B, n) array
        The minima.
    base : (B, 3, 3) array
        Their rotations, with the rotation vectors applied.
    chi2 : (B,) array
        The sums of squares there.

    Raises
    ------
    LinAlgError
        A start leaves an unknown undetermined.

    References
    ----------
    Marquardt, An algorithm for least-squares estimation of nonlinear parameters, J. SIAM 11(2), 1963 (the
    damping in proportion to the curvature).
    Nielsen, Damping parameter in Marquardt's method, IMM-REP-1999-05, 1999.
    """
    damping, brake = np.full(len(unknowns), 1e-3), np.full(len(unknowns), 2.0)
    values, slope = problem.jacobian(unknowns, base)
    cost = np.sum(values**2, axis=-1)
    for _ in range(rounds):
        turned = np.swapaxes(slope, -1, -2)
        normal, down = turned @ slope, -turned @ values[..., None]
        damped = normal + damping[:, None, None] * np.eye(problem.size) * normal
        step: Array = np.asarray(np.linalg.solve(damped, down), dtype=np.float64)
        promised = (np.swapaxes(step, -1, -2) @ (2.0 * down - normal @ step))[:, 0, 0]
        if np.all((promised < 1e-5) & (damping < 0.1)):
            break
        trial, trial_base = problem.stepped(unknowns, base, step[..., 0])
        trial_values, trial_slope = problem.jacobian(trial, trial_base)
        gain = (cost - np.sum(trial_values**2, axis=-1)) / np.maximum(promised, 1e-12)
        better = gain > 0.0
        gain = np.clip(gain, 0.0, 1.0)
        damping = np.where(better, damping * np.maximum(0.1, 1.0 - (2.0 * gain - 1.0) ** 3), damping * brake)
        damping = np.clip(damping, 1e-9, 1e9)
        brake = np.where(better, 2.0, 2.0 * brake)
        unknowns = np.where(better[:, None], trial, unknowns)
        base = np.where(better[:, None, None], trial_base, base)
        values = np.where(better[:, None], trial_values, values)
        slope = np.where(better[:, None, None], trial_slope, slope)
        cost = np.sum(values**2, axis=-1)
    return unknowns, base, cost


def minima(problem: Problem, unknowns: Array, base: Array) -> tuple[Array, Array, Array]:
    """Return the best minimum and, where there is one, a second with another normal; as `solve` does.

    A few rounds from all starts, then as many as needed from the best, and from the best of those tilted
    differently: along a valley that an open focal length makes, starts may stop short of the same minimum.
    """
    unknowns, base, cost = solve(problem, unknowns, base, rounds=6)
    cost = np.where(np.isfinite(cost), cost, np.inf)
    best = int(np.argmin(cost))
    chosen = [best]
    apart = np.degrees(np.arccos(np.clip(base[:, 2] @ base[best, 2], -1.0, 1.0))) > _APART_DEG
    if np.any(apart & (cost < cost[best] + 100.0)):
        chosen.append(int(np.argmin(np.where(apart, cost, np.inf))))
    unknowns, base, cost = solve(problem, unknowns[chosen], base[chosen], rounds=50)
    order = np.argsort(cost)
    if len(order) > 1 and float(base[0, 2] @ base[1, 2]) > np.cos(np.radians(_APART_DEG)):
        order = order[:1]
    return unknowns[order], base[order], cost[order]


def starts(problem: Problem, logs: Sequence[float]) -> tuple[Array, Array]:
    """Return starting unknowns and rotations: for each focal log, in standard deviations, up to two poses.

    Notes
    -----
    From far away a plane and its mirror image about the line of sight look alike. Both serve as starts.
    """
    first, found, rotations = problem.correspondences[0], [], []
    for log in logs:
        sets = np.zeros(problem.size)
        sets[projection.LOG_FOCAL] = log
        focal_px = problem.camera.focal_px * float(np.exp(log * problem.camera.log_focal_std))
        rays = replace(problem.camera, focal_px=focal_px).normalise(first.points_px)
        try:
            poses = two_poses(first.points_mm, rays)
        except np.linalg.LinAlgError:
            continue
        for rotation, translation in zip(*poses, strict=True):
            if np.all(np.isfinite(rotation)) and translation[2] > 0.0:
                guess = sets.copy()
                guess[projection.TRANSLATION] = translation
                found.append(guess)
                rotations.append(rotation)
    if not found:
        return np.zeros((0, problem.size)), np.zeros((0, 3, 3))
    guesses, bases = np.array(found), np.array(rotations)
    for index in range(1, len(problem.correspondences)):
        _place(problem, index, guesses, bases)
    return guesses, bases


def from_plane(problem: Problem, plane: Plane) -> tuple[Array, Array]:
    """Return where to start from a plane that is about right.

    Parameters
    ----------
    problem : Problem
        What will be minimised.
    plane : Plane
        In the frame of the problem's first reference.

    Returns
    -------
    unknowns : (1, n) array
        For `solve`, further references placed where the plane shows them.
    base : (1, 3, 3) array
        The plane's rotation, plane to camera.
    """
    guess = np.zeros((1, problem.size))
    now = np.zeros(projection.PARAMETERS)
    now[projection.LOG_FOCAL], now[projection.DIVISION] = (
        np.log(problem.camera.focal_px),
        problem.camera.division,
    )
    now[projection.PRINCIPAL_POINT] = problem.camera.principal_point_px
    certain = problem.units < 1e-12
    steps = (plane.parameters - now) / np.where(certain, 1.0, problem.units)
    guess[0, : projection.PARAMETERS] = np.where(certain, 0.0, steps)
    guess[0, projection.ROTATION] = 0.0
    base = plane.base[None].copy()
    for index in range(1, len(problem.correspondences)):
        _place(problem, index, guess, base)
    return guess, base


def _place(problem: Problem, index: int, guesses: Array, rotation: Array) -> None:
    """Fill in the in-plane pose of a further target from its approximate position on the plane."""
    matched = problem.correspondences[index]
    heights = np.broadcast_to(problem.toward * np.asarray(matched.height_mm), (len(matched.points_px),))
    at = problem.place_at(index)
    spots = projection.unproject(
        problem.camera_sets(guesses),
        rotation,
        problem.camera.distortion,
        matched.points_px[None],
        heights[None],
    )
    spots = np.nan_to_num(spots)
    own = matched.points_mm - matched.points_mm.mean(axis=0)
    for guess, spot in zip(guesses, spots, strict=True):
        middle = spot.mean(axis=0)
        cross = own.T @ (spot - middle)
        angle = np.arctan2(cross[0, 1] - cross[1, 0], cross[0, 0] + cross[1, 1])
        guess[at : at + 2] = middle - rotation_2d(angle) @ matched.points_mm.mean(axis=0)
        guess[at + 2] = angle
