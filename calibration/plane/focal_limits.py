"""How far a card's own perspective can be trusted to tell an unknown focal length."""

import numpy as np

from calibration.camera import Array, Camera
from calibration.plane import projection

# Where the camera states no focal length, its logarithm is this uncertain or more.
_OPEN_LOG_STD = 0.1
# Information about the log of the focal length (one over a variance) at which half of it counts. From
# simulation: at 3° and 300 mm the linear fit claims 6 and has 1; at 6° it claims 39 and has 35.
_HALF_INFORMATION = 30.0
# Where nearly all of it counts, nothing is added.
_NEGLIGIBLE = 0.99


def doubt(camera: Camera, sensitivity_matrix: Array) -> Array | None:
    """Return by how much the fitted focal length is less certain than its linear uncertainty says.

    Parameters
    ----------
    camera : Camera
        As it was before the fit.
    sensitivity_matrix : (10, M) array
        Of the fit, see `calibration.plane.metric_plane.Plane`.

    Returns
    -------
    (10,) array or None
        Change of the parameters per unit of one more independent input: a longer focal length with all that
        goes with it. None where the focal length was stated, or is well determined.

    Notes
    -----
    Foreshortening, without which perspective tells only the product of tilt and focal length, grows with the
    square of the tilt, so that the information grows with its fourth power. Evaluated at a fitted tilt that
    noise made too large, the information is overestimated, most where there is least of it.
    """
    if camera.log_focal_std < _OPEN_LOG_STD:
        return None
    row = sensitivity_matrix[projection.LOG_FOCAL]
    fitted = float(row @ row)
    before = 1.0 / camera.log_focal_std**2
    gained = max(1.0 / fitted - before, 0.0)
    believed = before + gained * gained / (gained + _HALF_INFORMATION)
    if believed > _NEGLIGIBLE / fitted:
        return None
    along = sensitivity_matrix @ row / fitted
    return np.asarray(along * np.sqrt(max(1.0 / believed - fitted, 0.0)))
