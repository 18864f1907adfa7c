"""Planes from references that leave the tilt open: a length, a rule's edge, a coin.

What the reference doesn't tell, a statement must: that the photo was taken from about straight above, within
a stated number of degrees. What lies across an unknown tilt shrinks with its cosine, always the same way,
which no linear budget can hold; so instead of one plane there are several, each with its weight, and a length
is measured on each.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from calibration.camera import Array, Camera
from calibration.cautions import Caution
from calibration.errors import GeometryError
from calibration.objects import ReferenceObject
from calibration.plane import projection
from calibration.plane.family_fit import Sightings, fit_tilt_ambiguous
from calibration.plane.metric_plane import Plane
from calibration.plane.tilt_prior import TILT, TILT_STD_DEG, TiltPrior

__all__ = [
    "TILT",
    "TILT_STD_DEG",
    "PlaneFamily",
    "Sightings",
    "TiltPrior",
    "family_over_tilt",
    "fit_tilt_ambiguous",
    "overhead",
]

# A node's tilt is held to this, in radians: negligible beside its uncertainty.
_HELD = 1e-4
# Gauss-Hermite nodes of three points: exact for polynomials up to the fifth degree.
_NODES, _WEIGHTS = np.array([-(3.0**0.5), 0.0, 3.0**0.5]), np.array([1.0, 4.0, 1.0]) / 6.0


@dataclass(frozen=True, slots=True, eq=False)
class PlaneFamily:
    """Planes that a photo allows, with their weights.

    Attributes
    ----------
    planes : tuple of Plane
        The most likely one first.
    weights : tuple of float
        Their probabilities; they add up to 1.
    source : str
        What keeps them apart, for the budget.
    cautions : tuple of Caution
        What the user should know.
    """

    planes: tuple[Plane, ...]
    weights: tuple[float, ...]
    source: str
    cautions: tuple[Caution, ...] = ()

    def __post_init__(self) -> None:
        """Refuse an empty family, or invalid weights."""
        if not self.planes or len(self.planes) != len(self.weights):
            raise ValueError("a family needs planes and as many weights")
        if min(self.weights) < 0 or abs(sum(self.weights) - 1.0) > 1e-9:
            raise ValueError("weights must not be negative and must add up to 1")

    @classmethod
    def of(
        cls, planes: Sequence[Plane], weights: Sequence[float], source: str, cautions: tuple[Caution, ...]
    ) -> "PlaneFamily":
        """Return the family of planes in any order, their weights of any sum.

        Parameters
        ----------
        planes : sequence of Plane
            At least one.
        weights : sequence of float
            One for each, not negative.
        source : str
            What keeps them apart, for the budget.
        cautions : tuple of Caution
            What the user should know.

        Returns
        -------
        PlaneFamily
            The planes by weight, and their weights adding up to 1.

        Raises
        ------
        ValueError
            There are no planes, or the weights are invalid.
        """
        order = sorted(range(len(planes)), key=lambda index: -weights[index])
        total = sum(weights)
        return cls(
            tuple(planes[index] for index in order),
            tuple(weights[index] / total for index in order),
            source,
            cautions,
        )


def family_over_tilt(
    camera: Camera,
    seen: Sightings,
    start: tuple[Array, Array],
    tilt: TiltPrior,
    reference: ReferenceObject | None,
) -> PlaneFamily:
    """Return the planes that sightings and a tilt prior leave open, at the nodes of a quadrature.

    Parameters
    ----------
    camera, seen, start, tilt, reference
        As for `fit_tilt_ambiguous`.

    Returns
    -------
    PlaneFamily
        Nine planes, that of the middle node first.

    Raises
    ------
    GeometryError
        No plane in front of the camera fits.

    Notes
    -----
    The tilt's posterior is taken as normal; nine nodes (Gauss and Hermite) along its main axes carry its
    mean, spread and, through the lengths measured on each, the one-sided effect of the cosine.
    """
    best = fit_tilt_ambiguous(camera, seen, start, tilt, reference)
    translation = best.parameters[projection.TRANSLATION]

    def held(base: Array, there: TiltPrior) -> Plane:
        return fit_tilt_ambiguous(camera, seen, (base, translation), there, reference)

    planes, weights = at_nodes(best, tilt_covariance(best), held)
    return PlaneFamily.of(planes, weights, TILT, best.cautions)


def at_nodes(
    plane: Plane, tilt_cov: Array, held: Callable[[Array, TiltPrior], Plane]
) -> tuple[list[Plane], list[float]]:
    """Return the planes at the nodes of a quadrature over an open tilt, and their weights.

    Parameters
    ----------
    plane : Plane
        The most likely plane.
    tilt_cov : (2, 2) array
        Covariance of the x and y of its normal in the camera's frame.
    held : callable
        Refits the plane, given a rotation (3, 3) to start from and a tilt that it is held to.

    Returns
    -------
    planes : list of Plane
        Nine: three nodes of Gauss and Hermite along each main axis of the covariance.
    weights : list of float
        They add up to 1.
    """
    values, axes = np.linalg.eigh(tilt_cov)
    reach = axes * np.sqrt(np.maximum(values, 0.0))
    planes, weights = [], []
    for i, one in enumerate(_NODES):
        for j, other in enumerate(_NODES):
            node = plane.base[:2, 2] + reach @ [one, other]
            there = TiltPrior((float(node[0]), float(node[1])), _HELD)
            planes.append(held(_leaning(plane.base, node), there))
            weights.append(float(_WEIGHTS[i] * _WEIGHTS[j]))
    return planes, weights


def tilt_covariance(plane: Plane) -> Array:
    """Return how uncertain the tilt of a plane is.

    Parameters
    ----------
    plane : Plane
        As fitted.

    Returns
    -------
    (2, 2) array
        Covariance of the x and y of its normal in the camera's frame: about rad².
    """
    # A small rotation w, about the frame's own axes, moves the normal by w x n.
    slope = np.stack([plane.base @ np.cross(axis, [0.0, 0.0, 1.0]) for axis in np.eye(3)], axis=1)[:2]
    spread = slope @ plane.sensitivity_matrix[projection.ROTATION]
    return np.asarray(spread @ spread.T)


def leaning_to(planes: Sequence[Plane], nearer_px: Array) -> Plane:
    """Return the plane whose depth at a pixel, relative to its origin's, is the smallest.

    Parameters
    ----------
    planes : sequence of Plane
        At least one, of one origin.
    nearer_px : (2,) array
        The pixel, (x, y), on the side that is nearer to the camera.

    Returns
    -------
    Plane
        One of them; a plane that the pixel doesn't meet comes last.
    """

    def depth(plane: Plane) -> float:
        try:
            spot = np.append(plane.to_mm([nearer_px])[0], 0.0)
        except GeometryError:
            return float("inf")
        return float((plane.rotation @ spot)[2])

    return min(planes, key=depth)


def _leaning(rotation: Array, normal: Array) -> Array:
    """Return the rotation with the least change that gives the plane's normal these x and y."""
    asked = np.append(normal, np.sqrt(max(1.0 - float(normal @ normal), 0.01)))
    way = np.cross(rotation[:, 2], asked / np.linalg.norm(asked))
    sine = float(np.linalg.norm(way))
    return np.asarray(projection.rotations(way * (np.arcsin(min(sine, 1.0)) / max(sine, 1e-12))) @ rotation)


def overhead(camera: Camera, origin_px: Array, along_px: Array, length_mm: float) -> tuple[Array, Array]:
    """Return the pose of a plane seen square on, its x axis along a picture vector.

    Parameters
    ----------
    camera : Camera
        The camera.
    origin_px, along_px : (2,) arrays
        Where the frame's origin is seen, and the end of the length, (x, y).
    length_mm : float
        Length from one to the other.

    Returns
    -------
    rotation : (3, 3) array
        Plane to camera.
    translation_mm : (3,) array
        The frame's origin in the camera's frame.

    Raises
    ------
    GeometryError
        The two coincide.
    """
    one, other = camera.normalise(np.stack([origin_px, along_px]))
    apart = other - one
    reach = float(np.linalg.norm(apart))
    if not reach > 0.0:
        raise GeometryError("the two marks coincide: mark two different points")
    depth = length_mm / reach
    c, s = apart / reach
    rotation = np.array([[c, -s, 0.0], [s, c, 0.0], [0.0, 0.0, 1.0]])
    return rotation, depth * np.append(one, 1.0)
