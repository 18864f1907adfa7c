"""Learning a camera's lens from photos of a board."""

from calibration.lens_profiles.boards import BoardView, chessboard_view, target_view
from calibration.lens_profiles.calibrate import learn_profile
from calibration.lens_profiles.profile import Profile, ViewResidual, as_stored

__all__ = [
    "BoardView",
    "Profile",
    "ViewResidual",
    "as_stored",
    "chessboard_view",
    "learn_profile",
    "target_view",
]
