"""Whether readings of one length agree within their uncertainties."""

from collections.abc import Sequence

import numpy as np
from scipy.special import chdtrc


def chance_of_scatter(values: Sequence[float], stds: Sequence[float]) -> float:
    """Return how often readings of one quantity scatter as much as these, or more, by chance alone.

    Parameters
    ----------
    values, stds : sequence of float
        Readings and their whole standard uncertainties, above 0, in one unit.

    Returns
    -------
    float
        1 for a single reading.

    Notes
    -----
    The weighted squares about the weighted mean are chi-squared with m - 1 degrees of freedom; the Birge
    ratio is the root of their quotient. The readings count as independent: what they share cancels between
    them, so that readings are called contradictory too rarely rather than too often.

    References
    ----------
    Birge, Phys. Rev. 40 (1932) 207; Bodnar and Elster, Metrologia 51 (2014) 516.
    """
    if len(values) < 2:
        return 1.0
    reading, weight = np.asarray(values, float), np.asarray(stds, float) ** -2
    mean = float(weight @ reading) / float(weight.sum())
    return float(chdtrc(len(values) - 1, float(weight @ (reading - mean) ** 2)))
