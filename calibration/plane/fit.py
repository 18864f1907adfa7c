"""Fitting the plane on which the reference objects lie."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import scipy  # loads its parts, each a good part of a second, when they are used
from numpy.typing import ArrayLike

from calibration.camera import Camera
from calibration.cautions import Caution, CautionCode
from calibration.errors import GeometryError
from calibration.objects import ReferenceObject
from calibration.plane import bundle, projection, solver
from calibration.plane.cautions import plane_cautions
from calibration.plane.correspondences import (
    Correspondences,
    check_correspondences,
    correspondences_of_object,
    facing_as,
)
from calibration.plane.focal_limits import doubt
from calibration.plane.metric_plane import Plane, with_parameters
from calibration.plane.plumb_lines import PlumbLine

__all__ = [
    "Correspondences",
    "Plane",
    "PlumbLine",
    "correspondences_of_object",
    "fit_plane",
    "fit_plane_correspondences",
    "fit_plane_points",
]

# A larger misfit has a probability of 1 % with the two degrees of freedom of four corners.
_MISFIT_P01 = {2: 9.21}
_NO_PLANE = "no camera could see the reference's corners like this: check their order around the object"
TWO_FOLD_TILT = "two-fold tilt"
# One over the coverage factor for 95 %.
_HOLD_BOTH = 0.51
# A second pose this much worse (in chi-squared) is no runner-up: odds below 1 to 20.
RUNNER_UP_CHI2 = 6.0


def fit_plane(
    camera: Camera,
    reference: ReferenceObject,
    corners_px: ArrayLike,
    corners_cov_px2: ArrayLike,
    *,
    lines: Sequence[PlumbLine] = (),
) -> Plane:
    """Fit the plane on which a reference object lies.

    Parameters
    ----------
    camera : Camera
        With its uncertainties.
    reference : ReferenceObject
        What the corners belong to.
    corners_px : (4, 2) array
        Corners (x, y) in order around the object, the first side being its width; sides prolonged where it is
        rounded.
    corners_cov_px2 : (8, 8) array
        Their covariance, order x0, y0, x1, y1...
    lines : sequence of PlumbLine
        Lines known to be straight in the scene: they tell how the lens bends them.

    Returns
    -------
    Plane
        Its frame has the first corner as origin, x along the width and y along the height.

    Raises
    ------
    GeometryError
        The corners are no convex quadrilateral, or their covariance is invalid.

    Notes
    -----
    Seven parameters are fitted, not eight: the pose of a rectangle of known size, and a focal length with its
    prior. Eight free ones turn corner noise into a shear and a stretch that no camera makes: at tilts from
    10 to 45 degrees this form halves the standard deviation of 228 mm read beside one card, from 2.2 to 1.1
    mm at 0.3 px. From straight above it gains nothing there, since the noise looks like a tilt (own
    simulation).
    """
    corners = np.asarray(corners_px, dtype=float)
    if corners.shape != (4, 2):
        raise GeometryError(f"four corners (x, y) are needed, not an array of shape {corners.shape}")
    matched = correspondences_of_object(reference, corners, np.asarray(corners_cov_px2, dtype=float))
    return fit_plane_correspondences(camera, [matched], reference, lines=lines)


def fit_plane_points(
    camera: Camera,
    points_mm: ArrayLike,
    points_px: ArrayLike,
    cov_px2: ArrayLike,
    *,
    scale_std: tuple[float, float] = (0.0, 0.0),
    flatness_std_mm: float = 0.0,
    reference: ReferenceObject | None = None,
) -> Plane:
    """Fit the plane of a target with any number of points, at least four.

    Parameters
    ----------
    camera : Camera
        With its uncertainties.
    points_mm, points_px : (N, 2) arrays
        The points (x, y) in the target's plane and in the picture.
    cov_px2 : (2N, 2N) array, or float
        Their covariance, order x0, y0, x1, y1..., or the variance of each coordinate.
    scale_std : tuple of float
        Relative standard uncertainty of the target's size along x and along y.
    flatness_std_mm : float
        Standard uncertainty of the height of each corner of its outline.
    reference : ReferenceObject, optional
        What to call it.

    Returns
    -------
    Plane
        In the frame of the points.

    Raises
    ------
    GeometryError
        Fewer than four points, points on one line, or arrays that don't fit together.
    """
    flat, seen = np.asarray(points_mm, dtype=float), np.asarray(points_px, dtype=float)
    if flat.ndim != 2 or flat.shape != seen.shape or flat.shape[1:] != (2,) or len(flat) < 4:
        raise GeometryError(
            f"at least four points are needed, each in mm and in px: {flat.shape}, {seen.shape}"
        )
    cov = np.asarray(cov_px2, dtype=float)
    if cov.ndim == 0:
        cov = cov * np.eye(2 * len(flat))
    return fit_plane_correspondences(
        camera, [Correspondences(flat, seen, cov, scale_std, flatness_std_mm)], reference
    )


def fit_plane_correspondences(
    camera: Camera,
    correspondences: Sequence[Correspondences],
    reference: ReferenceObject | None = None,
    *,
    lines: Sequence[PlumbLine] = (),
) -> Plane:
    """Fit one plane to several references lying on it, each with its own position and rotation.

    Parameters
    ----------
    camera : Camera
        With its uncertainties.
    correspondences : sequence of Correspondences
        At least one; the first defines the plane's frame.
    reference : ReferenceObject, optional
        What the first one is.
    lines : sequence of PlumbLine
        Lines known to be straight in the scene: they tell how the lens bends them.

    Returns
    -------
    Plane
        The best fit; a second pose that explains what is seen almost as well is its runner-up.

    Raises
    ------
    GeometryError
        Points on one line, corners that no camera could see, or an invalid covariance.

    Notes
    -----
    `Problem` states what is minimised, and over which unknowns.
    """
    toward = check_correspondences(correspondences)
    correspondences = [facing_as(matched, toward) for matched in correspondences]
    problem = bundle.Problem(camera, correspondences, toward, lines)
    # If the focal length is open, its valley may have two minima: search along it first.
    logs = (-1.5, 0.0, 1.5) if camera.log_focal_std > 0.1 else (0.0,)
    fits = _fits(problem, logs)
    plane = plane_of_fit(fits[0], camera, correspondences, reference, toward)
    if len(fits) > 1 and fits[1].chi2 - fits[0].chi2 < RUNNER_UP_CHI2:
        runner_up = plane_of_fit(fits[1], camera, correspondences, reference, toward)
        return with_runner_up(plane, runner_up, float(np.exp((fits[0].chi2 - fits[1].chi2) / 2)))
    return plane


def _fits(problem: bundle.Problem, logs: Sequence[float]) -> list[bundle.Fit]:
    """Return the best fit and, where there is one, the second; refuse corners that no camera could see."""
    unknowns, base = solver.starts(problem, logs)
    if len(unknowns) == 0:
        raise GeometryError(_NO_PLANE)
    try:
        # A bad start may diverge; its cost rules it out.
        with np.errstate(over="ignore", invalid="ignore", divide="ignore"):
            unknowns, base, chi2 = solver.minima(problem, unknowns, base)
        if not np.isfinite(chi2[0]):
            raise GeometryError(_NO_PLANE)
        return [
            bundle.finish(problem, one, rotation, float(misfit))
            for one, rotation, misfit in zip(unknowns, base, chi2, strict=True)
            if np.isfinite(misfit)
        ]
    except np.linalg.LinAlgError:
        raise GeometryError(_NO_PLANE) from None


def with_runner_up(plane: Plane, runner_up: Plane, odds: float) -> Plane:
    """Add the step to a second pose as an input of its own, large enough for an interval to hold both.

    Parameters
    ----------
    plane, runner_up : Plane
        The better pose and the other one.
    odds : float
        Of the other against the better one, 0 to 1.

    Returns
    -------
    Plane
        The better one, with one more column of sensitivities, the runner-up and a caution.
    """
    away = runner_up.parameters - plane.parameters
    turned = scipy.spatial.transform.Rotation.from_matrix(plane.base.T @ runner_up.base)
    # OpenCV's form rounds to a whole half turn within 1e-5 rad of it.
    away[projection.ROTATION] = turned.as_rotvec()
    share = max((odds / (1.0 + odds)) ** 0.5, _HOLD_BOTH)
    return replace(
        plane,
        sensitivity_matrix=np.column_stack([plane.sensitivity_matrix, share * away]),
        error_sources=(*plane.error_sources, ("two-fold-tilt-1", TWO_FOLD_TILT)),
        runner_up=runner_up,
        cautions=(*plane.cautions, Caution.of(CautionCode.TWO_TILTS)),
    )


def plane_of_fit(
    fit: bundle.Fit,
    camera: Camera,
    correspondences: Sequence[Correspondences],
    reference: ReferenceObject | None,
    toward: float,
) -> Plane:
    """Return the plane of a minimum, with its uncertainties and cautions.

    Parameters
    ----------
    fit : Fit
        The minimum.
    camera : Camera
        As it was before the fit.
    correspondences : sequence of Correspondences
        What was fitted; the first defines the plane's frame.
    reference : ReferenceObject or None
        What the first one is.
    toward : float
        Sign, 1 or -1, of the frame's z on the camera's side.

    Returns
    -------
    Plane
        Where the misfit is too large, the uncertainty that the corners cause is widened by it.
    """
    sources = fit.sources
    sensitivity_matrix, cautions = fit.sensitivity_matrix.copy(), list(camera.cautions)
    limit = _MISFIT_P01.get(
        fit.degrees_of_freedom, fit.degrees_of_freedom + 3.3 * (2 * fit.degrees_of_freedom) ** 0.5
    )
    if fit.chi2 > limit:
        # The corners are worse than stated, or the object isn't what was said: widen their uncertainty.
        corner = np.array([source == bundle.CORNERS for source in sources])
        sensitivity_matrix[:, corner] *= (fit.chi2 / limit) ** 0.5
        code = CautionCode.DISAGREEMENT if len(correspondences) > 1 else CautionCode.MISFIT
        cautions.append(Caution.of(code))
    if (more := doubt(camera, sensitivity_matrix)) is not None:
        sensitivity_matrix, sources = np.column_stack([sensitivity_matrix, more]), (*sources, bundle.FOCAL)
    seen: dict[str, int] = {}
    error_sources = []
    for source in sources:
        number = seen[source] = seen.get(source, 0) + 1
        error_sources.append((f"{source.replace(' ', '-')}-{number}", source))
    middle = correspondences[0].points_mm.mean(axis=0)
    bare = Plane(
        camera,
        reference,
        np.concatenate([matched.points_px for matched in correspondences]),
        fit.parameters,
        fit.base,
        sensitivity_matrix,
        tuple(error_sources),
        toward,
        fit.chi2,
        fit.degrees_of_freedom,
        (float(middle[0]), float(middle[1])),
        cautions=tuple(cautions),
        size_misfits=fit.size_misfits,
    )
    for array in (bare.corners_px, bare.parameters, bare.base, bare.sensitivity_matrix):
        array.setflags(write=False)
    plane = with_parameters(bare, bare.parameters)
    seen_first = correspondences[0].points_px if len(correspondences) == 1 else plane.corners_px
    return replace(plane, cautions=(*plane.cautions, *plane_cautions(plane, seen_first)))
