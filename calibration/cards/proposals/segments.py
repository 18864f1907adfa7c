"""Straight edges of a reduced photo: the raw material of quadrilaterals."""

from collections.abc import Callable
from dataclasses import dataclass
from functools import partial

import cv2
import numpy as np
from numpy.typing import NDArray

from calibration.parallel import run_in_parallel

Array = NDArray[np.float64]
Pixels = NDArray[np.uint8]
Floats = NDArray[np.float32]

# Segments that may be parts of one line.
_UNION_ANGLE_DEG, _UNION_APART_PX = 3.0, 2.0


@dataclass(frozen=True, slots=True, eq=False)
class Segments:
    """Straight segments, in pixels of the reduced photo.

    Attributes
    ----------
    ends : (N, 2, 2) array
        Start and end, (x, y), of each.
    strength : (N,) array
        Length times the root of the (capped) contrast.
    """

    ends: Array
    strength: Array

    def __len__(self) -> int:
        return len(self.ends)


@dataclass(frozen=True, slots=True, eq=False)
class ChannelSegments:
    """All segments of lightness and of the two colour differences, strongest first in each."""

    channels: tuple[Segments, ...]

    @classmethod
    def of(cls, bgr: Pixels) -> "ChannelSegments":
        """Find straight edges on a reduced photo, those of colour at half its size.

        References
        ----------
        von Gioi et al., LSD: a Line Segment Detector, IPOL 2, 2012 (the detector used, OpenCV's).
        """
        lab = cv2.cvtColor(bgr, cv2.COLOR_BGR2LAB)
        size = lab.shape[1] // 2, lab.shape[0] // 2

        def tint(channel: int) -> Pixels:
            half = cv2.resize(cv2.extractChannel(lab, channel), size, interpolation=cv2.INTER_AREA)
            return np.asarray(cv2.LUT(half, _TWICE_THE_COLOUR), dtype=np.uint8)

        factor = (lab.shape[1] / size[0], lab.shape[0] / size[1])
        return cls._of_each(np.asarray(cv2.extractChannel(lab, 0), dtype=np.uint8), tint, factor)

    @classmethod
    def in_detail(cls, bgr: Pixels, halved: Pixels) -> "ChannelSegments":
        """Find straight edges on a level, those of colour on the next, where even a faint tint counts.

        Parameters
        ----------
        bgr, halved : (H, W, 3) arrays
            The level, and the next more reduced one.
        """
        factor = (bgr.shape[1] / halved.shape[1], bgr.shape[0] / halved.shape[0])
        grey = np.asarray(cv2.cvtColor(bgr, cv2.COLOR_BGR2GRAY), dtype=np.uint8)
        lab = cv2.cvtColor(halved, cv2.COLOR_BGR2LAB)

        def tint(channel: int) -> Pixels:
            # Cameras and JPEG files smear colour over two pixels, and its noise is coarse.
            smooth = cv2.medianBlur(cv2.extractChannel(lab, channel), 3)
            return np.asarray(cv2.LUT(smooth, _FOUR_TIMES_THE_COLOUR), dtype=np.uint8)

        return cls._of_each(grey, tint, factor)

    @classmethod
    def _of_each(
        cls, lightness: Pixels, tint: Callable[[int], Pixels], factor: tuple[float, float]
    ) -> "ChannelSegments":
        """Search the picture of lightness, and two of colour that are reduced by a factor.

        Lightness takes longest, so it comes first; the pictures of colour are made only when needed.
        """
        others = (partial(_tint_segments, tint, channel, factor) for channel in (1, 2))
        return cls(tuple(run_in_parallel(partial(_channel_segments, lightness, (1.0, 1.0)), *others)))

    def shorter_than(self, length_px: float) -> "ChannelSegments":
        """Return only the segments shorter than this."""
        kept = []
        for segments in self.channels:
            short = np.linalg.norm(segments.ends[:, 1] - segments.ends[:, 0], axis=1) < length_px
            kept.append(Segments(segments.ends[short], segments.strength[short]))
        return ChannelSegments(tuple(kept))

    def strongest(self, most: int) -> Segments:
        """Return this many, half of them of lightness, with collinear ones joined."""
        ends, strength = [], []
        for segments, share in zip(self.channels, (2, 4, 4), strict=True):
            ends.append(segments.ends[: most // share])
            strength.append(segments.strength[: most // share])
        return merge_collinear(Segments(np.concatenate(ends), np.concatenate(strength)))


def _times(factor: float) -> Pixels:
    return np.asarray(np.clip(factor * (np.arange(256) - 128.0) + 128.0, 0, 255).astype(np.uint8))


_TWICE_THE_COLOUR, _FOUR_TIMES_THE_COLOUR = _times(2.0), _times(4.0)


def _tint_segments(tint: Callable[[int], Pixels], channel: int, factor: tuple[float, float]) -> Segments:
    return _channel_segments(tint(channel), factor)


def _channel_segments(picture: Pixels, factor: tuple[float, float]) -> Segments:
    lines = cv2.createLineSegmentDetector(cv2.LSD_REFINE_NONE).detect(picture)[0]
    if lines is None or len(lines) == 0:
        return Segments(np.zeros((0, 2, 2)), np.zeros(0))
    ends = np.asarray(lines, dtype=np.float64).reshape(-1, 2, 2)
    length = np.linalg.norm(ends[:, 1] - ends[:, 0], axis=1)
    longest = np.argsort(-length)[:_LONGEST]
    longest = longest[length[longest] > 5.0]
    ends, length = ends[longest], length[longest]
    strength = length * np.sqrt(np.minimum(_contrast(picture, ends, length), 30.0))
    order = np.argsort(-strength)
    scale = np.array(factor)
    return Segments((ends[order] + 0.5) * scale - 0.5, strength[order] * scale[0])


_LONGEST = 4000


def _contrast(picture: Pixels, ends: Array, length: Array) -> Array:
    """Difference of the means 2 px to either side of each segment, in grey levels."""
    x, y = ends[:, 0].T
    dx, dy = (ends[:, 1] - ends[:, 0]).T
    safe = np.maximum(length, 1e-6)
    across_x, across_y = -dy / safe, dx / safe
    at = np.linspace(0.1, 0.9, 9)[:, None]
    along_x, along_y = x + dx * at, y + dy * at
    sides = [
        _look_up(picture, along_x + sign * 2.0 * across_x, along_y + sign * 2.0 * across_y).mean(axis=0)
        for sign in (-1.0, 1.0)
    ]
    return np.asarray(np.abs(sides[1] - sides[0]))


def _look_up(picture: Pixels, x: Array, y: Array) -> Pixels:
    column = np.clip(np.rint(x).astype(np.intp), 0, picture.shape[1] - 1)
    row = np.clip(np.rint(y).astype(np.intp), 0, picture.shape[0] - 1)
    return np.asarray(picture[row, column])


def merge_collinear(segments: Segments) -> Segments:
    """Add the unions of segments that continue each other, and drop those that repeat a stronger one."""
    if len(segments) < 2:
        return segments
    kept = _without_duplicates(segments)
    unions = _unions(kept)
    both = Segments(
        np.concatenate([kept.ends, unions.ends]), np.concatenate([kept.strength, unions.strength])
    )
    return _without_duplicates(both)


def pair_geometry(ends: Array) -> tuple[Floats, Floats, Floats, Floats]:
    """Cosine of the angle, distance of segment j's ends from line i, span of j along i: (N, N) each."""
    # Single precision is enough for tolerances of a pixel, and these tables are large.
    single = ends.astype(np.float32)
    vector = single[:, 1] - single[:, 0]
    length = np.maximum(np.linalg.norm(vector, axis=1), 1e-6)
    along = vector / length[:, None]
    normal = np.stack([-along[:, 1], along[:, 0]], axis=1)
    cosine = np.abs(_products(along, along))
    points = single.reshape(-1, 2)
    across = np.abs(_products(normal, points) - (normal * single[:, 0]).sum(axis=1)[:, None])
    position = _products(along, points) - (along * single[:, 0]).sum(axis=1)[:, None]
    first, last = position[:, 0::2], position[:, 1::2]
    furthest = np.maximum(across[:, 0::2], across[:, 1::2])
    return cosine, furthest, np.minimum(first, last), np.maximum(first, last)


def _products(one: NDArray[np.float32], other: NDArray[np.float32]) -> Floats:
    """Scalar products, (N, M), of vectors (N, 2) and (M, 2).

    A matrix product would be split among threads, which costs more than it saves at this size.
    """
    result: Floats = np.multiply.outer(one[:, 0], other[:, 0])
    result += np.multiply.outer(one[:, 1], other[:, 1])
    return result


def _without_duplicates(segments: Segments) -> Segments:
    order = np.argsort(-segments.strength)
    ends, strength = segments.ends[order], segments.strength[order]
    length = np.linalg.norm(ends[:, 1] - ends[:, 0], axis=1)
    cosine, across, start, stop = pair_geometry(ends)
    overlap = np.minimum(stop, length[:, None]) - np.maximum(start, 0.0)
    same = (
        (cosine > np.cos(np.radians(2.0)))
        & (across < 1.5)
        & (overlap > 0.85 * np.maximum(length[:, None], length[None, :]))
    )
    # Row i is the stronger one: it suppresses those after it in the order.
    silenced = np.triu(same, 1).any(axis=0)
    return Segments(ends[~silenced], strength[~silenced])


def _unions(segments: Segments) -> Segments:
    ends, strength = segments.ends, segments.strength
    length = np.linalg.norm(ends[:, 1] - ends[:, 0], axis=1)
    cosine, across, start, stop = pair_geometry(ends)
    gap = np.maximum(start - length[:, None], -stop)
    longer = np.maximum(length[:, None], length[None, :])
    near = (cosine > np.cos(np.radians(_UNION_ANGLE_DEG))) & (across < _UNION_APART_PX)
    close = near & (gap < longer) & (gap > -0.5 * longer)
    first, second = np.nonzero(np.triu(close, 1))
    # Of many collinear pieces, the largest unions matter most.
    best = np.argsort(-(strength[first] + strength[second]))[:200]
    first, second = first[best], second[best]
    points = np.concatenate([ends[first], ends[second]], axis=1)
    vector = np.where(
        (length[first] >= length[second])[:, None],
        ends[first, 1] - ends[first, 0],
        ends[second, 1] - ends[second, 0],
    )
    position = np.einsum("nkc,nc->nk", points, vector)
    rows = np.arange(len(points))
    union = np.stack([points[rows, position.argmin(axis=1)], points[rows, position.argmax(axis=1)]], axis=1)
    return Segments(union, strength[first] + strength[second])
