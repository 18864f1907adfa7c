"""The camera: where its rays go, and how well that is known.

A camera is a set of prior statements, each with a standard uncertainty: the focal length in pixels, the
principal point, the lens. They come from a profile, from Exif, or from what is usual where a photo says
nothing.
"""

from dataclasses import dataclass
from math import hypot, isfinite, sqrt
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import ArrayLike

from calibration import lens
from calibration.lens import Array

if TYPE_CHECKING:
    from calibration.exif import ExifFacts
    from calibration.photo import Photo

# Diagonal of the 36 x 24 mm frame: the 35 mm equivalent is taken to compare diagonals (CIPA DCG-001).
FULL_FRAME_DIAGONAL_MM = hypot(36.0, 24.0)

# Maker's statement against the focal length in use: tolerance, electronic stabilisation, slight zoom when
# focusing.
_STATED_LOG_STD = 0.028
_ASSUMED_LOG_STD = 0.25
# A wider view than this bends lines unless software straightens them, and not all software does.
_WIDE_ANGLE_MM = 22.0
# Up to 1280 x 960: what webcams, action and board cameras deliver, uncorrected. A phone's picture without
# Exif has been through a messenger or a marketplace, which keep 1600 px or more.
_SMALL_PICTURE_PX = 1280 * 960


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
        Coefficient of the division model applied on top, see `calibration.lens`; like k1, negative for
        barrel.
    k1_std : float
        Standard uncertainty of `division`, and so of k1.
    source : str
        Where the focal length is from, for people.
    cautions : tuple of str
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
    cautions: tuple[str, ...] = ()

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
        """Return pinhole coordinates, (N, 2) in units of the focal length, of pixels (N, 2)."""
        points = (np.asarray(points_px, dtype=float) - self.principal_point_px) / self.focal_px
        if self.has_profile:
            points = lens.undistort(points, self.distortion)
        return lens.undivide(points, self.division)

    def denormalise(self, points: ArrayLike) -> Array:
        """Return the pixels (N, 2) of pinhole coordinates (N, 2): the inverse of `normalise`."""
        bent = lens.divide(np.asarray(points, dtype=float), self.division)
        if self.has_profile:
            bent = lens.distort(bent, self.distortion)
        return np.asarray(bent * self.focal_px + self.principal_point_px)

    def undistort_px(self, points_px: ArrayLike) -> Array:
        """Return where a pinhole of the same focal length would see these pixels, (N, 2)."""
        return np.asarray(self.normalise(points_px) * self.focal_px + self.principal_point_px)

    def project(self, xyz_mm: ArrayLike) -> Array:
        """Return the pixels (N, 2) of points (N, 3) in mm in the camera's frame, z forward."""
        xyz = np.asarray(xyz_mm, dtype=float)
        return self.denormalise(xyz[..., :2] / xyz[..., 2:])


def focal_from_equivalent(equivalent_mm: float, width_px: int, height_px: int) -> tuple[float, float]:
    """Turn a 35 mm equivalent into pixels, by the diagonal of the uncropped frame.

    Parameters
    ----------
    equivalent_mm : float
        FocalLengthIn35mmFilm, a whole number of mm.
    width_px, height_px : int
        Size of the photo.

    Returns
    -------
    focal_px, log_std : float
        The log's standard uncertainty holds the rounding to a whole mm, the maker's tolerance and, for a
        picture that is neither 4:3 nor 3:2, the doubt whether the stated figure belongs to the crop or the
        frame.
    """
    long, short = max(width_px, height_px), min(width_px, height_px)
    diagonal, doubt = frame_diagonal(long, short)
    rounding = 0.5 / sqrt(3.0) / equivalent_mm
    return equivalent_mm * diagonal / FULL_FRAME_DIAGONAL_MM, sqrt(
        _STATED_LOG_STD**2 + rounding**2 + doubt**2
    )


def frame_diagonal(long_px: int, short_px: int) -> tuple[float, float]:
    """Return the diagonal in px of the sensor's whole frame and the log doubt about it.

    Sensors are 4:3 (phones, compacts) or 3:2; any other picture is a crop of one, most often 4:3.
    """
    aspect = long_px / short_px
    whole = hypot(long_px, short_px)
    if min(abs(aspect / known - 1.0) for known in (4 / 3, 3 / 2)) < 0.015:
        return whole, 0.0
    frame = long_px * 1.25 if aspect > 4 / 3 else short_px * 5 / 3
    # Half the gap between the two readings, as a rectangular half-width about the frame's.
    return frame, abs(np.log(frame / whole)) / sqrt(3.0)


def camera_from_photo(photo: "Photo") -> Camera:
    """Return the camera that a photo's Exif describes, or the one assumed where it says nothing.

    Raises nothing: a focal length outside what cameras have is ignored, and the source says so.
    """
    return camera_from_exif(photo.width_px, photo.height_px, photo.exif)


def camera_from_exif(width_px: int, height_px: int, exif: "ExifFacts | None") -> Camera:
    """Return the camera of a picture of this size with these Exif facts (None: no Exif at all)."""
    focal_px, log_std, source, cautions = _focal(width_px, height_px, exif)
    equivalent_mm = (
        focal_px
        * FULL_FRAME_DIAGONAL_MM
        / frame_diagonal(max(width_px, height_px), min(width_px, height_px))[0]
    )
    known = source.startswith("Exif")
    small = not known and width_px * height_px <= _SMALL_PICTURE_PX
    division, k1_std = _lens_prior(equivalent_mm if known else None, small=small)
    # Phones and cameras centre the sensor within about 1 % of the width; the sensors of small board cameras
    # sit a tenth of a millimetre off on 4 mm, 2 to 3 %.
    centre_std_px = (0.01 if known or not small else 0.03) * max(width_px, height_px)
    if _is_odd_shape(width_px, height_px):
        centre_std_px = hypot(centre_std_px, 0.05 * max(width_px, height_px))
        cautions += (
            "The picture's proportions are those of no camera: it seems cropped, "
            "so lengths off the card's plane are less certain; use the uncropped photo.",
        )
    return Camera(
        width_px,
        height_px,
        focal_px,
        log_std,
        ((width_px - 1) / 2, (height_px - 1) / 2),
        centre_std_px,
        division=division,
        k1_std=k1_std,
        source=source,
        cautions=cautions,
    )


def _is_odd_shape(width_px: int, height_px: int) -> bool:
    aspect = max(width_px, height_px) / min(width_px, height_px)
    usual = (1.0, 5 / 4, 4 / 3, 3 / 2, 16 / 10, 16 / 9, 18 / 9, 19.5 / 9, 20 / 9)
    return min(abs(aspect / known - 1.0) for known in usual) > 0.015


def _lens_prior(equivalent_mm: float | None, *, small: bool) -> tuple[float, float]:
    """Return mean and standard uncertainty of the division coefficient."""
    # Lens designs bound the coefficient: equisolid -3/8, rectilinear 0, slight pincushion +0.05. A lens of
    # which nothing else is known is taken as rectangular between these: mean -0.16, standard deviation 0.12.
    unknown = (-0.16, 0.12)
    if small or (equivalent_mm is not None and equivalent_mm < _WIDE_ANGLE_MM):
        return unknown
    # Phones and cameras straighten their pictures; what is left is a per cent or two (k1 from published tests
    # of phone cameras, as recalled).
    return 0.0, 0.02


def _focal(
    width_px: int, height_px: int, exif: "ExifFacts | None"
) -> tuple[float, float, str, tuple[str, ...]]:
    """Return focal length in px, its log's standard uncertainty, its source and cautions."""
    diagonal = hypot(width_px, height_px)
    found: tuple[float, float, str] | None = None
    if exif is not None and exif.focal_35mm_mm and 5.0 <= exif.focal_35mm_mm <= 2000.0:
        found = (*focal_from_equivalent(exif.focal_35mm_mm, width_px, height_px), "Exif 35 mm equivalent")
    elif exif is not None and exif.focal_mm and exif.focal_plane_px_per_mm:
        found = (exif.focal_mm * exif.focal_plane_px_per_mm, _STATED_LOG_STD, "Exif sensor resolution")
    if found is None or exif is None or not 0.15 * diagonal <= found[0] <= 50.0 * diagonal:
        # Diagonal fields of view: phones 75-85°, 26 to 28 mm; webcams and board cameras 55-90°, 35 mm in the
        # middle.
        small = width_px * height_px <= _SMALL_PICTURE_PX
        return diagonal * (35.0 if small else 28.0) / FULL_FRAME_DIAGONAL_MM, _ASSUMED_LOG_STD, "assumed", ()
    focal_px, log_std, source = found
    if exif.focal_mm and exif.focal_mm > 12.0:
        # A lens moved out to focus at half a metre acts as one longer by f/d; one that focuses inside may
        # shorten.
        log_std = hypot(log_std, exif.focal_mm / 500.0)
    if exif.digital_zoom and exif.digital_zoom > 1.0:
        text = "The photo was taken with digital zoom, whose focal length is uncertain: take it without."
        return focal_px, max(log_std, _ASSUMED_LOG_STD), source, (text,)
    return focal_px, log_std, source, ()
