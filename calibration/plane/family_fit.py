r"""Fitting one plane to what is seen of a tilt-ambiguous reference and to a statement about the tilt.

For points p of the plane's frame seen at the pixels q, with W the directions in which a pixel counts over
their standard uncertainties, the sum of squares

.. math::
    \sum_i |W_i (\pi((1 + \sigma_s u_{10}) \, p_i) - q_i)|^2 + |(n_{xy} - m) / \tau|^2
    + (u_2 / 0.3)^2 + \sum_{k=6}^{10} u_k^2

is made least, where :math:`\pi` is the projection of `calibration.plane.projection`, n the plane's normal in
the camera's frame, m and :math:`\tau` the stated tilt and its standard uncertainty, and :math:`\sigma_s` the
relative one of the reference's size. The eleven unknowns u are

=======  ====================  =============================================================================
index    unit                  meaning
=======  ====================  =============================================================================
0 to 2   rad                   rotation vector of the pose, from the rotation reached so far; the third, the
                               frame's own turn, is held since a coin doesn't show it
3 to 5   depth of the start    translation of the pose, from that of the start
6        standard uncertainty  log of the focal length
7        standard uncertainty  coefficient of the division model
8 and 9  standard uncertainty  principal point, x and y
10       standard uncertainty  common factor of the reference's lengths
=======  ====================  =============================================================================

`calibration.plane.bundle` is solved in much the same way, yet doesn't hold this: there a point is seen with
both coordinates, here along some directions only (a coin's rim across itself); there a reference grows by
modes and its corners lie at unknown heights, here points lie at given depths and share one factor; and there
corners fix the frame's own turn, which here must be held and then left out of the result.
"""

from dataclasses import dataclass, replace

import numpy as np

from calibration.camera import Array, Camera
from calibration.errors import GeometryError
from calibration.objects import ReferenceObject
from calibration.plane import projection
from calibration.plane.bundle import CORNERS, DISTORTION, FOCAL, PRINCIPAL_POINT
from calibration.plane.correspondences import SIZE
from calibration.plane.metric_plane import Plane, with_parameters
from calibration.plane.tilt_prior import TILT, TiltPrior


@dataclass(frozen=True, slots=True, eq=False)
class Sightings:
    """What was seen of a tilt-ambiguous reference.

    Attributes
    ----------
    points_mm : (N, 3) array
        Points in the plane's frame: x right, y down, z away from the camera.
    points_px : (N, 2) array
        Their pixels.
    rows : (N, R, 2) array
        For each point, the directions in which its pixel counts, each divided by its standard uncertainty.
    scale_std : float
        Relative standard uncertainty of all lengths of the reference.
    """

    points_mm: Array
    points_px: Array
    rows: Array
    scale_std: float


def fit_tilt_ambiguous(
    camera: Camera,
    seen: Sightings,
    start: tuple[Array, Array],
    tilt: TiltPrior,
    reference: ReferenceObject | None,
) -> Plane:
    """Fit a plane to what was seen and to a tilt prior.

    Parameters
    ----------
    camera : Camera
        With its uncertainties, each a prior of the fit.
    seen : Sightings
        The reference.
    start : pair of (3, 3) and (3,) arrays
        Rotation, plane to camera, and translation (mm) to start from.
    tilt : TiltPrior
        What is stated about the tilt.
    reference : ReferenceObject or None
        What to call it.

    Returns
    -------
    Plane
        In the frame of the sightings' points, z away from the camera.

    Raises
    ------
    GeometryError
        No plane in front of the camera fits.

    Notes
    -----
    The module states what is minimised, and over which unknowns.
    """
    problem = _TiltAmbiguous(camera, seen, start[1], tilt)
    unknowns, base = _descend(problem, start[0])
    parameters = problem.parameters(unknowns)
    if not np.all(np.isfinite(parameters)) or parameters[5] <= 0.0:
        raise GeometryError("no plane in front of the camera fits the marks: check them")
    residuals, jacobian = problem.linear(unknowns, base)
    rows = seen.rows.shape[0] * seen.rows.shape[1]
    sensitivity_matrix, sources = _sensitivity_matrix(jacobian, problem.units, rows)
    plane = _plane(
        camera, seen, (parameters, base), (sensitivity_matrix, sources), float(residuals @ residuals)
    )
    return replace(plane, object=reference)


def _descend(problem: "_TiltAmbiguous", base: Array) -> tuple[Array, Array]:
    """Minimise by Levenberg's method; after each step the rotation vector is moved into the base."""
    unknowns, damping = np.zeros(11), 1e-3
    values, slope = problem.linear(unknowns, base)
    for _ in range(40):
        normal = slope.T @ slope
        step = -np.linalg.solve(normal + damping * np.diag(np.diag(normal)), slope.T @ values)
        trial = unknowns + step
        turned = np.asarray(base @ projection.rotations(trial[projection.ROTATION]))
        trial[projection.ROTATION] = 0.0
        new_values, new_slope = problem.linear(trial, turned)
        promised = float(step @ (2.0 * slope.T @ values + normal @ step))
        if float(new_values @ new_values) <= float(values @ values) * (1.0 + 1e-12) + 1e-15:
            unknowns, base, values, slope = trial, turned, new_values, new_slope
            damping = max(damping * 0.1, 1e-9)
            if abs(promised) < 1e-9:
                break
        else:
            damping = min(damping * 10.0, 1e9)
    return unknowns, base


class _TiltAmbiguous:
    """The least-squares problem: eleven unknowns, standardised but for the pose, about a start."""

    def __init__(self, camera: Camera, seen: Sightings, translation: Array, tilt: TiltPrior) -> None:
        self.camera, self.seen, self.tilt = camera, seen, tilt
        depth = float(max(translation[2], 1.0))
        camera_units = [camera.log_focal_std, camera.k1_std, *[camera.principal_point_std_px] * 2]
        self.units = np.array([*[1.0] * 3, *[depth] * 3, *camera_units])
        centre = camera.principal_point_px
        self.means = np.array([0, 0, 0, *translation, np.log(camera.focal_px), camera.division, *centre])
        self.steps = np.array([*[1e-5] * 6, *[1e-3] * 5])

    def parameters(self, unknowns: Array) -> Array:
        """Return the ten parameters of the pose."""
        return np.asarray(self.means + self.units * unknowns[..., :10])

    def residuals(self, unknowns: Array, base: Array) -> Array:
        """Return sightings, tilt, the frame's own turn, camera and size, over their uncertainties, (B, m)."""
        sets, seen = self.parameters(unknowns), self.seen
        solid = seen.points_mm * (1.0 + seen.scale_std * unknowns[:, 10, None, None])
        miss = projection.project(sets, base, self.camera.distortion, solid) - seen.points_px
        normal = (base @ projection.rotations(sets[:, projection.ROTATION]))[:, :2, 2]
        tilt = (normal - self.tilt.mean) / self.tilt.std
        rows = np.einsum("nrk,bnk->bnr", seen.rows, miss).reshape(len(unknowns), -1)
        return np.concatenate([rows, tilt, unknowns[:, 2:3] / 0.3, unknowns[:, 6:11]], axis=1)

    def linear(self, unknowns: Array, base: Array) -> tuple[Array, Array]:
        """Return the residuals (m,) and their derivatives (m, 11), by central differences."""
        shifts = np.diag(self.steps)
        values = self.residuals(np.concatenate([unknowns[None], unknowns + shifts, unknowns - shifts]), base)
        return values[0], ((values[1:12] - values[12:]) / (2.0 * self.steps[:, None])).T


def _sensitivity_matrix(slope: Array, units: Array, rows: int) -> tuple[Array, list[str]]:
    """Return what each independent input does to the ten parameters, (10, M), and its source."""
    sensitivity_matrix = np.linalg.solve(slope.T @ slope, slope.T)[:10] * units[:, None]
    noise, rest = sensitivity_matrix[:, :rows], sensitivity_matrix[:, rows:]
    if rows > projection.PARAMETERS:  # any number of noise inputs acts on ten parameters like ten of them
        left, values, _ = np.linalg.svd(noise, full_matrices=False)
        noise = left * values
    # No length depends on the frame's own rotation, so it is left out.
    every = np.column_stack([noise, rest[:, :2], rest[:, 3:]])
    sources = [CORNERS] * noise.shape[1] + [TILT] * 2
    return every, [*sources, FOCAL, DISTORTION, PRINCIPAL_POINT, PRINCIPAL_POINT, SIZE]


def _plane(
    camera: Camera, seen: Sightings, at: tuple[Array, Array], inputs: tuple[Array, list[str]], chi2: float
) -> Plane:
    (parameters, base), (sensitivity_matrix, sources) = at, inputs
    counts: dict[str, int] = {}
    error_sources = []
    for source in sources:
        counts[source] = counts.get(source, 0) + 1
        error_sources.append((f"{source.replace(' ', '-')}-{counts[source]}", source))
    middle = seen.points_mm[:, :2].mean(axis=0)
    freedom = max(seen.rows.shape[0] * seen.rows.shape[1] - 6, 1)
    bare = Plane(
        camera,
        None,
        seen.points_px,
        parameters,
        base,
        sensitivity_matrix,
        tuple(error_sources),
        -1.0,
        chi2,
        freedom,
        (float(middle[0]), float(middle[1])),
        cautions=camera.cautions,
    )
    return with_parameters(bare, bare.parameters)
