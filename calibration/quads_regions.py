"""Quadrilaterals around regions of one tone or colour: where a card's sides are too broken for segments."""

import cv2
import numpy as np
from numpy.typing import NDArray

from calibration.quads_geometry import clockwise, is_convex
from calibration.quads_lines import Pixels

Array = NDArray[np.float64]
_LONGEST_PX = 560
_LEVELS = 7
_SMALLEST_SHARE, _LARGEST_SHARE = 0.0015, 0.8
_FILLED = 0.9
_SAME_PX = 3.0


def region_quads(bgr: Pixels) -> Array:
    """Fit four sides around what stands out at many thresholds of lightness and colour, (N, 4, 2) px.

    Only regions whose convex hull fills such a quadrilateral are kept. The sides are a few pixels off: they
    are where to look for edges.

    Parameters
    ----------
    bgr : (H, W, 3) array
        Reduced photo.
    """
    factor = max(1.0, max(bgr.shape[:2]) / _LONGEST_PX)
    size = round(bgr.shape[1] / factor), round(bgr.shape[0] / factor)
    small = cv2.medianBlur(cv2.resize(bgr, size, interpolation=cv2.INTER_AREA), 5)
    found: list[Array] = []
    for channel in _maps(np.asarray(small, dtype=np.uint8)):
        for threshold in _thresholds(channel):
            found += _around(np.asarray(channel > threshold, dtype=np.uint8))
    kept: list[Array] = []
    for quad in found:
        if not kept or np.abs(np.array(kept) - quad).max(axis=(1, 2)).min() > _SAME_PX:
            kept.append(quad)
    if not kept:
        return np.zeros((0, 4, 2))
    quads = np.array(kept)
    scale = np.array([bgr.shape[1] / size[0], bgr.shape[0] / size[1]])
    return np.asarray((quads[is_convex(quads)] + 0.5) * scale - 0.5)


def _maps(small: Pixels) -> list[Pixels]:
    """Lightness, both colour differences, saturation, and distance in colour from what is most usual."""
    lab = cv2.cvtColor(small, cv2.COLOR_BGR2LAB)
    usual = np.median(lab[::4, ::4].reshape(-1, 3), axis=0)
    apart = np.sqrt((((lab.astype(np.float32) - usual) * np.array([0.6, 2.0, 2.0])) ** 2).sum(axis=2))
    saturation = cv2.cvtColor(small, cv2.COLOR_BGR2HSV)[..., 1]
    return [*cv2.split(lab), saturation, np.clip(2.0 * apart, 0, 255).astype(np.uint8)]


def _thresholds(channel: Pixels) -> Array:
    """Levels between those that hold most of the picture, closer where more of it lies."""
    sample = channel[::3, ::3]
    low, high = np.percentile(sample, (2, 98))
    if high - low < 6.0:
        return np.zeros(0)
    even = np.linspace(low, high, _LEVELS + 2)[1:-1]
    return np.unique(np.rint(even))


def _around(mask: Pixels) -> list[Array]:
    contours, _ = cv2.findContours(mask, cv2.RETR_LIST, cv2.CHAIN_APPROX_SIMPLE)
    area = mask.shape[0] * mask.shape[1]
    quads = []
    for contour in contours:
        if len(contour) < 4:
            continue
        hull = cv2.convexHull(contour)
        filled = cv2.contourArea(hull)
        if not _SMALLEST_SHARE * area < filled < _LARGEST_SHARE * area or len(hull) < 4:
            continue
        quad = np.asarray(cv2.approxPolyN(hull, 4), dtype=np.float64).reshape(-1, 2)
        if len(quad) != 4 or filled < _FILLED * abs(cv2.contourArea(quad.astype(np.float32))):
            continue
        quad = clockwise(quad)
        quads.append(np.roll(quad, -int(quad.sum(axis=1).argmin()), axis=0))
    return quads
