"""The intrinsics of a photo's camera: where its rays go, and how well that is known."""

from dataclasses import dataclass
from math import hypot, isfinite

import numpy as np
from numpy.typing import ArrayLike

from calibration.camera import lens_distortion
from calibration.camera.lens_distortion import Array
from calibration.cautions import Caution


@dataclass(frozen=True, slots=True)
class Camera:
    """Intrinsics of one photo, with their uncertainty.

    Attributes
    ----------
    width_px, height_px : int
        Size of the photo, upright.
    focal_px : float
        Focal length; the scale at the picture's centre.
    log_focal_std : float
        Standard uncertainty of its natural logarithm: 0.03 is 3 %.
    principal_point_px : tuple of float
        Where the optical axis meets the picture, (x, y).
    principal_point_std_px : float
        Standard uncertainty of each of the two.
    distortion : tuple of float
        k1, k2, p1, p2, k3 (then k4, k5, k6 for a rational profile) in OpenCV's order; zeros without a
        profile.
    division : float
        Coefficient of the division model applied on top, see `lens_distortion`; like k1, negative for
        barrel.
    k1_std : float
        Standard uncertainty of `division`, and so of k1.
    source : str
        Where the focal length is from, for display.
    cautions : tuple of Caution
        What about this camera may spoil a measurement, and what to do.
    """

    width_px: int
    height_px: int
    focal_px: float
    log_focal_std: float
    principal_point_px: tuple[float, float]
    principal_point_std_px: float
    distortion: tuple[float, ...] = (0.0,) * 5
    division: float = 0.0
    k1_std: float = 0.02
    source: str = "assumed"
    cautions: tuple[Caution, ...] = ()

    def __post_init__(self) -> None:
        """Refuse the impossible."""
        numbers = (self.focal_px, self.log_focal_std, self.principal_point_std_px, self.k1_std)
        if not all(isfinite(number) for number in (*numbers, *self.principal_point_px, *self.distortion)):
            raise ValueError("a camera's numbers must be finite")
        if self.focal_px <= 0 or min(numbers[1:]) < 0:
            raise ValueError("focal length must be positive and uncertainties not negative")
        if len(self.distortion) not in (5, 8):
            raise ValueError("distortion takes 5 coefficients, or 8 for a rational profile")

    @property
    def diagonal_px(self) -> float:
        """Diagonal of the photo."""
        return hypot(self.width_px, self.height_px)

    @property
    def has_profile(self) -> bool:
        """Whether the lens was calibrated."""
        return any(self.distortion)

    @property
    def matrix(self) -> Array:
        """The 3 x 3 matrix K of a pinhole with this focal length and principal point."""
        (cx, cy), f = self.principal_point_px, self.focal_px
        return np.array([[f, 0.0, cx], [0.0, f, cy], [0.0, 0.0, 1.0]])

    def normalise(self, points_px: ArrayLike) -> Array:
        """Return the pinhole coordinates of pixels: their rays, without the lens's distortion.

        Parameters
        ----------
        points_px : (N, 2) array
            (x, y) in the upright photo.

        Returns
        -------
        (N, 2) array
            In units of the focal length, from the principal point, x right and y down: the ray of (x, y) runs
            along (x, y, 1) in the camera's frame.
        """
        points = (np.asarray(points_px, dtype=float) - self.principal_point_px) / self.focal_px
        if self.has_profile:
            points = lens_distortion.undistort(points, self.distortion)
        return lens_distortion.undistort_division(points, self.division)

    def denormalise(self, points: ArrayLike) -> Array:
        """Return the pixels of pinhole coordinates: the inverse of `normalise`.

        Parameters
        ----------
        points : (N, 2) array
            In units of the focal length, as `normalise` gives them.

        Returns
        -------
        (N, 2) array
            (x, y) in the upright photo, px.
        """
        bent = lens_distortion.distort_division(np.asarray(points, dtype=float), self.division)
        if self.has_profile:
            bent = lens_distortion.distort(bent, self.distortion)
        return np.asarray(bent * self.focal_px + self.principal_point_px)

    def undistort_px(self, points_px: ArrayLike) -> Array:
        """Return where a pinhole of the same focal length and principal point would see these pixels.

        Parameters
        ----------
        points_px : (N, 2) array
            (x, y) in the upright photo.

        Returns
        -------
        (N, 2) array
            (x, y) without the lens's distortion, px.
        """
        return np.asarray(self.normalise(points_px) * self.focal_px + self.principal_point_px)

    def project(self, xyz_mm: ArrayLike) -> Array:
        """Return the pixels of points in space.

        Parameters
        ----------
        xyz_mm : (N, 3) array
            In the camera's frame: x right, y down, z forward; z above 0.

        Returns
        -------
        (N, 2) array
            (x, y) in the upright photo, px.
        """
        xyz = np.asarray(xyz_mm, dtype=float)
        return self.denormalise(xyz[..., :2] / xyz[..., 2:])
