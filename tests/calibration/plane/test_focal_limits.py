"""How far perspective is believed about an unknown focal length."""

from dataclasses import replace

import numpy as np
import pytest

from calibration.camera.prior import Camera
from calibration.plane import projection
from calibration.plane.focal_limits import doubt

CAMERA = Camera(4032, 3024, 3000.0, 0.03, (2016.0, 1512.0), 40.0)


def test_hardly_any_tilt_tells_nothing_of_an_unknown_focal_length() -> None:
    """Simulated: seen from 3° off, the fitted focal length says no more than was known before."""
    open_camera = replace(CAMERA, log_focal_std=0.25)
    for gained, kept in ((6.0, 0.97), (40.0, 0.65), (2000.0, 0.1)):
        sensitivity_matrix = np.zeros((10, 3))
        sensitivity_matrix[projection.LOG_FOCAL, 0] = (1.0 / (16.0 + gained)) ** 0.5
        more = doubt(open_camera, sensitivity_matrix)
        assert more is not None
        whole = float(np.hypot(sensitivity_matrix[projection.LOG_FOCAL, 0], more[projection.LOG_FOCAL]))
        assert whole / 0.25 == pytest.approx(kept, abs=0.06)
    assert doubt(replace(CAMERA, log_focal_std=0.03), np.ones((10, 2))) is None
