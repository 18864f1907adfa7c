"""A rule or tape as a reference: its graduations along a line, and the plane that follows from them."""

from dataclasses import replace

import numpy as np

from calibration.camera import Array, Camera
from calibration.cautions import Caution, CautionCode
from calibration.errors import ObjectError
from calibration.objects import ReferenceObject
from calibration.plane import TILT_STD_DEG, PlaneFamily, Sightings, TiltPrior, family_over_tilt, overhead
from calibration.sources.graduations import Graduations, projective

# Distance between neighbouring graduations.
GRADUATIONS_MM: dict[str, float] = {
    "rule-mm": 1.0,
    "rule-cm": 10.0,
    "rule-in8": 25.4 / 8.0,
    "rule-in16": 25.4 / 16.0,
    "rule-in32": 25.4 / 32.0,
}
# A good steel rule is true to 0.1 mm in 300 (common practice, no source); plastic and tape are worse.
SCALE_STD = 0.0005
# The line was drawn by hand, so its position across the rule says little.
_ACROSS_STD_PX = 2.0
_PLACES = 24


def fit_rule(
    camera: Camera,
    seen: Graduations,
    kind: str,
    *,
    scale_std: float = SCALE_STD,
    tilt_std_deg: float = TILT_STD_DEG,
) -> PlaneFamily:
    """Return the planes in which the graduations have their true distances.

    Parameters
    ----------
    camera : Camera
        With its uncertainties.
    seen : Graduations
        What was found.
    kind : str
        One of `GRADUATIONS_MM`.
    scale_std : float
        Relative standard uncertainty of the rule.
    tilt_std_deg : float
        Standard uncertainty, about each axis, with which the photo was taken from straight above.

    Raises
    ------
    ObjectError
        Unknown graduations.
    GeometryError
        No plane fits.

    Notes
    -----
    The change of the period tells the tilt along the rule, and the plane keeps it; the tilt about the rule
    stays open.
    """
    places_mm, points, rows = strokes(seen, kind)
    length_mm = float(places_mm[-1])
    solid = np.column_stack([places_mm, np.zeros((len(places_mm), 2))])
    sightings = Sightings(solid, points, np.broadcast_to(rows, (len(points), 2, 2)), scale_std)
    start = overhead(camera, points[0], points[-1], length_mm)
    std_mm = scale_std * length_mm
    reference = ReferenceObject(
        kind, f"rule, {length_mm:.1f} mm of it", length_mm, length_mm, std_mm, std_mm, 0.0, 0.0, 0.0, "a rule"
    )
    tilt = TiltPrior((0.0, 0.0), float(np.radians(tilt_std_deg)))
    family = family_over_tilt(camera, sightings, start, tilt, reference)
    cautions = (
        counted(seen, kind),
        Caution.of(CautionCode.RULE_TILT, tilt_std_deg=tilt_std_deg),
    )
    return replace(family, cautions=(*family.cautions, *cautions))


def counted(seen: Graduations, kind: str) -> Caution:
    """Return what was counted, for the user to check."""
    return Caution.of(
        CautionCode.GRADUATIONS,
        count=int(seen.numbers[-1]),
        spacing_mm=GRADUATIONS_MM[kind],
        first_px=tuple(seen.points_px[0].tolist()),
        last_px=tuple(seen.points_px[-1].tolist()),
    )


def strokes(seen: Graduations, kind: str) -> tuple[Array, Array, Array]:
    """Return where graduations lie along the rule and in the photo.

    Parameters
    ----------
    seen : Graduations
        What was found.
    kind : str
        One of `GRADUATIONS_MM`.

    Returns
    -------
    places_mm (N,), points_px (N, 2), rows (2, 2)
        At most a few strokes that carry the weight of all, and the directions along and across the rule, each
        over the standard uncertainty of a stroke's pixel in it.

    Raises
    ------
    ObjectError
        Unknown graduations.
    """
    if kind not in GRADUATIONS_MM:
        raise ObjectError(f"no graduations '{kind}': expected one of {', '.join(GRADUATIONS_MM)}")
    points, numbers, std_px = _condensed(seen)
    along = points[-1] - points[0]
    unit = along / np.linalg.norm(along)
    rows = np.stack([unit / std_px, np.array([-unit[1], unit[0]]) / _ACROSS_STD_PX])
    return GRADUATIONS_MM[kind] * numbers, points, rows


def _condensed(seen: Graduations) -> tuple[Array, Array, float]:
    """Return at most a few places, from the fitted map, that carry the weight of all graduations."""
    start, along = seen.points_px[0], seen.points_px[-1] - seen.points_px[0]
    unit = along / np.linalg.norm(along)
    places = (seen.points_px - start) @ unit
    numbers = seen.numbers.astype(float)
    a, b, c, _ = projective(numbers, places)
    if len(numbers) <= _PLACES:
        return start + np.outer(places, unit), numbers, seen.std_px
    few = np.linspace(0.0, numbers[-1], _PLACES)
    fitted = (a * few + b) / (c * few + 1.0)
    # Common to all: strokes are rarely centred better than this.
    std_px = float(np.hypot(seen.std_px * np.sqrt(_PLACES / len(numbers)), 0.03 * np.sqrt(_PLACES)))
    return start + np.outer(fitted, unit), few, std_px
