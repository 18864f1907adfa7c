"""Edges along a curve: positions of the colour steps, measured across it at many points."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from calibration.edges.straight import sample
from calibration.edges.sub_pixel import REACH, derivative, log_peak, slope_kernel

Array = NDArray[np.float64]
Pixels = NDArray[np.uint8]

# Smoothing of the derivative, px.
SIGMA_PX = 1.0


@dataclass(frozen=True, slots=True, eq=False)
class Places:
    """The strongest step across each point of a curve.

    Attributes
    ----------
    offset_px : (N,) array
        Where it is along the normal; NaN where there is none.
    height : (N,) array
        Derivative at the step, grey levels per px.
    blur_px : (N,) array
        Standard deviation of the blur across it.
    """

    offset_px: Array
    height: Array
    blur_px: Array

    @property
    def seen(self) -> NDArray[np.bool_]:
        """Which points have a usable step: at least a quarter of the typical height."""
        found = np.isfinite(self.offset_px)
        if not found.any():
            return np.asarray(found)
        return np.asarray(found & (self.height > max(0.25 * float(np.median(self.height[found])), 0.5)))


def steps_across(pixels: Pixels, points_px: Array, normals: Array, *, search_px: float) -> Places:
    """Find the strongest colour step along each normal, to a fraction of a pixel.

    Parameters
    ----------
    pixels : (H, W, 3) array
        The photo.
    points_px, normals : (N, 2) arrays
        Points on the curve, and the unit normals along which to look.
    search_px : float
        How far to either side.

    Notes
    -----
    The peak of the Gaussian-smoothed derivative, by a parabola through its logarithm, which is exact for a
    step blurred by a Gaussian. The colour steps are projected, with their sign, on their direction:
    the running mean over neighbouring points, so that an opposite step nearby has no influence.
    """
    step = max(0.5, min(1.0, search_px / 4.0)) * SIGMA_PX
    half = int(np.ceil(search_px / step)) + 1
    offsets = np.arange(-half - REACH, half + REACH + 1) * step
    colours = sample(pixels, points_px[:, None] + offsets[None, :, None] * normals[:, None])
    gradient = _signed(derivative(colours, slope_kernel(SIGMA_PX / step)) / step)
    return _peaks(gradient, half, step)


def _signed(slopes: Array) -> Array:
    strength = np.linalg.norm(slopes, axis=2)
    rows = np.arange(len(slopes))
    strongest = slopes[rows, strength.argmax(axis=1)]
    window = max(3, len(slopes) // 12) | 1
    padded = np.pad(strongest, ((window // 2, window // 2), (0, 0)), mode="wrap")
    kernel = np.ones(window) / window
    mean = np.stack([np.convolve(padded[:, c], kernel, mode="valid") for c in range(3)], axis=1)
    norm = np.linalg.norm(mean, axis=1)
    # If neighbours disagree about the sign there is no direction to project on: take the magnitude.
    agreed = norm > 0.3 * np.linalg.norm(strongest, axis=1)
    direction = mean / np.maximum(norm, 1e-9)[:, None]
    projected = np.einsum("nmc,nc->nm", slopes, direction)
    return np.asarray(np.where(agreed[:, None], projected, strength))


def _peaks(gradient: Array, half: int, step: float) -> Places:
    rows = np.arange(len(gradient))
    peak = np.clip(gradient[:, 1:-1].argmax(axis=1) + 1, 1, gradient.shape[1] - 2)
    before, at, after = (np.maximum(gradient[rows, peak + d], 1e-6) for d in (-1, 0, 1))
    every = np.full(len(gradient), True)
    shift, bend = log_peak((before, at, after), every, floor=1e-6, least_bend=1e-6)
    width2 = step**2 / -bend - SIGMA_PX**2
    return Places((peak - half + shift) * step, at, np.sqrt(np.maximum(width2, 0.0)))


def edge_direction(pixels: Pixels, point_px: Array, across: Array, *, reach_px: float) -> Array | None:
    """Return the direction of the strongest edge beside a point.

    Parameters
    ----------
    pixels : (H, W, 3) array
        The photo.
    point_px, across : (2,) arrays
        The point, and roughly the direction across the edge; edges more than 45° from that are ignored.
    reach_px : float
        Radius of the neighbourhood examined.

    Returns
    -------
    (2,) array or None
        Unit vector along the edge, of either sign; None where there is no edge, or none of one direction.

    Notes
    -----
    Principal axis of the gradients near the point (structure tensor, Förstner and Gülch 1987).
    """
    reach = int(np.ceil(reach_px))
    grid = np.stack(np.meshgrid(np.arange(-reach, reach + 1.0), np.arange(-reach, reach + 1.0)), axis=-1)
    colours = sample(pixels, grid + point_px)
    gy, gx = np.gradient(colours, axis=(0, 1))
    strongest = np.argmax(gx**2 + gy**2, axis=2)[..., None]
    gx, gy = (np.take_along_axis(g, strongest, axis=2)[..., 0] for g in (gx, gy))
    unit = across / max(float(np.linalg.norm(across)), 1e-9)
    strength = np.hypot(gx, gy)
    aligned = np.abs(gx * unit[0] + gy * unit[1]) > 0.7 * strength
    near = np.exp(-0.5 * (np.linalg.norm(grid, axis=-1) / (0.6 * reach_px)) ** 2)
    weight = near * aligned
    xx, xy, yy = (float(np.sum(weight * one * other)) for one, other in ((gx, gx), (gx, gy), (gy, gy)))
    tensor = np.array([[xx, xy], [xy, yy]])
    values, vectors = np.linalg.eigh(tensor)
    if values[1] < 1.0 or values[0] > 0.5 * values[1]:
        return None
    return np.asarray(vectors[:, 0])
