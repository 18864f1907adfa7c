"""How the geometry of a photo may affect a measurement."""

import numpy as np

from calibration.camera import Array
from calibration.cautions import Caution, CautionCode
from calibration.plane import projection
from calibration.plane.metric_plane import Plane

# Beyond 45 degrees, lifting a corner of the card shifts it along the plane as much as across it.
_STEEP_DEG = 45.0
# Corners known to about 0.15 px then give 0.2 % of a side.
_SMALL_PX = 80.0
_VAGUE_LOG_FOCAL = 0.1
_VAGUE_K1 = 0.05


def plane_cautions(plane: Plane, corners_px: Array) -> tuple[Caution, ...]:
    """Return the cautions that follow from how the plane was seen.

    Parameters
    ----------
    plane : Plane
        As fitted.
    corners_px : (N, 2) array
        Points of the reference, in order around it where they are four.
    """
    found = []
    if plane.tilt_deg > _STEEP_DEG:
        found.append(Caution.of(CautionCode.STEEP_PLANE, tilt_deg=plane.tilt_deg))
    across = float(np.min(np.linalg.norm(corners_px - np.roll(corners_px, 1, axis=0), axis=1)))
    if len(corners_px) == 4 and across < _SMALL_PX:
        found.append(Caution.of(CautionCode.SMALL_REFERENCE, across_px=across))
    if plane.log_focal_std > _VAGUE_LOG_FOCAL:
        found.append(Caution.of(CautionCode.VAGUE_FOCAL))
    if float(np.linalg.norm(plane.sensitivity_matrix[projection.DIVISION])) > _VAGUE_K1:
        found.append(Caution.of(CautionCode.VAGUE_LENS))
    return tuple(found)
