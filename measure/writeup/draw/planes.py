"""The metric plane of a photo for drawing: millimetres to pixels and back."""

from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import ArrayLike, NDArray

Points = NDArray[np.float64]


class MetricPlane(Protocol):
    """Anything that maps between photo and card plane, as `calibration.plane.fit.Plane` does."""

    def to_mm(self, points_px: ArrayLike, standoff_mm: ArrayLike = 0.0) -> Points:
        """Map photo points (N, 2) to the plane at this stand-off."""
        ...

    def to_px(self, points_mm: ArrayLike, standoff_mm: ArrayLike = 0.0) -> Points:
        """Map points (N, 2) of the plane at this stand-off to the photo."""
        ...


@dataclass(frozen=True, slots=True)
class ScaledPlane:
    """A plane seen in a picture that was resized.

    Attributes
    ----------
    plane : MetricPlane
        The plane of the photo.
    scale : float
        Picture pixels per photo pixel.
    """

    plane: MetricPlane
    scale: float

    def to_mm(self, points_px: ArrayLike, standoff_mm: ArrayLike = 0.0) -> Points:
        """Map picture points to the plane."""
        return self.plane.to_mm(resized(np.asarray(points_px, float), 1.0 / self.scale), standoff_mm)

    def to_px(self, points_mm: ArrayLike, standoff_mm: ArrayLike = 0.0) -> Points:
        """Map points of the plane to the picture."""
        return resized(self.plane.to_px(points_mm, standoff_mm), self.scale)


@dataclass(frozen=True, slots=True, eq=False)
class UprightPlane:
    """A rectified picture: one stand-off, a rotation, and a scale that is the same everywhere.

    Attributes
    ----------
    origin_mm : (2,) array
        Position of the picture's first pixel in the card's plane.
    axes : (2, 2) array
        Rows: directions in the card's plane of the picture's right and down.
    px_per_mm : float
        The scale.
    """

    origin_mm: Points
    axes: Points
    px_per_mm: float

    def to_mm(self, points_px: ArrayLike, standoff_mm: ArrayLike = 0.0) -> Points:
        """Map picture points to the card's plane; every stand-off looks the same in a rectified picture."""
        return np.asarray(np.asarray(points_px, float) / self.px_per_mm @ self.axes + self.origin_mm)

    def to_px(self, points_mm: ArrayLike, standoff_mm: ArrayLike = 0.0) -> Points:
        """Map points of the card's plane to the picture."""
        return np.asarray((np.asarray(points_mm, float) - self.origin_mm) @ self.axes.T * self.px_per_mm)


def resized(points_px: Points, scale: float) -> Points:
    """Return points of a picture after it was resized; pixel centres are whole numbers in both."""
    return np.asarray((points_px + 0.5) * scale - 0.5)
