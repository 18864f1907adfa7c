"""The error of a stand-off, which all lengths of a part share in whatever photo."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from references.inference.finding import Reading

Array = NDArray[np.float64]

_NODES, _WEIGHTS = np.polynomial.hermite_e.hermegauss(21)
_WEIGHTS = _WEIGHTS / _WEIGHTS.sum()
STANDOFF_NODES = _NODES.size


def with_standoff(readings: Sequence[Reading], shifts_mm: Array) -> Array:
    """Add the stand-off's error to the shared errors of readings of one part.

    Parameters
    ----------
    readings : sequence of Reading
        M readings.
    shifts_mm : (M, N) array
        Their shared errors at the nodes of the photos.

    Returns
    -------
    (M, 21 N) array
        At each node of the photos, the nodes of the stand-off (Gauss and Hermite's rule) one after the other.
        The effect of a stand-off has the same sign for all lengths that lie flat at it: too high a camera's
        side makes each too short.
    """
    stds_mm = np.array([reading.standoff_std_mm for reading in readings])
    shifts = shifts_mm[:, :, None] + stds_mm[:, None, None] * _NODES
    return np.asarray(shifts.reshape(len(readings), -1))


def over_standoff(likelihood: Array) -> Array:
    """Integrate the likelihood of a part's findings over the error of its stand-off.

    Parameters
    ----------
    likelihood : (K, S, 21 N) array
        At the nodes of `with_standoff`.

    Returns
    -------
    (K, S, N) array
    """
    *shape, nodes = likelihood.shape
    return np.asarray(likelihood.reshape(*shape, nodes // _NODES.size, _NODES.size) @ _WEIGHTS)
