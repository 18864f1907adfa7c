"""What makes a span uncertain."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import ArrayLike

from calibration.camera import Array
from calibration.cautions import Caution
from calibration.plane import Plane
from measure.cautions import LengthCautionCode
from measure.length import CLICK, EDGE, STANDOFF, Length

# A source that makes up this share of the variance is worth a caution.
_MAIN_SHARE = 0.5
# Below this relative expanded uncertainty nothing needs saying.
_GOOD_ENOUGH = 0.005
_EXAMPLE_HEIGHT_MM = 25.0
# Distance from the picture's middle, as a share of its diagonal, from which a span ends near its edge.
_NEAR_EDGE = 0.35
_MOSTLY = {
    CLICK: LengthCautionCode.MOSTLY_CLICK,
    EDGE: LengthCautionCode.MOSTLY_EDGE,
    STANDOFF: LengthCautionCode.MOSTLY_STANDOFF,
    "card flatness": LengthCautionCode.MOSTLY_FLATNESS,
    "card size": LengthCautionCode.MOSTLY_SIZE,
    "card corners": LengthCautionCode.MOSTLY_CORNERS,
    "focal length": LengthCautionCode.MOSTLY_FOCAL,
}


def span_cautions(
    plane: Plane,
    p_px: ArrayLike,
    length: Length,
    *,
    standoff_mm: float | Sequence[float] | None = None,
) -> tuple[Caution, ...]:
    """Return what spoils a span most.

    Parameters
    ----------
    plane : Plane
        Of the reference card.
    p_px : (2, 2) array
        The span's end points in pixels.
    length : Length
        What `measure_span` gave.
    standoff_mm : float, pair of floats or None
        As stated by the user; None where nothing was said.

    Returns
    -------
    tuple of Caution
        Empty where the length is good.
    """
    points = np.asarray(p_px, dtype=float).reshape(-1, 2)
    found = []
    if standoff_mm is None:
        found.append(standoff_unknown(plane))
    if length.expanded_uncertainty_mm <= _GOOD_ENOUGH * abs(length.value_mm):
        return tuple(found)
    shares = _variance_shares(length)
    heights = 0.0 if standoff_mm is None else standoff_mm
    found += _far_from_card(plane, points, heights, shares)
    found += _by_source(plane, points, shares)
    return tuple(found)


def standoff_unknown(plane: Plane) -> Caution:
    """Return what an unstated stand-off would do at this photo's distance."""
    distance = plane.distance_mm
    # Close-ups get an example that fits under the camera.
    height = _EXAMPLE_HEIGHT_MM if distance > 4 * _EXAMPLE_HEIGHT_MM else distance / 10.0
    excess = height / (distance - height)
    return Caution.of(
        LengthCautionCode.STANDOFF_UNSTATED, height_mm=height, distance_mm=distance, excess_share=excess
    )


def _variance_shares(length: Length) -> dict[str, float]:
    """Return each source's share of the variance."""
    total = length.standard_uncertainty_mm**2
    shares: dict[str, float] = {}
    for line in length.budget:
        shares[line.source] = shares.get(line.source, 0.0) + (line.u_mm**2 / total if total else 0.0)
    return shares


def _far_from_card(
    plane: Plane, points: Array, standoff_mm: float | Sequence[float], shares: dict[str, float]
) -> list[Caution]:
    own = sum(shares.get(source, 0.0) for source in (CLICK, EDGE, STANDOFF))
    size = float(np.ptp(plane.to_mm(plane.corners_px), axis=0).max())
    reach = float(np.max(np.linalg.norm(plane.to_mm(points, standoff_mm) - plane.centre_mm, axis=1)))
    if reach < 1.5 * size or own > _MAIN_SHARE:
        return []
    return [Caution.of(LengthCautionCode.FAR_FROM_CARD, reach_mm=reach)]


def _by_source(plane: Plane, points: Array, shares: dict[str, float]) -> list[Caution]:
    middle = np.array([plane.camera.width_px, plane.camera.height_px]) / 2.0
    edge = float(np.max(np.linalg.norm(points - middle, axis=1))) / plane.camera.diagonal_px
    found = [Caution.of(code) for source, code in _MOSTLY.items() if shares.get(source, 0.0) > _MAIN_SHARE]
    lens = shares.get("lens distortion", 0.0) + shares.get("principal point", 0.0)
    if lens > _MAIN_SHARE:
        at_edge = edge > _NEAR_EDGE
        found.append(
            Caution.of(LengthCautionCode.LENS_AT_EDGE if at_edge else LengthCautionCode.LENS_OFF_MIDDLE)
        )
    return found
