"""From where a photo was taken, as a plane tells it, each figure with its uncertainty."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import hypot

import numpy as np

from calibration.camera import Array
from calibration.plane.metric_plane import Plane


@dataclass(frozen=True, slots=True)
class Viewpoint:
    """The position of the camera relative to the plane of the reference.

    Attributes
    ----------
    tilt_deg, tilt_std_deg : float
        Angle between the optical axis and the plane's normal, and its standard uncertainty.
    height_mm, height_std_mm : float
        Height of the camera above the plane, likewise.
    mm_per_px, mm_per_px_std : float
        Side of the square that one pixel covers at the reference's middle, likewise.
    """

    tilt_deg: float
    tilt_std_deg: float
    height_mm: float
    height_std_mm: float
    mm_per_px: float
    mm_per_px_std: float


def viewpoint(plane: Plane) -> Viewpoint:
    """Return the viewpoint that a plane describes.

    Parameters
    ----------
    plane : Plane
        Of the reference.

    Returns
    -------
    Viewpoint
        Each figure with its standard uncertainty.

    Notes
    -----
    Central differences of one standard uncertainty of each input (JCGM 100:2008, 5.1.3). A tilt can't be
    negative: near zero its slope vanishes, however uncertain it is, so there the whole tilt vector's larger
    uncertainty is stated.
    """
    steps = np.eye(len(plane.error_sources))
    inputs = np.concatenate([steps, -steps])
    normals, heights_mm = plane.stand_spread(inputs)
    middle = plane.to_px([plane.centre_mm])[0]
    around = middle + 0.5 * np.array([[-1.0, 0.0], [1.0, 0.0], [0.0, -1.0], [0.0, 1.0]])
    spots = plane.to_mm_spread(inputs, around[None], np.asarray(0.0))
    across, down = spots[:, 1] - spots[:, 0], spots[:, 3] - spots[:, 2]
    sides = np.abs(across[:, 0] * down[:, 1] - across[:, 1] * down[:, 0]) ** 0.5
    return Viewpoint(
        plane.tilt_deg,
        _tilt_std_deg(plane.rotation[:, 2], normals),
        plane.distance_mm,
        _std(heights_mm),
        plane.mm_per_px_at_object,
        _std(sides),
    )


def mean_viewpoint(views: Sequence[Viewpoint], weights: Sequence[float]) -> Viewpoint:
    """Return one viewpoint for several that are possible, by the law of total variance.

    Parameters
    ----------
    views : sequence of Viewpoint
        At least one.
    weights : sequence of float
        Their probabilities.

    Returns
    -------
    Viewpoint
        Means, with standard uncertainties that hold the spread between the views.
    """

    def mixed(values: list[float], stds: list[float]) -> tuple[float, float]:
        mean = float(np.dot(weights, values))
        variance = float(np.dot(weights, np.square(stds) + (np.array(values) - mean) ** 2))
        return mean, variance**0.5

    return Viewpoint(
        *mixed([one.tilt_deg for one in views], [one.tilt_std_deg for one in views]),
        *mixed([one.height_mm for one in views], [one.height_std_mm for one in views]),
        *mixed([one.mm_per_px for one in views], [one.mm_per_px_std for one in views]),
    )


def _std(values: Array) -> float:
    up, down = np.split(values, 2)
    return float(np.linalg.norm((up - down) / 2.0))


def _tilt_std_deg(normal: Array, normals: Array) -> float:
    slope = normal[:2] / normal[2]
    size = float(np.linalg.norm(slope))
    toward = slope / size if size > 0.0 else np.array([1.0, 0.0])
    slopes = normals[:, :2] / normals[:, 2:]
    along = _std(slopes @ toward) / (1.0 + size**2)
    aside = _std(slopes @ np.array([-toward[1], toward[0]])) / hypot(1.0, size)
    near_zero = np.arctan(size) < 3.0 * max(along, aside)
    return float(np.degrees(max(along, aside) if near_zero else along))
