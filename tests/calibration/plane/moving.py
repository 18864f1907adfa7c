"""A plane as errors of its inputs move it, one at a time: a second method."""

from collections.abc import Callable
from dataclasses import replace

import numpy as np
from numpy.typing import ArrayLike

from calibration.plane import Plane, projection
from calibration.plane.metric_plane import with_parameters


def moved(plane: Plane, index: int, step: float) -> Plane:
    """Return the plane with one of its `error_sources` changed by `step` standard uncertainties."""
    change = step * plane.sensitivity_matrix[:, index]
    middle = np.array([*plane.centre_mm, 0.0])
    parameters, base = projection.follow(plane.parameters, plane.base, change, middle)
    parameters[projection.ROTATION] = 0.0
    return with_parameters(replace(plane, base=base), parameters)


def sensitivity(plane: Plane, function: Callable[[Plane], ArrayLike]) -> np.ndarray:
    """Return the change of a value per standard uncertainty of each input, by central differences."""
    pairs = [
        (function(moved(plane, index, 1.0)), function(moved(plane, index, -1.0)))
        for index in range(len(plane.error_sources))
    ]
    return np.array([(np.asarray(up) - np.asarray(down)) / 2.0 for up, down in pairs])
