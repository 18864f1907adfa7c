"""Square things on a tilted table, drawn as segments: which plane makes their corners square."""

import numpy as np
import pytest

from calibration.cards.features.right_angles import RightAngles
from calibration.cards.proposals.segments import Segments
from calibration.image.pyramid import Pyramid
from calibration.objects import ID1
from tests.synthetic.one_card import FOCAL_PX, HEIGHT_PX, WIDTH_PX, camera, corners_of, project

VIEW = {"tilt_deg": 35.0, "turn_deg": 20.0, "distance_mm": 420.0}
CAMERA = camera(0.25)
PYRAMID = Pyramid.of(np.zeros((HEIGHT_PX, WIDTH_PX, 3), np.uint8), largest_px=WIDTH_PX)


def square_things(angle_deg=90.0):
    """Outlines of things that lie about a bank card, whose corners have this angle."""
    ends = []
    for at_mm, turn_deg in (((-60.0, 10.0), 25.0), ((125.0, 20.0), 70.0), ((30.0, 95.0), 10.0)):
        turns = np.radians([turn_deg, turn_deg + angle_deg])
        one, other = (30.0 * np.array([np.cos(turn), np.sin(turn)]) for turn in turns)
        corners = at_mm + np.array([0.0 * one, one, one + other, other])
        seen = project(ID1, corners, **VIEW)
        ends += [[seen[k], seen[(k + 1) % 4]] for k in range(4)]
    return Segments(np.array(ends), np.ones(len(ends)))


def log_likelihood_ratio(corners_px, things=None, focal_px=FOCAL_PX):
    things = square_things() if things is None else things
    return RightAngles.of(PYRAMID, things, CAMERA).log_likelihood_ratio(corners_px, CAMERA, focal_px)


def test_on_the_cards_own_plane_other_things_are_about_as_square_as_on_any():
    assert log_likelihood_ratio(corners_of(ID1, **VIEW)) > -1.5


@pytest.mark.parametrize("tilt_deg", [0.0, 15.0, 60.0])
def test_on_a_plane_of_another_tilt_they_are_not(tilt_deg):
    assert log_likelihood_ratio(corners_of(ID1, **VIEW | {"tilt_deg": tilt_deg})) < -10.0


def test_a_rectangle_that_takes_another_focal_length_makes_them_less_square():
    # The same outline, were the picture taken with twice the focal length, lies on another plane.
    assert log_likelihood_ratio(corners_of(ID1, **VIEW), focal_px=2.0 * FOCAL_PX) < -5.0


def test_things_that_are_not_square_tell_little_of_the_plane():
    corners = corners_of(ID1, **VIEW)
    assert log_likelihood_ratio(corners, square_things(60.0)) < log_likelihood_ratio(corners) - 5.0


def test_an_outline_is_not_judged_by_what_lies_within_it():
    around = project(ID1, np.array([[-150.0, -60], [250, -60], [250, 200], [-150, 200]]), **VIEW)
    assert log_likelihood_ratio(around) == 0.0


def test_nothing_else_in_the_picture_tells_nothing():
    assert log_likelihood_ratio(corners_of(ID1, **VIEW), Segments(np.zeros((0, 2, 2)), np.zeros(0))) == 0.0
