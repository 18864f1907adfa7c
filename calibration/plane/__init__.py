"""The metric plane: projection, its fit to what is seen, and what the plane tells."""

from calibration.plane.bundle import CORNERS, Fit, Problem, finish
from calibration.plane.correspondences import SIZE, Target, check_sight, facing_as, target_from_object
from calibration.plane.fit import (
    RIVAL_CHI2,
    fit_plane,
    fit_plane_points,
    fit_plane_targets,
    plane_of_fit,
    with_rival,
)
from calibration.plane.metric_plane import Plane
from calibration.plane.plane_family import (
    PlaneFamily,
    Sightings,
    at_nodes,
    family_over_tilt,
    fit_weak,
    leaning_to,
    overhead,
    tilt_covariance,
)
from calibration.plane.plumb_lines import StraightLine
from calibration.plane.solver import from_plane, solve
from calibration.plane.tilt_prior import TILT, TILT_STD_DEG, TiltPrior
from calibration.plane.viewpoint import Viewpoint, mean_viewpoint, viewpoint

__all__ = [
    "CORNERS",
    "RIVAL_CHI2",
    "SIZE",
    "TILT",
    "TILT_STD_DEG",
    "Fit",
    "Plane",
    "PlaneFamily",
    "Problem",
    "Sightings",
    "StraightLine",
    "Target",
    "TiltPrior",
    "Viewpoint",
    "at_nodes",
    "check_sight",
    "facing_as",
    "family_over_tilt",
    "finish",
    "fit_plane",
    "fit_plane_points",
    "fit_plane_targets",
    "fit_weak",
    "from_plane",
    "leaning_to",
    "mean_viewpoint",
    "overhead",
    "plane_of_fit",
    "solve",
    "target_from_object",
    "tilt_covariance",
    "viewpoint",
    "with_rival",
]
