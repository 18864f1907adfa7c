"""The least-squares problem behind a plane: observed corners and all priors in one fit.

Every quantity that is not certain is an unknown with a prior: focal length, lens, principal point, the sizes
of the reference objects, the lifts of their corners off the plane. What the corners can tell about one of
them improves it, what they cannot stays as the prior says. The estimate is (to first order) a linear function
of independent unit inputs, namely the whitened corner noise and each prior's standardised error; that matrix
of sensitivities is at once the covariance and the exact budget by source.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from calibration.camera import Array, Camera
from calibration.plane import projection
from calibration.plane.correspondences import Correspondences, whitening
from calibration.plane.plumb_lines import PlumbLine, all_plumb_residuals, plumb_residuals_slope
from calibration.plane.tilt_prior import TILT, TiltPrior

CORNERS = "card corners"
FOCAL, DISTORTION, PRINCIPAL_POINT = "focal length", "lens distortion", "principal point"


@dataclass(frozen=True, slots=True, eq=False)
class Fit:
    """One minimum of the problem.

    Attributes
    ----------
    parameters : (10,) array
        See `calibration.plane.projection`; the rotation vector is zero, it is in `base`.
    base : (3, 3) array
        Rotation, plane to camera.
    sensitivity_matrix : (10, M) array
        Change of the parameters per unit of each independent input.
    sources : tuple of str
        What each input is, length M.
    chi2, degrees_of_freedom : float, int
        Misfit at the minimum, priors included, and its expectation.
    size_misfits : tuple of float
        How far each reference's size is from what the rest implies, in standard uncertainties.
    """

    parameters: Array
    base: Array
    sensitivity_matrix: Array
    sources: tuple[str, ...]
    chi2: float
    degrees_of_freedom: int
    size_misfits: tuple[float, ...]


class Problem:
    r"""Residuals of a camera and references as a function of standardised unknowns.

    The fit makes the sum of squares

    .. math::
        \sum_k |L_k (\pi(P_k(p_k)) - q_k)|^2 + \sum_l d_l^2 + |(n_{xy} - m) / \tau|^2 + \sum_j u_j^2

    least. The points p of reference k are seen at the pixels q, whose errors :math:`L_k` makes independent
    and of unit size; :math:`\pi` is the projection of `calibration.plane.projection`, and :math:`P_k` grows,
    lifts and places the reference on the plane. The distances d are those of `plumb_lines`; n is the plane's
    normal in the camera's frame, m and :math:`\tau` are the stated tilt, where there is one, and its standard
    uncertainty; the last sum runs over the unknowns u whose unit is a standard uncertainty.

    ====================  ====================  ================================================
    unknowns              unit                  meaning
    ====================  ====================  ================================================
    0 to 2                rad                   rotation vector of the pose
    3 to 5                mm                    translation of the pose
    6 to 9                standard uncertainty  log focal length, division, principal point
    `own(index)`          standard uncertainty  size and lifts of a reference (its modes)
    `place_at(index)`, 3  mm, mm, rad           place and angle on the plane of a further reference
    ====================  ====================  ================================================

    Parameters
    ----------
    camera : Camera
        With its uncertainties, each a prior.
    correspondences : sequence of Correspondences
        The references; the first defines the plane's frame.
    toward : float
        Sign, 1 or -1, of that frame's z on the camera's side.
    lines : sequence of PlumbLine
        Lines known to be straight in the scene.
    tilt : TiltPrior, optional
        What is stated about the tilt.
    """

    def __init__(
        self,
        camera: Camera,
        correspondences: Sequence[Correspondences],
        toward: float,
        lines: Sequence[PlumbLine] = (),
        tilt: TiltPrior | None = None,
    ) -> None:
        self.camera, self.correspondences, self.toward = camera, correspondences, toward
        self.lines, self.tilt = lines, tilt
        self.whitening = [whitening(matched.cov_px2) for matched in correspondences]
        named = [matched.all_modes() for matched in correspondences]
        self.modes = [np.array([mode for _, mode in own]) * [1.0, 1.0, toward] for own in named]
        self.mode_sources = tuple(source for own in named for source, _ in own)
        self.firsts = np.cumsum([projection.PARAMETERS, *(len(own) for own in named)])
        self.size = int(self.firsts[-1]) + 3 * (len(correspondences) - 1)
        self.priors = np.r_[6 : self.firsts[-1]]
        self.middle_mm = np.append(correspondences[0].points_mm.mean(axis=0), 0.0)
        # From standardised unknowns to parameters.
        self.units = np.ones(projection.PARAMETERS)
        self.units[projection.LOG_FOCAL], self.units[projection.DIVISION] = (
            camera.log_focal_std,
            camera.k1_std,
        )
        self.units[projection.PRINCIPAL_POINT] = camera.principal_point_std_px

    def sources(self) -> tuple[str, ...]:
        """Name the independent inputs in the order of the residuals."""
        noise = [CORNERS] * sum(2 * len(matched.points_px) for matched in self.correspondences)
        noise += [DISTORTION] * sum(len(line.points_px) for line in self.lines)
        noise += [] if self.tilt is None else [TILT] * 2
        return (*noise, FOCAL, DISTORTION, PRINCIPAL_POINT, PRINCIPAL_POINT, *self.mode_sources)

    def degrees_of_freedom(self) -> int:
        """Return the degrees of freedom: observations and priors minus unknowns."""
        seen = sum(matched.seen_numbers for matched in self.correspondences)
        seen += sum(len(line.points_px) - 2 for line in self.lines) + (0 if self.tilt is None else 2)
        places = (
            6 + 3 * (len(self.correspondences) - 1) - sum(matched.round for matched in self.correspondences)
        )
        return max(seen - places, 0)

    def camera_sets(self, unknowns: Array) -> Array:
        """Turn standardised unknowns into parameter sets.

        Parameters
        ----------
        unknowns : (..., n) array
            See the class.

        Returns
        -------
        (..., 10) array
            See `calibration.plane.projection`.
        """
        camera = self.camera
        means = np.zeros(projection.PARAMETERS)
        means[projection.LOG_FOCAL], means[projection.DIVISION] = np.log(camera.focal_px), camera.division
        means[projection.PRINCIPAL_POINT] = camera.principal_point_px
        return np.asarray(means + self.units * unknowns[..., : projection.PARAMETERS])

    def residuals(self, unknowns: Array, base: Array) -> Array:
        """Return the whitened residuals.

        Parameters
        ----------
        unknowns : (..., n) array
            See the class.
        base : (..., 3, 3) array
            Base rotations, plane to camera, which the unknowns' rotation vectors go before.

        Returns
        -------
        (..., m) array
            Each of unit standard uncertainty, in the order of `sources`.
        """
        sets = self.camera_sets(unknowns)
        parts = []
        for index, matched in enumerate(self.correspondences):
            solid = self._solid(unknowns, index)
            seen = projection.project(sets, base, self.camera.distortion, solid)
            miss = (seen - matched.points_px).reshape(*unknowns.shape[:-1], -1)
            parts.append(miss @ self.whitening[index].T)
        bends = all_plumb_residuals(sets, self.camera.distortion, self.lines)
        leaning = self._leaning(sets, base)
        return np.concatenate([*parts, bends, leaning, unknowns[..., self.priors]], axis=-1)

    def _leaning(self, sets: Array, base: Array) -> Array:
        """Return how far the normal is from where it is stated to be, (..., 2), or (..., 0)."""
        if self.tilt is None:
            return np.zeros((*sets.shape[:-1], 0))
        normal = (base @ projection.rotations(sets[..., projection.ROTATION]))[..., :2, 2]
        return np.asarray((normal - self.tilt.mean) / self.tilt.std)

    def _solid(self, unknowns: Array, index: int) -> Array:
        """Place a reference's points (..., N, 3) in the plane's frame: size, lift, in-plane pose."""
        matched, own = self.correspondences[index], unknowns[..., self.own(index)]
        modes = self.modes[index]
        solid = (own @ modes.reshape(len(modes), -1)).reshape(*own.shape[:-1], *modes.shape[1:])
        solid[..., :2] += matched.points_mm
        solid[..., 2] += self.toward * np.asarray(matched.height_mm)
        if index:
            at = self.place_at(index)
            rotation = np.swapaxes(rotation_2d(unknowns[..., at + 2]), -1, -2)
            solid[..., :2] = solid[..., :2] @ rotation + unknowns[..., None, at : at + 2]
        return np.asarray(solid)

    def own(self, index: int) -> slice:
        """Return where a reference's modes are among the unknowns.

        Parameters
        ----------
        index : int
            Which reference.

        Returns
        -------
        slice
            One unknown for each mode.
        """
        return slice(int(self.firsts[index]), int(self.firsts[index + 1]))

    def stepped(self, unknowns: Array, base: Array, step: Array) -> tuple[Array, Array]:
        """Take a step, and move the rotation vectors into the base rotations.

        Parameters
        ----------
        unknowns, step : (B, n) arrays
            Where to start, its rotation vectors zero, and the change.
        base : (B, 3, 3) array
            Base rotations, plane to camera.

        Returns
        -------
        unknowns : (B, n) array
            New ones, their rotation vectors zero.
        base : (B, 3, 3) array
            New base rotations.
        """
        after = unknowns + step
        sets, rotated = projection.follow(
            self.camera_sets(unknowns), base, step[:, : projection.PARAMETERS] * self.units, self.middle_mm
        )
        after[:, projection.ROTATION], after[:, projection.TRANSLATION] = 0.0, sets[:, projection.TRANSLATION]
        return after, rotated

    def place_at(self, index: int) -> int:
        """Return where the in-plane pose of a further reference begins among the unknowns.

        Parameters
        ----------
        index : int
            Which reference, from 1.

        Returns
        -------
        int
            Place of its x; y and angle follow.
        """
        return int(self.firsts[-1]) + 3 * (index - 1)

    def jacobian(self, unknowns: Array, base: Array) -> tuple[Array, Array]:
        """Return the residuals and their derivatives.

        Parameters
        ----------
        unknowns : (B, n) array
            Their rotation vectors must be zero.
        base : (B, 3, 3) array
            Base rotations, plane to camera.

        Returns
        -------
        residuals : (B, m) array
            As of `residuals`.
        slopes : (B, m, n) array
            Their derivatives by the unknowns.
        """
        sets, count = self.camera_sets(unknowns), len(unknowns)
        values, slopes = [], []
        for index, matched in enumerate(self.correspondences):
            solid = self._solid(unknowns, index)
            seen, by_set, by_point = projection.project_slope(sets, base, self.camera.distortion, solid)
            slope = np.zeros((count, *matched.points_px.shape, self.size))
            slope[..., : projection.PARAMETERS] = by_set * self.units
            self._add_object(slope, by_point, unknowns, index)
            whitening = self.whitening[index]
            values.append((seen - matched.points_px).reshape(count, -1) @ whitening.T)
            slopes.append(whitening @ slope.reshape(count, -1, self.size))
        if self.lines:
            values.append(all_plumb_residuals(sets, self.camera.distortion, self.lines))
            slope = np.zeros((*values[-1].shape, self.size))
            slope[..., : projection.PARAMETERS] = (
                plumb_residuals_slope(sets, self.camera.distortion, self.lines) * self.units
            )
            slopes.append(slope)
        if self.tilt is not None:
            values.append(self._leaning(sets, base))
            slope = np.zeros((count, 2, self.size))
            # A small rotation w, about the frame's own axes, moves the normal by w x n.
            tilting = np.cross(np.eye(3), [0.0, 0.0, 1.0]).T
            slope[..., projection.ROTATION] = (base @ tilting)[:, :2] / self.tilt.std
            slopes.append(slope)
        own = np.broadcast_to(np.eye(self.size)[self.priors], (count, len(self.priors), self.size))
        return (
            np.concatenate([*values, unknowns[:, self.priors]], axis=-1),
            np.concatenate([*slopes, own], axis=-2),
        )

    def _add_object(self, slope: Array, by_point: Array, unknowns: Array, index: int) -> None:
        """Fill in the derivatives by a reference's own unknowns."""
        matched, modes = self.correspondences[index], self.modes[index]
        by_flat = by_point[..., :2]
        if index:
            at, rotation = self.place_at(index), rotation_2d(unknowns[:, self.place_at(index) + 2])
            slope[..., at : at + 2] = by_flat
            grown = matched.points_mm + np.tensordot(unknowns[:, self.own(index)], modes[..., :2], 1)
            rotated = grown @ np.swapaxes(rotation, -1, -2)
            slope[..., at + 2] = (
                by_flat[..., 1] * rotated[..., 0, None] - by_flat[..., 0] * rotated[..., 1, None]
            )
            by_flat = by_flat @ rotation[:, None]
        by_own = np.concatenate([by_flat, by_point[..., 2:]], axis=-1)
        slope[..., self.own(index)] = np.einsum("bnij,knj->bnik", by_own, modes)


def _condensed(effects: Array) -> Array:
    """Return at most ten inputs that act on the parameters (10, M) as all M do together."""
    if effects.shape[1] <= projection.PARAMETERS:
        return effects
    left, values, _ = np.linalg.svd(effects, full_matrices=False)
    return np.asarray(left * values)


def rotation_2d(angle: Array) -> Array:
    """Return the matrices (..., 2, 2) that rotate a plane by angles (...)."""
    c, s = np.cos(angle), np.sin(angle)
    return np.stack([np.stack([c, -s], axis=-1), np.stack([s, c], axis=-1)], axis=-2)


def finish(problem: Problem, unknowns: Array, base: Array, chi2: float) -> Fit:
    """Compute the sensitivity matrix of the independent inputs at a minimum.

    Parameters
    ----------
    problem : Problem
        What was minimised.
    unknowns : (n,) array
        The minimum, its rotation vector zero.
    base : (3, 3) array
        Its base rotation, plane to camera.
    chi2 : float
        The sum of squares there.

    Returns
    -------
    Fit
        Corner noise condensed to at most ten inputs that act as all of it does.

    Raises
    ------
    LinAlgError
        An unknown is left undetermined.
    """
    slope = problem.jacobian(unknowns[None], base[None])[1][0]
    # The inputs are errors: seen minus true, and prior mean minus true.
    cov = np.linalg.inv(slope.T @ slope)
    sensitivity_matrix = cov @ slope.T
    noise = sum(2 * len(matched.points_px) for matched in problem.correspondences)
    rows = sensitivity_matrix[: projection.PARAMETERS] * problem.units[:, None]
    sources = problem.sources()
    marks = noise + sum(len(line.points_px) for line in problem.lines)
    corners, bends = _condensed(rows[:, :noise]), _condensed(rows[:, noise:marks])
    rows = np.column_stack([corners, bends, rows[:, marks:]])
    if problem.correspondences[0].round:
        rows[2] = 0.0  # no length depends on the frame's own rotation
    sources = (*(CORNERS,) * corners.shape[1], *(DISTORTION,) * bends.shape[1], *sources[marks:])
    keep = np.linalg.norm(rows, axis=0) > 0
    return Fit(
        problem.camera_sets(unknowns),
        base,
        rows[:, keep],
        tuple(source for source, kept in zip(sources, keep, strict=True) if kept),
        chi2,
        problem.degrees_of_freedom(),
        tuple(_size_misfit(problem, unknowns, cov, index) for index in range(len(problem.correspondences))),
    )


def _size_misfit(problem: Problem, unknowns: Array, cov: Array, index: int) -> float:
    """Compare a reference's stated size with what the rest implies, to first order.

    The fit contains both; removing the stated size leaves what the rest implies.
    """
    own, points = problem.own(index), problem.correspondences[index].points_mm
    away = points - points.mean(axis=0)
    grown = problem.modes[index][..., :2]
    by = np.sum((grown - grown.mean(axis=1, keepdims=True)) * away, axis=(1, 2)) / float(np.sum(away**2))
    stated = float(by @ by)
    left = 1.0 - float(by @ cov[own, own] @ by) / stated if stated > 0.0 else 0.0
    # If the stated size dominates, the rest tells nothing about it.
    return float(by @ unknowns[own]) / (stated * left) ** 0.5 if left > 1e-6 else 0.0
