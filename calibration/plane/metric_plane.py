"""The metric plane of a photo: millimetres from pixels, and how each uncertain input acts on them."""

from dataclasses import dataclass, field, replace
from math import acos, degrees

import numpy as np
from numpy.typing import ArrayLike

from calibration.camera import Array, Camera
from calibration.cautions import Caution
from calibration.errors import GeometryError
from calibration.objects import ReferenceObject
from calibration.plane import projection


@dataclass(frozen=True, slots=True, eq=False)
class Plane:
    """A plane of known scale in a photo.

    Its frame: origin at the reference object's first corner, x along its width, y along its height, both in
    mm. Stand-offs are heights above the plane, positive toward the camera.

    Attributes
    ----------
    camera : Camera
        With focal length, lens and principal point as fitted.
    object : ReferenceObject or None
        What lies there; None for bare points.
    corners_px : (N, 2) array
        The points of the reference as seen.
    parameters, base : (10,) and (3, 3) arrays
        The pose, see `calibration.plane.projection`.
    sensitivity_matrix : (10, M) array
        What each independent unit input does to the parameters.
    error_sources : tuple of (str, str)
        Identifier and source of each of the M inputs.
    toward : float
        Sign of the frame's z on the camera's side.
    chi2, degrees_of_freedom : float, int
        Misfit of the corners, and its expectation.
    centre_mm : tuple of float
        Middle of the first reference's points, (x, y) in the plane's frame.
    runner_up : Plane or None
        A second pose that explains the corners almost as well.
    cautions : tuple of Caution
        What may be wrong and what to do.
    size_misfits : tuple of float
        How far each reference's size is from what the rest of the photo says, in standard uncertainties.
    """

    camera: Camera
    object: ReferenceObject | None
    corners_px: Array
    parameters: Array
    base: Array
    sensitivity_matrix: Array
    error_sources: tuple[tuple[str, str], ...]
    toward: float
    chi2: float
    degrees_of_freedom: int
    centre_mm: tuple[float, float]
    runner_up: "Plane | None" = None
    cautions: tuple[Caution, ...] = field(default=())
    size_misfits: tuple[float, ...] = ()

    @property
    def rotation(self) -> Array:
        """Rotation (3, 3) from the plane's frame to the camera's."""
        return self.base.copy()

    @property
    def translation_mm(self) -> Array:
        """Origin of the plane's frame (3,), in the camera's."""
        return self.parameters[projection.TRANSLATION].copy()

    @property
    def camera_centre_mm(self) -> Array:
        """The camera's centre (3,) in the plane's frame."""
        return np.asarray(-self.rotation.T @ self.parameters[projection.TRANSLATION])

    @property
    def tilt_deg(self) -> float:
        """Angle between the optical axis and the plane's normal."""
        return degrees(acos(min(1.0, abs(float(self.rotation[2, 2])))))

    @property
    def distance_mm(self) -> float:
        """Height of the camera above the plane."""
        return abs(float(self.camera_centre_mm[2]))

    @property
    def mm_per_px_at_object(self) -> float:
        """Scale at the reference object's middle: root of the area that one pixel covers."""
        return self.scale_mm_per_px(self.to_px([self.centre_mm])[0])

    @property
    def log_focal_std(self) -> float:
        """Standard uncertainty of the log of the fitted focal length."""
        return float(np.linalg.norm(self.sensitivity_matrix[projection.LOG_FOCAL]))

    def scale_mm_per_px(self, point_px: ArrayLike, standoff_mm: float = 0.0) -> float:
        """Return the scale at one pixel.

        Parameters
        ----------
        point_px : (2,) array
            The pixel, (x, y).
        standoff_mm : float
            Height above the plane, positive toward the camera.

        Returns
        -------
        float
            Root of the area in mm² that it covers.

        Raises
        ------
        GeometryError
            The pixel looks above the plane's horizon.
        """
        x, y = np.asarray(point_px, dtype=float)
        spots = self.to_mm([[x - 0.5, y], [x + 0.5, y], [x, y - 0.5], [x, y + 0.5]], standoff_mm)
        (ax, ay), (bx, by) = spots[1] - spots[0], spots[3] - spots[2]
        return float(abs(ax * by - ay * bx) ** 0.5)

    def to_mm(self, points_px: ArrayLike, standoff_mm: ArrayLike = 0.0) -> Array:
        """Return where pixels lie in the plane, or in one parallel to it.

        Parameters
        ----------
        points_px : (N, 2) array
            Pixels, (x, y).
        standoff_mm : float or (N,) array
            Height of each point above the plane, positive toward the camera.

        Returns
        -------
        (N, 2) array
            (x, y) in the plane's frame, mm.

        Raises
        ------
        GeometryError
            A pixel looks above the plane's horizon.
        """
        points = np.asarray(points_px, dtype=float).reshape(-1, 2)
        spots = self.to_mm_spread(
            np.zeros((1, len(self.error_sources))), points[None], np.asarray(standoff_mm)
        )[0]
        if not np.all(np.isfinite(spots)):
            x, y = points[int(np.argmin(np.all(np.isfinite(spots), axis=-1)))]
            raise GeometryError(
                f"the point ({x:.0f}, {y:.0f}) px lies beyond the horizon of the card's plane: "
                "mark points of things that lie on or near it"
            )
        return np.asarray(spots)

    def to_mm_spread(self, inputs: Array, points_px: Array, standoff_mm: Array) -> Array:
        """Return `to_mm` for many values of the independent inputs at once.

        Parameters
        ----------
        inputs : (B, M) array
            Errors of the inputs, in their standard uncertainties; zero is the best estimate.
        points_px : (B or 1, N, 2) array
            Pixels.
        standoff_mm : array that broadcasts to (B, N)
            Heights.

        Returns
        -------
        (B, N, 2) array
            In mm; NaN beyond the horizon.
        """
        sets = self._parameters_at(inputs)
        heights = np.broadcast_to(self.toward * standoff_mm, (len(sets), points_px.shape[-2]))
        return projection.unproject(sets, self.base, self.camera.distortion, points_px, heights)

    def stand_spread(self, inputs: Array) -> tuple[Array, Array]:
        """Return the camera's position relative to the plane for many values of the inputs at once.

        Parameters
        ----------
        inputs : (B, M) array
            As for `to_mm_spread`.

        Returns
        -------
        normals : (B, 3) array
            The plane's normal in the camera's frame.
        heights_mm : (B,) array
            Height of the camera above the plane.
        """
        sets = self._parameters_at(inputs)
        normals = (self.base @ projection.rotations(sets[..., projection.ROTATION]))[..., 2]
        return normals, np.abs(np.sum(normals * sets[..., projection.TRANSLATION], axis=-1))

    def _parameters_at(self, inputs: Array) -> Array:
        steps = np.asarray(inputs, dtype=float) @ self.sensitivity_matrix.T
        middle = np.array([*self.centre_mm, 0.0])
        return projection.follow(np.broadcast_to(self.parameters, steps.shape), self.base, steps, middle)[0]

    def to_px(self, points_mm: ArrayLike, standoff_mm: ArrayLike = 0.0) -> Array:
        """Return the pixels of points in the plane, or at a stand-off: the inverse of `to_mm`.

        Parameters
        ----------
        points_mm : (N, 2) array
            (x, y) in the plane's frame.
        standoff_mm : float or (N,) array
            Height of each point above the plane, positive toward the camera.

        Returns
        -------
        (N, 2) array
            Pixels, (x, y).
        """
        flat = np.asarray(points_mm, dtype=float).reshape(-1, 2)
        heights = np.broadcast_to(self.toward * np.asarray(standoff_mm, dtype=float), (len(flat),))
        solid = np.column_stack([flat, heights])
        return np.asarray(projection.project(self.parameters, self.base, self.camera.distortion, solid))

    def ray(self, points_px: ArrayLike) -> Array:
        """Return the directions in which pixels look.

        Parameters
        ----------
        points_px : (N, 2) array
            Pixels, (x, y).

        Returns
        -------
        (N, 3) array
            Unit vectors in the plane's frame, away from the camera.
        """
        flat = self.camera.normalise(np.asarray(points_px, dtype=float).reshape(-1, 2))
        rays = np.column_stack([flat, np.ones(len(flat))]) @ self.rotation
        return np.asarray(rays / np.linalg.norm(rays, axis=1, keepdims=True))


def with_parameters(plane: Plane, parameters: Array) -> Plane:
    """Return the plane with other parameters, and the camera that they describe."""
    x_px, y_px = parameters[projection.PRINCIPAL_POINT]
    camera = replace(
        plane.camera,
        focal_px=float(np.exp(parameters[projection.LOG_FOCAL])),
        division=float(parameters[projection.DIVISION]),
        principal_point_px=(float(x_px), float(y_px)),
    )
    return replace(plane, camera=camera, parameters=parameters)
