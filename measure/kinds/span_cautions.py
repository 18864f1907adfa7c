"""What makes a span uncertain, in plain words, each with advice."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import ArrayLike

from calibration.camera import Array
from calibration.plane import Plane
from measure.length import CLICK, EDGE, STANDOFF, Length

# A source that makes up this share of the variance is worth a caution.
_MAIN_SHARE = 0.5
# Below this relative expanded uncertainty nothing needs saying.
_GOOD_ENOUGH = 0.005
_EXAMPLE_HEIGHT_MM = 25.0


def span_cautions(
    plane: Plane,
    p_px: ArrayLike,
    length: Length,
    *,
    standoff_mm: float | Sequence[float] | None = None,
) -> tuple[str, ...]:
    """Return what spoils a span most, and what to do about it.

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
    tuple of str
        Sentences; empty where the length is good.
    """
    points = np.asarray(p_px, dtype=float).reshape(-1, 2)
    found = []
    if standoff_mm is None:
        found.append(standoff_unknown(plane))
    if length.expanded_uncertainty_mm <= _GOOD_ENOUGH * abs(length.value_mm):
        return tuple(found)
    shares = _shares(length)
    heights = 0.0 if standoff_mm is None else standoff_mm
    found += _far_from_card(plane, points, heights, shares)
    found += _by_source(plane, points, shares)
    return tuple(found)


def standoff_unknown(plane: Plane) -> str:
    """Say what an unstated stand-off would do at this photo's distance."""
    distance = plane.distance_mm
    # Close-ups get an example that fits under the camera.
    height = _EXAMPLE_HEIGHT_MM if distance > 4 * _EXAMPLE_HEIGHT_MM else distance / 10.0
    excess = 100.0 * height / (distance - height)
    return (
        f"A part {height:.3g} mm nearer the camera than the card at {distance:.0f} mm reads {excess:.2g} % "
        "too long: give its stand-off where its edges don't lie on the card's plane."
    )


def _shares(length: Length) -> dict[str, float]:
    """Return each source's share of the variance."""
    total = length.standard_uncertainty_mm**2
    shares: dict[str, float] = {}
    for line in length.budget:
        shares[line.source] = shares.get(line.source, 0.0) + (line.u_mm**2 / total if total else 0.0)
    return shares


def _far_from_card(
    plane: Plane, points: Array, standoff_mm: float | Sequence[float], shares: dict[str, float]
) -> list[str]:
    own = sum(shares.get(source, 0.0) for source in (CLICK, EDGE, STANDOFF))
    size = float(np.ptp(plane.to_mm(plane.corners_px), axis=0).max())
    reach = float(np.max(np.linalg.norm(plane.to_mm(points, standoff_mm) - plane.centre_mm, axis=1)))
    if reach < 1.5 * size or own > _MAIN_SHARE:
        return []
    return [
        f"The span reaches {reach:.0f} mm from the card, where its scale is less certain: "
        "lay the card beside the middle of the part, or use a larger one."
    ]


def _by_source(plane: Plane, points: Array, shares: dict[str, float]) -> list[str]:
    middle = np.array([plane.camera.width_px, plane.camera.height_px]) / 2.0
    edge = float(np.max(np.linalg.norm(points - middle, axis=1))) / plane.camera.diagonal_px
    advice = {
        CLICK: "the marked points: let them snap to the edges, or come closer.",
        EDGE: "the part's edges, which are blurred or shaded: come closer, or light them from the side.",
        STANDOFF: "the stand-off: measure it with a rule, or lay the card at the part's height.",
        "card flatness": "the card's flatness: press it flat, and photograph from more directly above.",
        "card size": "the size of the reference: measure yours and give its size.",
        "card corners": "the card's corners: come closer, or use a larger reference.",
        "focal length": "the focal length: use the camera's original file with its Exif.",
    }
    found = [
        f"Most of the uncertainty is in {text}"
        for source, text in advice.items()
        if shares.get(source, 0.0) > _MAIN_SHARE
    ]
    lens = shares.get("lens distortion", 0.0) + shares.get("principal point", 0.0)
    if lens > _MAIN_SHARE:
        where = (
            "The span ends near the picture's edge"
            if edge > 0.35
            else "The card or the span lies off the middle"
        )
        found.append(f"{where}, where the unknown lens matters: keep both in the middle, from farther away.")
    return found
