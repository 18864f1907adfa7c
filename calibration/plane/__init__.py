"""The metric plane: projection, its fit to what is seen, and what the plane tells."""

from calibration.plane.bundle import CORNERS, Fit, Problem, finish
from calibration.plane.correspondences import (
    SIZE,
    Correspondences,
    check_sight,
    correspondences_of_object,
    facing_as,
)
from calibration.plane.fit import (
    RUNNER_UP_CHI2,
    fit_plane,
    fit_plane_correspondences,
    fit_plane_points,
    plane_of_fit,
    with_runner_up,
)
from calibration.plane.metric_plane import Plane
from calibration.plane.plane_family import (
    PlaneFamily,
    Sightings,
    at_nodes,
    family_over_tilt,
    fit_tilt_ambiguous,
    leaning_to,
    overhead,
    tilt_covariance,
)
from calibration.plane.plumb_lines import PlumbLine
from calibration.plane.solver import from_plane, solve
from calibration.plane.tilt_prior import TILT, TILT_STD_DEG, TiltPrior
from calibration.plane.viewpoint import Viewpoint, mean_viewpoint, viewpoint

__all__ = [
    "CORNERS",
    "RUNNER_UP_CHI2",
    "SIZE",
    "TILT",
    "TILT_STD_DEG",
    "Correspondences",
    "Fit",
    "Plane",
    "PlaneFamily",
    "PlumbLine",
    "Problem",
    "Sightings",
    "TiltPrior",
    "Viewpoint",
    "at_nodes",
    "check_sight",
    "correspondences_of_object",
    "facing_as",
    "family_over_tilt",
    "finish",
    "fit_plane",
    "fit_plane_correspondences",
    "fit_plane_points",
    "fit_tilt_ambiguous",
    "from_plane",
    "leaning_to",
    "mean_viewpoint",
    "overhead",
    "plane_of_fit",
    "solve",
    "tilt_covariance",
    "viewpoint",
    "with_runner_up",
]
