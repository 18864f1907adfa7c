"""Calibration against OpenCV's own chessboard photographs.

Source: left01..left14.jpg of OpenCV's sample data, packaged by Debian (opencv-doc 4.6.0+dfsg-12, Apache-2.0
and BSD-3-Clause), 640 x 480, 9 x 6 inner corners; with them comes left_intrinsics.yml, made by OpenCV's
calibration sample: fx 535.916, cx 342.283, cy 235.571, k1 -0.2664, residual 0.39259 px. The corners in
opencv_left_corners.json are those that this project's finder gave on the 13 photos (November 2026).
"""

import json
from pathlib import Path

import cv2
import numpy as np
import pytest

from calibration.errors import ProfileError
from calibration.image.photo import read_photo
from calibration.lens_profiles.boards import BoardView, chessboard_view
from calibration.lens_profiles.calibrate import calibrate, learn_profile, shortcomings
from tests.real_photos.manifest import lacking_files, path_of

HERE = Path(__file__).parent
SIZE = (640, 480)


def views():
    x, y = np.meshgrid(np.arange(9.0), np.arange(6.0))
    board = np.column_stack([x.ravel(), y.ravel()])
    corners = json.loads((HERE / "opencv_left_corners.json").read_text())
    return [BoardView(name, board, np.array(points)) for name, points in corners.items()]


@pytest.fixture(scope="module")
def fit():
    return calibrate(views(), SIZE, 0)


def test_the_focal_length_is_the_published_one_within_what_the_corner_window_moves_it(fit):
    """Changing the corner window alone moves fx by 3.2 px on these photos (own finding, see the module)."""
    assert fit.matrix[0, 0] == pytest.approx(535.916, abs=3.2)
    assert fit.matrix[:2, 2] == pytest.approx([342.283, 235.571], abs=2.0)


def test_the_residual_is_less_than_half_of_the_published_one(fit):
    assert fit.rms_px < 0.39259 / 2
    assert fit.rms_px == pytest.approx(0.178, abs=0.003)  # independently computed with another corner finder


def test_each_photo_fits_alike(fit):
    assert fit.per_view_px.max() < 2.0 * np.median(fit.per_view_px)


def test_the_lens_puts_the_frames_points_where_the_published_one_does(fit):
    """Rays of both calibrations, in the part of the frame that the boards covered."""
    published = np.array([[535.916, 0, 342.283], [0, 535.916, 235.571], [0, 0, 1]])
    lens = np.array([-0.26637, -0.03859, 0.0017832, -0.00028122, 0.23839])
    points = np.array([[200.0, 120.0], [500.0, 100.0], [520.0, 380.0], [200.0, 350.0]]).reshape(-1, 1, 2)
    ours = cv2.undistortPoints(points, fit.matrix, fit.distortion).reshape(-1, 2)
    theirs = cv2.undistortPoints(points, published, lens).reshape(-1, 2)
    span = lambda rays: np.linalg.norm(rays[1:] - rays[:-1], axis=1)  # noqa: E731
    assert span(ours) == pytest.approx(span(theirs), rel=0.008)


def test_the_set_is_refused_as_a_profile_because_it_leaves_half_the_frame_unseen():
    """In these photos the board never reaches the frame's left corners: 48 and 52 % of the half diagonal."""
    lacks = shortcomings(views(), *SIZE)
    assert [text for text in lacks if "left" in text] == lacks
    with pytest.raises(ProfileError, match="upper left"):
        learn_profile(views(), *SIZE)


@pytest.mark.parametrize("name", ["left03", "left12"])
def test_the_finder_gives_these_corners(name):
    file = f"photos/opencv_{name}.jpg"
    if why := lacking_files(file):
        pytest.skip(why)
    found = chessboard_view(read_photo(path_of(file)), 9, 6)
    assert isinstance(found, BoardView)
    stored = json.loads((HERE / "opencv_left_corners.json").read_text())[f"{name}.jpg"]
    assert found.points_px == pytest.approx(np.array(stored), abs=0.02)
