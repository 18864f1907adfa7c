"""Mean and spread of the parts behind measured lengths, without measurement uncertainty."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import brentq
from scipy.special import chdtri

from references.errors import SampleError

Array = NDArray[np.float64]

UPPER_CONFIDENCE = 0.95


@dataclass(frozen=True, slots=True)
class Spread:
    """Mean and standard deviation of a release's parts.

    Attributes
    ----------
    mean_mm, mean_std_mm : float
        Mean and its standard uncertainty.
    sd_mm : float
        Standard deviation of the parts; 0 where the readings scatter no more than their uncertainty explains.
    sd_upper_mm : float
        One-sided 95 % upper limit of it.
    seen_sd_mm : float
        Standard deviation of the readings as they are.
    reading_std_mm : float
        Typical standard uncertainty of the readings (root mean square).
    examples : int
    degrees_of_freedom : float
        Of ``sd_mm``; the readings' uncertainty reduces them.
    """

    mean_mm: float
    mean_std_mm: float
    sd_mm: float
    sd_upper_mm: float
    seen_sd_mm: float
    reading_std_mm: float
    examples: int
    degrees_of_freedom: float


def estimate_spread(values_mm: Sequence[float], stds_mm: Sequence[float]) -> Spread:
    """Estimate mean and spread of the parts from readings with uncertainties.

    Parameters
    ----------
    values_mm, stds_mm : sequence of float
        Readings and their standard uncertainties, one per example.

    Returns
    -------
    Spread

    Raises
    ------
    SampleError
        With fewer than two readings, or a value that is not finite.

    Notes
    -----
    A reading scatters with variance sd^2 + u_i^2. The variance of the parts is the one for which the weighted
    squares add up to their expectation, n - 1. Its upper limit is where they reach the 5 % quantile of
    chi-square. With u = 0 this is the ordinary standard deviation.

    References
    ----------
    Paule and Mandel, J. Res. NBS 87 (1982) 377; Viechtbauer, Statistics in Medicine 26 (2007) 37.
    """
    values, stds = np.asarray(values_mm, dtype=float), np.asarray(stds_mm, dtype=float)
    if values.size < 2 or values.size != stds.size:
        raise SampleError(f"{values.size} examples give no spread; at least two lengths are needed")
    if not (np.isfinite(values).all() and np.isfinite(stds).all() and (stds >= 0).all()):
        raise SampleError("a length or its uncertainty is not a finite number")
    count = values.size
    seen = float(values.std(ddof=1))
    typical = float(np.sqrt((stds**2).mean()))
    variance = _variance_where(values, stds, count - 1)
    upper = _variance_where(values, stds, float(chdtri(count - 1, UPPER_CONFIDENCE)))
    weights = _weights(variance, stds, seen)
    mean = float(weights @ values / weights.sum())
    freedom = (count - 1) * (variance / (variance + typical**2)) ** 2 if variance > 0 else 0.0
    return Spread(
        mean_mm=mean,
        mean_std_mm=float(weights.sum() ** -0.5),
        sd_mm=math.sqrt(variance),
        sd_upper_mm=math.sqrt(upper),
        seen_sd_mm=seen,
        reading_std_mm=typical,
        examples=count,
        degrees_of_freedom=freedom,
    )


def _weights(variance: float, stds: Array, seen: float) -> Array:
    floor = max(1e-12, (1e-6 * seen) ** 2)
    return np.asarray(1 / np.maximum(variance + stds**2, floor))


def _variance_where(values: Array, stds: Array, target: float) -> float:
    """Return the variance of the parts for which the weighted squares equal a target, or 0."""
    seen = float(values.std(ddof=1))

    def surplus(variance: float) -> float:
        weights = _weights(variance, stds, seen)
        mean = weights @ values / weights.sum()
        return float(weights @ (values - mean) ** 2) - target

    if seen == 0 or surplus(0.0) <= 0:
        return 0.0
    top = seen**2
    while surplus(top) > 0:
        top *= 4
    return float(brentq(surplus, 0.0, top, xtol=1e-14, rtol=1e-12))  # type: ignore[no-untyped-call]
