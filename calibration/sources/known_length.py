"""Scale from a length between two points: no tilt, and the uncertainty says so."""

import numpy as np
from numpy.typing import ArrayLike

from calibration.camera import Camera
from calibration.cautions import Caution, CautionCode
from calibration.errors import GeometryError
from calibration.objects import ReferenceObject
from calibration.plane import TILT_STD_DEG, PlaneFamily, Sightings, TiltPrior, family_over_tilt, overhead


def fit_known_length(
    camera: Camera,
    ends_px: ArrayLike,
    length_mm: float,
    *,
    length_std_mm: float,
    click_std_px: float = 1.0,
    tilt_std_deg: float = TILT_STD_DEG,
) -> PlaneFamily:
    """Return the planes in which two points lie at a known distance.

    Parameters
    ----------
    camera : Camera
        With its uncertainties.
    ends_px : (2, 2) array
        The two points: ends of something measured by hand, or of a feature that all releases share.
    length_mm, length_std_mm : float
        Its length and standard uncertainty.
    click_std_px : float
        Standard uncertainty of each coordinate of the points.
    tilt_std_deg : float
        Standard uncertainty, about each axis, with which the photo was taken from straight above.

    Raises
    ------
    GeometryError
        The points coincide, or the length is not a possible one.

    Notes
    -----
    Along the known length the scale is right at any tilt; across it, a tilt of 15° shortens by 3.4 %, and
    farther from it one side is larger than the other. Measure along it and close to it.
    """
    ends = np.asarray(ends_px, dtype=float)
    if ends.shape != (2, 2) or not np.all(np.isfinite(ends)):
        raise GeometryError("a known length needs two points (x, y) in pixels")
    if float(np.linalg.norm(ends[1] - ends[0])) < 2.0:
        raise GeometryError("the two ends of the known length coincide: mark two different points")
    if not (1.0 <= length_mm <= 5000.0 and 0.0 <= length_std_mm <= length_mm):
        raise GeometryError(
            f"a known length of {length_mm:g} ± {length_std_mm:g} mm: expected from 1 to 5000 mm, and an"
            " uncertainty no larger than the length"
        )
    start = overhead(camera, ends[0], ends[1], length_mm)
    points = np.array([[0.0, 0.0, 0.0], [length_mm, 0.0, 0.0]])
    rows = np.broadcast_to(np.eye(2) / click_std_px, (2, 2, 2))
    seen = Sightings(points, ends, rows, length_std_mm / length_mm)
    reference = ReferenceObject(
        "length",
        f"known length of {length_mm:g} mm",
        length_mm,
        length_mm,
        length_std_mm,
        length_std_mm,
        0.0,
        0.0,
        0.0,
        "stated by the user",
    )
    tilt = TiltPrior((0.0, 0.0), float(np.radians(tilt_std_deg)))
    family = family_over_tilt(camera, seen, start, tilt, reference)
    caution = Caution.of(CautionCode.LENGTH_TILT, tilt_std_deg=tilt_std_deg)
    return PlaneFamily(family.planes, family.weights, family.source, (*family.cautions, caution))
