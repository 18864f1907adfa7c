"""The step of a profile to a fraction of a sample: smoothed derivative, and the peak of its logarithm."""

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

# Samples of the smoothing kernel to either side of its middle.
REACH = 3


def slope_kernel(sigma: float) -> Array:
    """Return the kernel, (2 REACH + 1,), of a derivative smoothed by a Gaussian of so many samples."""
    x = np.arange(-REACH, REACH + 1, dtype=np.float64)
    kernel = x * np.exp(-0.5 * (x / sigma) ** 2)
    return np.asarray(kernel / np.sum(kernel * x))


def derivative(colours: Array, kernel: Array) -> Array:
    """Return the derivative across, (N, M - 2 REACH, 3), of profiles, (N, M, 3), by a `slope_kernel`."""
    count = colours.shape[1] - 2 * REACH
    result = np.zeros((colours.shape[0], count, colours.shape[2]))
    for index, weight in enumerate(kernel):
        if weight:
            result += weight * colours[:, index : index + count]
    return result


def log_peak(
    around: tuple[Array, Array, Array], clear: NDArray[np.bool_], *, floor: float, least_bend: float
) -> tuple[Array, Array]:
    """Return where the peak of a derivative is, by a parabola through the logarithm of three samples.

    Parameters
    ----------
    around : three (N,) arrays
        The derivative before, at and after the highest sample.
    clear : (N,) bool array
        Which of them may be peaks.
    floor : float
        Least value that a logarithm is taken of, in units of the derivative.
    least_bend : float
        By how much, at least, the logarithm bends at a peak.

    Returns
    -------
    shift : (N,) array
        From the highest sample, in samples; NaN where there is no peak.
    bend : (N,) array
        Second difference of the logarithm, below zero; -1 where there is no peak.

    Notes
    -----
    Exact for a step blurred by a Gaussian; a parabola through the values themselves is biased by up to a
    sixth of a sample.
    """
    before, at, after = around
    logs = [np.log(np.maximum(value, floor)) for value in around]
    bend = logs[0] - 2.0 * logs[1] + logs[2]
    peaked = clear & (bend < -least_bend) & (at >= before) & (at >= after) & (at > 1e-3)
    safe = np.where(peaked, bend, -1.0)
    shift = np.clip(0.5 * (logs[0] - logs[2]) / safe, -0.6, 0.6)
    return np.where(peaked, shift, np.nan), safe
