r"""What a public database of cameras and lenses says of the camera that a photo's Exif names.

The database is Lensfun's, read by `lensfunpy`. It knows a camera by its maker and model, and tells the crop
factor, by which a true focal length becomes an angle of view, and how its lenses distort. Pictures may have
been straightened since, by the camera itself or by a program, and nothing in them says so. What comes back
is therefore a mean and a standard deviation over both cases.

The database's polynomials are turned into the division model of `lens_distortion` by a least-squares fit of

.. math:: s\,r_u = r_d / (1 + \lambda r_d^2)

from the centre to the corner of the picture, radii in focal lengths. The scale s stands for what the
polynomial does to the focal length.

References
----------
Lensfun, lens database and its manual: "Database format", elements `crop-factor` and `distortion` (radius 1 is
half of the sensor's shorter side, for the crop factor and aspect ratio at which the lens was measured).
"""

from dataclasses import dataclass
from functools import lru_cache
from math import hypot, log, sqrt
from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    from calibration.image import ExifFacts

# Diagonal of the 36 x 24 mm frame, to which a crop factor refers.
# Two digits of a crop factor, and variants of a model that differ in it by less, are one (our judgement).
_CROP_LOG_STD = 0.01
# A focal length is written to a tenth of a millimetre.
_FOCAL_STD_MM = 0.05 / sqrt(3.0)
# Between copies of one lens, and between focus at infinity and at half a metre: a share of the distortion and
# a floor (our judgement; published tests of several copies are from memory).
_COPY_SHARE, _COPY_STD = 0.15, 0.005
# How often pictures are straightened, by the camera or by a program, up to 2008 and since (common practice,
# no source; the shares are our judgement): with a lens built in, whose design then relies on it, and with a
# changeable one.
_STRAIGHTENED_SINCE = 2009
_STRAIGHTENED_BUILT_IN, _STRAIGHTENED_CHANGEABLE = (0.3, 0.98), (0.1, 0.5)
# A lens whose distortion was measured farther from the focal length in use says little.
_NEAR_FOCAL_LOG = 0.1
# Lenses listed for telephones that are clipped on in front of their own.
_PUT_IN_FRONT = "lens cover"
# From fewer lenses no spread is told.
_FEWEST_LENSES = 3


@dataclass(frozen=True, slots=True)
class KnownCamera:
    """A camera of the database.

    Attributes
    ----------
    equivalent_mm : float
        Focal length in use times the crop factor, comparing diagonals.
    equivalent_log_std : float
        Standard uncertainty of its natural logarithm.
    division, division_std : float or None
        Mean and standard deviation of the division coefficient over what the lens may be and whether the
        picture was straightened; in units of the focal length. None where no lens is known.
    """

    equivalent_mm: float
    equivalent_log_std: float
    division: float | None = None
    division_std: float | None = None


def known_camera(exif: "ExifFacts") -> KnownCamera | None:
    """Look up the camera and the lens that Exif names.

    Parameters
    ----------
    exif : ExifFacts
        Maker, model and true focal length are needed; the lens's name helps.

    Returns
    -------
    KnownCamera or None
        None where Exif names none, or the database doesn't list it.
    """
    if not (exif.make and exif.model and exif.focal_mm):
        return None
    year = (exif.taken or "")[:4]
    recent = not year.isdigit() or int(year) >= _STRAIGHTENED_SINCE
    return _looked_up(exif.make, exif.model, exif.lens, exif.focal_mm, recent)


@lru_cache(maxsize=1)
def _database() -> Any:
    """Return the database, None on a machine without the GLib library that it is read by."""
    try:
        # Imported here: reading it takes a tenth of a second, which most photos don't need.
        import lensfunpy
    except ImportError:
        return None
    return lensfunpy.Database()


@lru_cache(maxsize=64)
def _looked_up(make: str, model: str, lens: str | None, focal_mm: float, recent: bool) -> KnownCamera | None:
    database = _database()
    found = [] if database is None else database.find_cameras(make, model, loose_search=False)
    # A variant is the same camera cropping to another shape: a picture's shape is counted elsewhere.
    found = [one for one in found if not one.variant and one.crop_factor > 0.0] or found
    crops = [one.crop_factor for one in found if one.crop_factor > 0.0]
    if not crops:
        return None
    crop = float(np.exp(np.mean(np.log(crops))))
    spread = hypot(_CROP_LOG_STD, float(np.std(np.log(crops))), _FOCAL_STD_MM / focal_mm)
    division, division_std = _distortion(found[0], lens, focal_mm, recent=recent)
    return KnownCamera(focal_mm * crop, spread, division, division_std)


def _distortion(
    camera: Any, lens: str | None, focal_mm: float, *, recent: bool
) -> tuple[float | None, float | None]:
    """Return mean and standard deviation of the division coefficient; None twice where no lens tells."""
    database = _database()
    fitting = [one for one in database.find_lenses(camera) if _is_plain(one)]
    named = database.find_lenses(camera, None, lens, loose_search=False) if lens else []
    built_in = len({one.model for one in fitting}) == 1
    chosen = named[:1] or fitting
    values = [value for one in chosen if (value := _division(one, focal_mm)) is not None]
    if not values or (len(values) < _FEWEST_LENSES and not (named or built_in)):
        return None, None
    mean, spread = float(np.median(values)), _robust_std(values)
    built = hypot(spread, _COPY_STD, _COPY_SHARE * mean)
    left = 1.0 - (_STRAIGHTENED_BUILT_IN if built_in else _STRAIGHTENED_CHANGEABLE)[recent]
    # Mean and variance of a mixture: straightened, all but what copies differ by, or as built.
    variance = left * built**2 + (1.0 - left) * _COPY_STD**2 + left * (1.0 - left) * mean**2
    return left * mean, sqrt(variance)


def _is_plain(lens: Any) -> bool:
    """Tell a lens of the usual projection from a fisheye, whose distortion is relative to another one."""
    return "RECTILINEAR" in str(lens.type) and _PUT_IN_FRONT not in lens.model


def _robust_std(values: list[float]) -> float:
    """Return half the width that holds the middle 68 %, which a few odd lenses don't widen."""
    low, high = np.percentile(values, [16.0, 84.0])
    return float(high - low) / 2.0


def _division(lens: Any, focal_mm: float) -> float | None:
    """Return a lens's division coefficient, in units of this focal length; None where it isn't known."""
    measured = [one.focal for one in lens.calib_distortion if one.focal > 0.0]
    # Between two models the library doesn't interpolate.
    one_model = len({one.model for one in lens.calib_distortion}) == 1
    if not measured or not one_model or lens.crop_factor <= 0.0:
        return None
    if min(abs(log(focal_mm / one)) for one in measured) > _NEAR_FOCAL_LOG and not (
        min(measured) < focal_mm < max(measured)
    ):
        return None
    distortion = lens.interpolate_distortion(focal_mm)
    if distortion is None:
        return None
    # Radius 1 is half of the shorter side of a 3:2 sensor; the corner lies at the diagonal.
    corner = hypot(36.0, 24.0) / 24.0
    undistorted = np.linspace(0.05, 1.0, 40) * corner
    distorted = _bent(str(distortion.model), distortion.terms, undistorted)
    if distorted is None:
        return None
    unit = 12.0 / lens.crop_factor / focal_mm
    undistorted, distorted = undistorted * unit, distorted * unit
    columns = np.stack([undistorted, undistorted * distorted**2], axis=1)
    scale, product = np.linalg.lstsq(columns, distorted, rcond=None)[0]
    return float(product / scale)


def _bent(model: str, terms: Any, radius: Any) -> Any:
    """Return the distorted radii of undistorted ones by one of the database's models; None for another."""
    a, b, c = (*terms, 0.0, 0.0, 0.0)[:3]
    if "PTLENS" in model:
        return radius * (a * radius**3 + b * radius**2 + c * radius + 1.0 - a - b - c)
    if "POLY3" in model:
        return radius * (1.0 - a + a * radius**2)
    if "POLY5" in model:
        return radius * (1.0 + a * radius**2 + b * radius**4)
    return None
