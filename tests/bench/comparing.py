"""Compares a found outline with the true one."""

import numpy as np
from numpy.typing import ArrayLike

from calibration.cards import FoundCard
from calibration.objects import ReferenceObject

SAME_BY_PROPORTIONS = {"trading-metric": "trading"}


def cyclic_error_px(found: ArrayLike, truth: ArrayLike) -> float:
    """Largest distance between corresponding corners, over all starts and both senses."""
    found, truth = np.asarray(found, float), np.asarray(truth, float)
    orders = [np.roll(q, k, axis=0) for q in (found, found[::-1]) for k in range(4)]
    return float(min(np.linalg.norm(q - truth, axis=1).max() for q in orders))


def area_px2(corners: ArrayLike) -> float:
    """Area of a polygon."""
    x, y = np.asarray(corners, float).T
    return float(abs(np.sum(x * np.roll(y, -1) - y * np.roll(x, -1))) / 2)


def log_scale_error(found_card: FoundCard, truth_px: np.ndarray, truth_object: ReferenceObject) -> float:
    """ln of the stated scale over the true one, by the areas."""
    stated = found_card.object.width_mm * found_card.object.height_mm / area_px2(found_card.corners_px)
    true = truth_object.width_mm * truth_object.height_mm / area_px2(truth_px)
    return float(0.5 * np.log(stated / true))


def stated_log_scale_std(found_card: FoundCard) -> float:
    """Standard uncertainty of ln(scale) by the stated covariance of the corners and of the object's size."""
    corners = np.asarray(found_card.corners_px, float)
    x, y = corners.T
    slope = np.empty(8)
    slope[0::2] = (np.roll(y, -1) - np.roll(y, 1)) / 2
    slope[1::2] = (np.roll(x, 1) - np.roll(x, -1)) / 2
    area = area_px2(corners)
    variance = slope @ np.asarray(found_card.corners_cov_px2) @ slope / area**2 / 4
    kind = found_card.object
    size = (kind.width_std_mm / kind.width_mm) ** 2 + (kind.height_std_mm / kind.height_mm) ** 2
    return float(np.sqrt(variance + size / 4))


def same_kind(one: str, other: str) -> bool:
    """Whether two kinds are the same, or cannot be told apart by proportions."""
    return SAME_BY_PROPORTIONS.get(one, one) == SAME_BY_PROPORTIONS.get(other, other)
