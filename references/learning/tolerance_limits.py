"""Statistics of ranges: what n measured examples say about all parts of a release."""

import math
from collections.abc import Callable
from functools import lru_cache

import numpy as np
from scipy.optimize import brentq
from scipy.special import chdtrc, chndtrix, stdtrit

from references.errors import SampleError

MOST_EXAMPLES = 1000
_REACH = 8.0
_NODES = 321


def _root(function: Callable[[float], float], low: float, high: float) -> float:
    return float(brentq(function, low, high, xtol=1e-10))  # type: ignore[no-untyped-call]


@lru_cache(maxsize=512)
def tolerance_factor(
    examples: float, content: float, confidence: float, *, degrees_of_freedom: float | None = None
) -> float:
    """Return the exact factor k of the two-sided normal statistical tolerance interval mean -/+ k s.

    Parameters
    ----------
    examples : float
        Number of examples behind the mean; need not be whole where the mean carries measurement uncertainty.
    content : float
        Share of all parts that the interval is to hold.
    confidence : float
        Confidence that it does.
    degrees_of_freedom : float, optional
        Of the standard deviation; by default one less than the examples.

    Returns
    -------
    float
        In standard deviations, above 0.

    Raises
    ------
    SampleError
        With fewer than two examples or less than a thousandth of a degree of freedom.

    Notes
    -----
    Averaged over the error x of the mean, in standard deviations, the chance that the interval holds the
    content is P(chi2_nu >= nu r(x)^2 / k^2), where r(x) is the half-width around x that holds the content:
    r^2 is the quantile of a noncentral chi-square with one degree of freedom and noncentrality x^2.

    References
    ----------
    ISO 16269-6:2014, the case of unknown mean and standard deviation.
    """
    freedom = examples - 1 if degrees_of_freedom is None else degrees_of_freedom
    if examples <= 0 or freedom < 1e-3 or not (0 < content < 1 and 0 < confidence < 1):
        raise SampleError(f"{examples:g} examples give no tolerance interval; at least two are needed")
    x = np.linspace(0.0, _REACH, _NODES) / math.sqrt(examples)
    weights = np.exp(-0.5 * examples * x * x)
    weights[0] /= 2
    weights /= weights.sum()
    squared = chndtrix(content, 1.0, x * x)

    def surplus(log_k: float) -> float:
        return float(weights @ chdtrc(freedom, freedom * squared * math.exp(-2 * log_k))) - confidence

    return math.exp(_root(surplus, math.log(0.01), math.log(1e9)))


def prediction_factor(examples: float, content: float, *, degrees_of_freedom: float | None = None) -> float:
    """Return the factor of the interval that one more example falls into: t sqrt(1 + 1/n)."""
    freedom = examples - 1 if degrees_of_freedom is None else degrees_of_freedom
    return float(stdtrit(freedom, (1 + content) / 2)) * math.sqrt(1 + 1 / examples)


def extremes_confidence(examples: int, content: float) -> float:
    """Return the confidence that smallest to largest of n examples holds the content of all parts.

    References
    ----------
    Wilks, Annals of Mathematical Statistics 12 (1941) 91; needs no distribution.
    """
    return 1 - examples * content ** (examples - 1) + (examples - 1) * content**examples


def examples_for_extremes(content: float, confidence: float) -> int:
    """Return how many examples are needed for smallest to largest to hold the content with the confidence."""
    examples = 2
    while extremes_confidence(examples, content) < confidence:
        examples += 1
    return examples


def examples_to_separate(
    gap: float, first_sd: float, second_sd: float, *, content: float = 0.95, confidence: float = 0.95
) -> int | None:
    """Return how many examples of each of two releases keep their tolerance intervals apart.

    Parameters
    ----------
    gap : float
        Distance of the two means.
    first_sd, second_sd : float
        Standard deviations of the parts, in the same unit.
    content, confidence : float
        Of the tolerance intervals.

    Returns
    -------
    int or None
        None where the releases themselves overlap, or more than `MOST_EXAMPLES` are needed.
    """
    factor = gap / (first_sd + second_sd)
    if factor <= tolerance_factor(MOST_EXAMPLES, content, confidence):
        return None
    low, high = 1, MOST_EXAMPLES
    while high - low > 1:
        middle = (low + high) // 2
        if tolerance_factor(middle, content, confidence) <= factor:
            high = middle
        else:
            low = middle
    return high
