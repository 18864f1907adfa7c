"""How much of a quadrilateral's outline is seen as an edge in the reduced photo."""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Pixels = NDArray[np.uint8]
BINS = 8


@dataclass(frozen=True, slots=True, eq=False)
class EdgeMap:
    """Where edges of which direction are, to within 2 px and 30 degrees.

    Attributes
    ----------
    bits : (H, W) array
        Bit b is set where an edge runs within 30 degrees of b * 22.5 degrees nearby.
    threshold : float
        Least slope taken as an edge, grey levels per px.
    """

    bits: Pixels
    threshold: float

    @classmethod
    def of(cls, bgr: Pixels) -> "EdgeMap":
        """Make the map from the strongest of the three colour gradients at each pixel."""
        dx, dy = (cv2.Sobel(bgr, cv2.CV_16S, *order) for order in ((1, 0), (0, 1)))
        size = np.abs(dx) + np.abs(dy)
        channel = size.argmax(axis=2)[..., None]
        gx = np.take_along_axis(dx, channel, axis=2)[..., 0].astype(np.float32) / 8.0
        gy = np.take_along_axis(dy, channel, axis=2)[..., 0].astype(np.float32) / 8.0
        magnitude, angle = cv2.cartToPolar(gx, gy, angleInDegrees=True)
        threshold = float(np.clip(1.6 * np.median(magnitude[::4, ::4]), 2.0, 10.0))
        # The edge runs across its gradient: 90 degrees further.
        sector = ((angle + 90.0) * (32.0 / 360.0) + 0.5).astype(np.int32) & 15
        bits = np.where(magnitude > threshold, _SECTOR_BITS[sector], 0).astype(np.uint8)
        return cls(_spread(_spread(bits)), threshold)

    def support(self, points: Array, directions: Array) -> Array:
        """Tell which points, (..., 2), have an edge along their direction, (...) in radians; 0 or 1, NaN outside."""
        bins = np.rint(directions * (BINS / np.pi)).astype(np.intp) % BINS
        column, row = np.rint(points[..., 0]).astype(np.intp), np.rint(points[..., 1]).astype(np.intp)
        height, width = self.bits.shape
        inside = (column >= 0) & (row >= 0) & (column < width) & (row < height)
        found = (self.bits[np.where(inside, row, 0), np.where(inside, column, 0)] >> bins) & 1
        return np.where(inside, found.astype(np.float64), np.nan)


def _sector_bits() -> Pixels:
    bits = np.zeros(16, dtype=np.uint8)
    for sector in range(16):
        for b in range(BINS):
            apart = abs(sector * 11.25 - b * 22.5) % 180.0
            if min(apart, 180.0 - apart) <= 30.0:
                bits[sector] |= 1 << b
    return bits


_SECTOR_BITS = _sector_bits()


def _spread(bits: Pixels) -> Pixels:
    """Let each bit reach the eight neighbours."""
    wide = bits.copy()
    wide[:, 1:] |= bits[:, :-1]
    wide[:, :-1] |= bits[:, 1:]
    tall = wide.copy()
    tall[1:] |= wide[:-1]
    tall[:-1] |= wide[1:]
    return tall


@dataclass(frozen=True, slots=True, eq=False)
class Support:
    """Shares of the outline seen, for N quadrilaterals.

    Attributes
    ----------
    sides : (N, 4) array
        Share of each side that has an edge on it.
    beyond : (N,) array
        Share of the sides' continuations past the corners that has an edge too: a true corner ends both sides.
    """

    sides: Array
    beyond: Array

    def score(self) -> Array:
        """One number per quadrilateral, about 1 where all four sides are seen and end at the corners."""
        ordered = np.sort(self.sides, axis=1)
        total = 0.45 * ordered.mean(axis=1) + 0.35 * ordered[:, 1] + 0.2 * ordered[:, 0]
        return np.asarray(total - 0.15 * self.beyond)


def measure_support(edges: EdgeMap, quads: Array, *, samples: int = 24) -> Support:
    """Look along the sides of quadrilaterals, (N, 4, 2), and a quarter side past the corners."""
    start, vector = quads, np.roll(quads, -1, axis=1) - quads
    direction = np.arctan2(vector[..., 1], vector[..., 0])[..., None]
    on = np.linspace(0.07, 0.93, samples)
    past = np.array([-0.24, -0.16, -0.1, 1.1, 1.16, 1.24])

    def look(at: Array) -> Array:
        points = start[:, :, None] + vector[:, :, None] * at[None, None, :, None]
        return edges.support(points, np.broadcast_to(direction, points.shape[:-1]))

    sides = look(on)
    outside = np.isnan(sides)
    # A side that leaves the picture is judged by what is seen of it, and by no less than half of its samples.
    seen = np.maximum((~outside).sum(axis=2), samples // 2)
    shares = np.where(outside, 0.0, sides).sum(axis=2) / seen
    beyond = np.nan_to_num(look(past)).mean(axis=(1, 2))
    return Support(shares, beyond)
