"""Removing what hides outlines (print, patterns, slow changes of light), or looking for regions instead.

On newsprint, tiles or a chessboard, the pattern's own edges outnumber a card's. Closing fills what is dark
and thin, opening removes what is bright and thin; both leave the straight edge of anything larger where it
is. What is small shows as a region, even where its sides are too faint or too short to be found as lines;
what is faint shows once its difference from the surroundings is amplified.
"""

from collections.abc import Iterator

import cv2
import numpy as np
from numpy.typing import NDArray

from calibration.cards.geometry import clockwise

Array = NDArray[np.float64]
Pixels = NDArray[np.uint8]


def without_dark_print(picture: Pixels, width_px: int) -> Pixels:
    """Fill what is darker than its surroundings and narrower than this, in each channel (closing)."""
    return np.asarray(cv2.morphologyEx(picture, cv2.MORPH_CLOSE, _square(width_px)), np.uint8)


def without_bright_print(picture: Pixels, width_px: int) -> Pixels:
    """Remove what is brighter than its surroundings and narrower than this, in each channel (opening).

    References
    ----------
    Serra, Image Analysis and Mathematical Morphology (1982): opening and closing, which leave half-planes as
    they are.
    """
    return np.asarray(cv2.morphologyEx(picture, cv2.MORPH_OPEN, _square(width_px)), np.uint8)


def _square(width_px: int) -> Pixels:
    return np.ones((width_px, width_px), np.uint8)


# Faint edges are amplified this much, relative to the median in a window of a tenth of the longer side.
_GAIN = 4.0
_WIDE_LONGEST, _WIDE_WINDOW = 400, 41
_FAINT_SMOOTHING_PX = 0.8


def amplified_contrast(picture: Pixels) -> Pixels:
    """Amplify each channel's differences from its wider surroundings, for edges of a few grey levels."""
    smooth = cv2.GaussianBlur(picture, (0, 0), _FAINT_SMOOTHING_PX)
    ground = _ground(picture, _WIDE_LONGEST, _WIDE_WINDOW)
    return np.asarray(cv2.addWeighted(smooth, _GAIN, ground, -_GAIN, 128.0), np.uint8)


def _ground(picture: Pixels, longest_px: int, window_px: int) -> Pixels:
    """Return the median in a window of the picture reduced to a longer side, at full size again."""
    height, width = picture.shape[:2]
    factor = min(1.0, longest_px / max(height, width))
    small = cv2.resize(picture, None, fx=factor, fy=factor, interpolation=cv2.INTER_AREA)
    return np.asarray(cv2.resize(cv2.medianBlur(small, window_px), (width, height)), np.uint8)


# The surroundings of a region are the median in a window this wide, of the picture reduced this much.
_GROUND_LONGEST, _GROUND_WINDOW = 500, 31
# How far, in picture noise, a region stands out; usually one of these separates it from its shadow.
_LEVELS = (3.0, 6.0, 12.0)
_SMOOTHING_PX = 1.0
_NARROW = 5
_LEAST_AREA_PX2, _LARGEST_SHARE = 150.0, 0.3
_LEAST_SOLIDITY, _LEAST_FILLING = 0.75, 0.8


def contrasting_regions(picture: Pixels) -> Array:
    """Return quadrilaterals, (N, 4, 2) px clockwise, around regions that differ from their surroundings.

    References
    ----------
    Aggarwal et al., Minimum area circumscribing polygons, The Visual Computer 1 (1985): the form of OpenCV's
    reduction of a hull to four sides.
    """
    found = []
    for mask in _masks(picture):
        opened = cv2.morphologyEx(mask, cv2.MORPH_OPEN, _square(_NARROW))
        contours, _ = cv2.findContours(opened, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
        found += [
            quad
            for contour in contours
            if (quad := _four_sided(np.asarray(contour, np.int32), mask.size)) is not None
        ]
    return np.array(found).reshape(-1, 4, 2)


def _masks(picture: Pixels) -> Iterator[Pixels]:
    lab = cv2.cvtColor(picture, cv2.COLOR_BGR2LAB)
    ground = _ground(np.asarray(lab, np.uint8), _GROUND_LONGEST, _GROUND_WINDOW)
    smooth = cv2.GaussianBlur(lab, (0, 0), _SMOOTHING_PX)
    lighter, darker = cv2.subtract(smooth, ground), cv2.subtract(ground, smooth)
    apart = cv2.max(lighter, darker)
    noise = 1.0 + 1.48 * np.median(apart[::4, ::4].reshape(-1, 3), axis=0)
    for level in _LEVELS:
        limits = np.clip(level * noise, 1.0, 254.0)
        yield np.asarray(cv2.bitwise_not(cv2.inRange(apart, np.zeros(3), limits)), np.uint8)
        for part in (lighter, darker):
            yield np.asarray(cv2.bitwise_not(cv2.inRange(part[..., 0], 0, limits[0])), np.uint8)


def _four_sided(contour: NDArray[np.int32], picture_px2: int) -> Array | None:
    area = cv2.contourArea(contour)
    if not _LEAST_AREA_PX2 <= area <= _LARGEST_SHARE * picture_px2:
        return None
    hull = cv2.convexHull(contour)
    hull_area = cv2.contourArea(hull)
    if area < _LEAST_SOLIDITY * hull_area or len(hull) < 4:
        return None
    quad = np.asarray(cv2.approxPolyN(hull, 4)[0], dtype=np.float64)
    if len(quad) != 4 or hull_area < _LEAST_FILLING * cv2.contourArea(quad.astype(np.float32)):
        return None
    return clockwise(quad)
