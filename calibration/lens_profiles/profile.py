"""A camera profile: focal length and lens as learnt from photos of a board, for photos of any orientation."""

from dataclasses import dataclass

import numpy as np

from calibration.camera import Array, Camera
from calibration.errors import ProfileError

# A phone refocuses: between a board at arm's length and a nearer part, the focal length changes by a few
# tenths of a per cent (common practice, no source).
_REFOCUS_LOG_STD = 0.004


@dataclass(frozen=True, slots=True)
class ViewResidual:
    """How well one photo of the board fits.

    Attributes
    ----------
    name : str
        The photo's.
    rms_px : float
        Root mean square of the reprojection residuals.
    tilt_deg : float
        Tilt of the board against the picture plane.
    used : bool
        False where the view was left out as an outlier.
    """

    name: str
    rms_px: float
    tilt_deg: float
    used: bool = True


@dataclass(frozen=True, slots=True)
class Profile:
    """A calibrated camera.

    Attributes
    ----------
    width_px, height_px : int
        Size of the photos it was learnt from, upright as the sensor lies (Exif orientation 1).
    focal_px, focal_std_px : float
        Focal length (the mean of both axes) and its standard uncertainty, refocusing not counted.
    principal_point_px : tuple of float
        (x, y).
    principal_point_std_px : float
        Standard uncertainty of each.
    distortion : tuple of float
        Coefficients in OpenCV's order, 5 or 8.
    k1_std : float
        Standard uncertainty of what is left of the distortion, as an equivalent k1.
    model : str
        Which coefficients were fitted.
    rms_px, held_out_rms_px : float
        Residual of the fit, and of views that a fit without them predicted.
    views : tuple of ViewResidual
        The photos.
    """

    width_px: int
    height_px: int
    focal_px: float
    focal_std_px: float
    principal_point_px: tuple[float, float]
    principal_point_std_px: float
    distortion: tuple[float, ...]
    k1_std: float
    model: str
    rms_px: float
    held_out_rms_px: float
    views: tuple[ViewResidual, ...]

    def camera(self, orientation: int = 1) -> Camera:
        """Return the camera of a photo, upright.

        Parameters
        ----------
        orientation : int
            The photo's Exif orientation, 1, 3, 6 or 8.

        Returns
        -------
        Camera
            Size, principal point and distortion turned with the photo.

        Raises
        ------
        ProfileError
            A mirrored orientation, which no camera writes.
        """
        if orientation not in _TURNS:
            raise ProfileError(_MIRRORED.format(orientation))
        width, height = self.width_px, self.height_px
        x, y = self.principal_point_px
        k = list(self.distortion)
        for _ in range(_TURNS[orientation]):
            # A quarter turn clockwise: what was left is now on top.
            width, height, (x, y) = height, width, (height - 1 - y, x)
            # With q = (p2, p1) the tangential shift is q r² + 2 x (q . x): q turns like a point, to (-y, x).
            k[2], k[3] = k[3], -k[2]
        log_std = float(np.hypot(self.focal_std_px / self.focal_px, _REFOCUS_LOG_STD))
        return Camera(
            width,
            height,
            self.focal_px,
            log_std,
            (x, y),
            self.principal_point_std_px,
            tuple(k),
            k1_std=self.k1_std,
            source="camera profile",
        )


_MIRRORED = "Exif orientation {} mirrors the picture; no camera profile fits that"
# Exif orientation: quarter turns clockwise that make the picture upright.
_TURNS = {1: 0, 6: 1, 3: 2, 8: 3}


def as_stored(points_px: Array, width_px: int, height_px: int, orientation: int) -> Array:
    """Return points of an upright photo where the sensor had them, before it was turned upright.

    Parameters
    ----------
    points_px : (N, 2) array
        Points (x, y) in the upright photo.
    width_px, height_px : int
        Its size, upright.
    orientation : int
        Its Exif orientation; only the four that cameras write.

    Returns
    -------
    (N, 2) array
        The same points in the photo as stored, (x, y), px.

    Raises
    ------
    ProfileError
        A mirrored orientation, which no camera writes.
    """
    if orientation not in _TURNS:
        raise ProfileError(_MIRRORED.format(orientation))
    points, size = np.asarray(points_px, dtype=float), (width_px, height_px)
    for _ in range(_TURNS[orientation]):
        # Undo one quarter turn clockwise.
        points = np.column_stack([points[:, 1], size[0] - 1 - points[:, 0]])
        size = (size[1], size[0])
    return points
