"""A photo at full size and halved again and again, with the way of points between the levels."""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Pixels = NDArray[np.uint8]


@dataclass(frozen=True, slots=True, eq=False)
class Pyramid:
    """A photo at full size and repeatedly halved.

    Attributes
    ----------
    levels : tuple of (H, W, 3) arrays
        Level k is reduced ``scales[k]`` times.
    scales : tuple of float
        Full-resolution pixels per pixel of each level.
    """

    levels: tuple[Pixels, ...]
    scales: tuple[float, ...]

    @classmethod
    def of(cls, pixels_bgr: Pixels, *, largest_px: int = 1300) -> "Pyramid":
        """Halve a photo until its longer side is short enough.

        Parameters
        ----------
        pixels_bgr : (H, W, 3) uint8 array
            The photo.
        largest_px : int
            Length of the longer side at which to stop.

        Returns
        -------
        Pyramid
            Level 0 is the photo itself.
        """
        levels, scales = [pixels_bgr], [1.0]
        while max(levels[-1].shape[:2]) > largest_px:
            height, width = levels[-1].shape[:2]
            even = levels[-1][: height // 2 * 2, : width // 2 * 2]
            # Exactly half with linear weights is the mean of four pixels, far quicker than INTER_AREA.
            halved = cv2.resize(even, (width // 2, height // 2), interpolation=cv2.INTER_LINEAR)
            levels.append(np.asarray(halved, dtype=np.uint8))
            scales.append(scales[-1] * 2.0)
        return cls(tuple(levels), tuple(scales))

    def level_for(self, wanted_scale: float) -> int:
        """Return the coarsest level that is fine enough.

        Parameters
        ----------
        wanted_scale : float
            Full-resolution pixels per pixel of the level, at most; below 1 it counts as 1.

        Returns
        -------
        int
            Index of the level.
        """
        fitting = [k for k, scale in enumerate(self.scales) if scale <= max(wanted_scale, 1.0)]
        return fitting[-1]

    def to_level(self, points_px: Array, level: int) -> Array:
        """Return full-resolution points in pixels of a level.

        Parameters
        ----------
        points_px : (..., 2) array
            (x, y) at full resolution, (0, 0) at the centre of the top-left pixel.
        level : int
            Index of the level.

        Returns
        -------
        (..., 2) array
            The same points in pixels of the level, by the same convention.
        """
        return (points_px + 0.5) / self.scales[level] - 0.5

    def to_full(self, points_px: Array, level: int) -> Array:
        """Return points of a level in full-resolution pixels: the inverse of `to_level`.

        Parameters
        ----------
        points_px : (..., 2) array
            (x, y) in pixels of the level, (0, 0) at the centre of its top-left pixel.
        level : int
            Index of the level.

        Returns
        -------
        (..., 2) array
            The same points at full resolution, by the same convention.
        """
        return (points_px + 0.5) * self.scales[level] - 0.5
