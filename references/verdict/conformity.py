"""Conformity of a measured length with limits, after JCGM 106:2012."""

import math

from scipy.special import ndtr, stdtr


def conformance_probability(
    value: float, std: float, low: float, high: float, *, degrees_of_freedom: float | None = None
) -> float:
    """Return the probability that the true value lies within limits, given a measured one.

    Parameters
    ----------
    value, std : float
        Measured value and its standard uncertainty, above 0, in the unit of the limits.
    low, high : float
        The limits; either may be infinite.
    degrees_of_freedom : float, optional
        Of the standard uncertainty; a t distribution then stands for the normal one.

    Returns
    -------
    float
        From 0 to 1.

    Raises
    ------
    ValueError
        The standard uncertainty isn't above 0 and finite, or the limits are out of order.

    Notes
    -----
    Both tails are computed on their small side, so that a tiny probability keeps its digits.

    References
    ----------
    JCGM 106:2012, 7.3 and 7.4, with a prior that is flat over the uncertainty.
    """
    if not 0 < std < math.inf or low > high:
        raise ValueError(f"standard uncertainty {std} or limits {low} and {high} make no sense")
    upper, lower = (high - value) / std, (low - value) / std
    if lower > 0:
        upper, lower = -lower, -upper
    if degrees_of_freedom is None:
        return float(ndtr(upper) - ndtr(lower))
    return float(stdtr(degrees_of_freedom, upper) - stdtr(degrees_of_freedom, lower))
