"""How much of a quadrilateral's outline is seen as an edge in the reduced photo."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from calibration.objects import CARD_OBJECTS, ReferenceObject

Array = NDArray[np.float64]
Pixels = NDArray[np.uint8]
Floats = NDArray[np.float32]
BINS = 8
_SHARP_TEST_RADIUS = 0.032
_BAND_PX = 120_000


@dataclass(frozen=True, slots=True, eq=False)
class EdgeMap:
    """A map of edges by direction, to within 2 px and 30 degrees.

    Attributes
    ----------
    bits : (H, W) array
        Bit b is set where an edge runs within 30 degrees of b * 22.5 degrees nearby.
    fine : (H, W) array
        The same at the pixel itself.
    """

    bits: Pixels
    fine: Pixels

    @classmethod
    def of(cls, bgr: Pixels) -> "EdgeMap":
        """Make the map from the strongest of the three colour gradients at each pixel."""
        magnitude = np.empty(bgr.shape[:2], np.float32)
        of_sector = np.empty(bgr.shape[:2], np.uint8)
        for rows, gx, gy in _gradient_bands(bgr):
            _, angle = cv2.cartToPolar(gx, gy, magnitude[rows], angleInDegrees=True)
            # The edge runs across its gradient: 90 degrees further; a sector is 11.25 degrees wide.
            sector = cv2.convertScaleAbs(angle, alpha=32.0 / 360.0, beta=8.0)
            cv2.LUT(np.asarray(sector, dtype=np.uint8), _BITS_OF_BYTE, of_sector[rows])
        threshold = _local_threshold(magnitude)
        above = cv2.compare(magnitude, threshold, cv2.CMP_GT)
        bits = np.asarray(cv2.bitwise_and(of_sector, of_sector, mask=above), dtype=np.uint8)
        return cls(_spread(_spread(bits)), bits)

    def support(self, points: Array, directions: Array, *, fine: bool = False) -> Array:
        """Tell which points, (..., 2), have an edge along their direction: 0 or 1, NaN outside.

        Directions, in radians, have or broadcast to the points' shape (...).
        """
        bits = self.fine if fine else self.bits
        bins = np.rint(directions * (BINS / np.pi)).astype(np.intp) % BINS
        column, row = np.rint(points[..., 0]).astype(np.intp), np.rint(points[..., 1]).astype(np.intp)
        height, width = bits.shape
        inside = (column >= 0) & (row >= 0) & (column < width) & (row < height)
        found = (bits[np.where(inside, row, 0), np.where(inside, column, 0)] >> bins) & 1
        return np.where(inside, found.astype(np.float64), np.nan)


def strongest_gradient(bgr: Pixels) -> tuple[Floats, Floats]:
    """Return the slopes of the colour channel that is steepest at each pixel.

    Parameters
    ----------
    bgr : (H, W, 3) uint8 array
        The picture.

    Returns
    -------
    across, down : (H, W) float32 arrays
        Slopes along x and along y, grey levels per px.
    """
    across, down = np.empty(bgr.shape[:2], np.float32), np.empty(bgr.shape[:2], np.float32)
    for rows, gx, gy in _gradient_bands(bgr):
        across[rows], down[rows] = gx, gy
    return across, down


def _gradient_bands(bgr: Pixels) -> Iterator[tuple[slice, Floats, Floats]]:
    """Yield the slopes, as `strongest_gradient` returns them, of some rows after the other.

    Intermediate results then stay in the processor's cache; for a whole picture, allocating
    memory takes longer than the work.
    """
    height, width = bgr.shape[:2]
    step = max(_BAND_PX // width // 16 * 16, 16)
    for top in range(0, height, step):
        bottom, above = min(top + step, height), min(top, 1)
        own = slice(above, above + bottom - top)
        steepest = _steepest(bgr[top - above : bottom + 1])
        gx, gy = (np.multiply(slope[own], np.float32(0.125), dtype=np.float32) for slope in steepest)
        yield slice(top, bottom), gx, gy


def _steepest(bgr: Pixels) -> tuple[NDArray[np.int16], NDArray[np.int16]]:
    """Return eight times the slopes of the channel steepest at each pixel."""
    first, *others = cv2.split(bgr)
    best_x, best_y = cv2.spatialGradient(first)
    best, spare = np.abs(best_x), np.abs(best_y)
    best += spare
    dx, dy, size = np.empty_like(best), np.empty_like(best), np.empty_like(best)
    for channel in others:
        cv2.spatialGradient(channel, dx, dy)
        np.abs(dx, out=size)
        size += np.abs(dy, out=spare)
        steeper = np.asarray(cv2.compare(size, best, cv2.CMP_GT))
        cv2.copyTo(dx, steeper, best_x)
        cv2.copyTo(dy, steeper, best_y)
        np.maximum(size, best, out=best)
    return np.asarray(best_x, np.int16), np.asarray(best_y, np.int16)


def _local_threshold(magnitude: Floats) -> Floats:
    """Least slope taken as an edge, grey levels per px: what stands out from the surrounding texture."""
    height, width = magnitude.shape
    small = cv2.resize(magnitude, (max(width // 4, 1), max(height // 4, 1)), interpolation=cv2.INTER_AREA)
    usual = cv2.boxFilter(small, -1, (15, 15), borderType=cv2.BORDER_REFLECT)
    # Beside print the typical slope is steep, yet a pale card on a pale table must still be seen there.
    limit = np.asarray(cv2.resize(usual, (width, height)), dtype=np.float32)
    limit *= np.float32(1.4)
    return np.clip(limit, 2.0, 7.0, out=limit)


def _sector_bits() -> Pixels:
    bits = np.zeros(16, dtype=np.uint8)
    for sector in range(16):
        for b in range(BINS):
            apart = abs(sector * 11.25 - b * 22.5) % 180.0
            if min(apart, 180.0 - apart) <= 30.0:
                bits[sector] |= 1 << b
    return bits


_SECTOR_BITS = _sector_bits()
_BITS_OF_BYTE = _SECTOR_BITS[np.arange(256) & 15]


def _spread(bits: Pixels) -> Pixels:
    """Dilate each bit to its eight neighbours."""
    wide = bits.copy()
    np.bitwise_or(wide[:, 1:], bits[:, :-1], out=wide[:, 1:])
    np.bitwise_or(wide[:, :-1], bits[:, 1:], out=wide[:, :-1])
    tall = wide.copy()
    np.bitwise_or(tall[1:], wide[:-1], out=tall[1:])
    np.bitwise_or(tall[:-1], wide[1:], out=tall[:-1])
    return tall


@dataclass(frozen=True, slots=True, eq=False)
class Support:
    """Shares of the outline seen, for N quadrilaterals.

    Attributes
    ----------
    sides : (N, 4) array
        Share of each side that has an edge on it.
    beyond : (N,) array
        Share of the sides' continuations past the corners that has an edge too: true corners end both.
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

    def support_at(at: Array) -> Array:
        points = start[:, :, None] + vector[:, :, None] * at[None, None, :, None]
        return edges.support(points, direction)

    sides = support_at(on)
    outside = np.isnan(sides)
    # A side that leaves the picture is judged by what is seen of it, and by no less than half of its samples.
    seen = np.maximum((~outside).sum(axis=2), samples // 2)
    on_sides = np.where(outside, 0.0, sides).sum(axis=2) / seen
    beyond = np.nan_to_num(support_at(past)).mean(axis=(1, 2))
    return Support(on_sides, beyond)


def rough_shapes(
    edges: EdgeMap, quads: Array, objects: Sequence[ReferenceObject], kinds: NDArray[np.intp]
) -> Array:
    """Judge, on the reduced photo, whether corners are rounded or sharp as a kind's are; (N,) from -1 to 1.

    Zero where a corner's rounding would be too small to see, or where the kind's is not known.

    Parameters
    ----------
    edges : EdgeMap
        Of the reduced photo.
    quads : (N, 4, 2) array
        Corners there.
    objects : sequence of ReferenceObject
        The kinds.
    kinds : (N,) array of int
        Which of them each is compared with.
    """
    shapes = np.zeros(len(quads))
    lengths = np.linalg.norm(np.roll(quads, -1, axis=1) - quads, axis=2)
    # Pixels per mm from the perimeter: close enough for an arc of a few pixels.
    perimeters_mm = np.array([2.0 * (kind.width_mm + kind.height_mm) for kind in objects])
    radii = np.array([_tested_radius_mm(kind) for kind in objects])[kinds]
    radii *= lengths.sum(axis=1) / perimeters_mm[kinds]
    large = radii > 2.0
    quads, lengths, radii = quads[large], lengths[large], radii[large]
    ahead = np.roll(quads, -1, axis=1) - quads
    back = -np.roll(ahead, 1, axis=1) / np.roll(lengths, 1, axis=1)[..., None]
    ahead = ahead / lengths[..., None]
    arc = _seen_on_arc(edges, quads, ahead, back, radii)
    straight = 0.5 * (_seen_straight(edges, quads, ahead, radii) + _seen_straight(edges, quads, back, radii))
    sharp = np.array([kind.corner_radius_mm == 0.0 for kind in objects])[kinds[large]]
    likeness = np.where(sharp[:, None], straight - arc, arc - straight)
    best = np.sort(likeness, axis=1)[:, 1:].mean(axis=1)
    shapes[large] = best * np.minimum((radii - 2.0) / 2.0, 1.0)
    return shapes


def _tested_radius_mm(kind: ReferenceObject) -> float:
    """Radius that tells rounded from sharp corners; 0 where the kind's own is not known."""
    if kind.corner_radius_mm > 0.0:
        return kind.corner_radius_mm
    return _SHARP_TEST_RADIUS * kind.diagonal_mm if kind in CARD_OBJECTS else 0.0


def _seen_on_arc(edges: EdgeMap, quads: Array, ahead: Array, back: Array, radius: Array) -> Array:
    angle = np.radians(np.linspace(15.0, 75.0, 9))[:, None]
    ahead, back = ahead[:, :, None], back[:, :, None]
    points = quads[:, :, None] + radius[:, None, None, None] * (
        (1.0 - np.sin(angle)) * ahead + (1.0 - np.cos(angle)) * back
    )
    tangent = -np.cos(angle) * ahead + np.sin(angle) * back
    outward = -np.sin(angle) * ahead - np.cos(angle) * back
    return _seen_within_a_pixel(edges, points, tangent, outward)


def _seen_straight(edges: EdgeMap, quads: Array, along: Array, radius: Array) -> Array:
    steps = np.linspace(0.02, 0.32, 5)[:, None]
    points = quads[:, :, None] + radius[:, None, None, None] * steps * along[:, :, None]
    tangent = np.broadcast_to(along[:, :, None], points.shape)
    across = np.stack([-tangent[..., 1], tangent[..., 0]], axis=-1)
    return _seen_within_a_pixel(edges, points, tangent, across)


def _seen_within_a_pixel(edges: EdgeMap, points: Array, tangent: Array, across: Array) -> Array:
    direction = np.arctan2(tangent[..., 1], tangent[..., 0])
    shifts = np.array([-0.8, 0.0, 0.8]).reshape(-1, 1, 1, 1, 1)
    seen = edges.support(points + shifts * across, direction, fine=True)
    return np.asarray(np.nan_to_num(seen).max(axis=0).mean(axis=2))
