"""Corners given by hand: in any order, and with width and height exchanged."""

from itertools import permutations

import numpy as np
import pytest

from calibration.cards import refine_corners
from calibration.objects import ID1, object_from_key
from tests.synthetic.one_card import camera, corners_of, photo_of

PHOTO, CORNERS = photo_of(ID1)


@pytest.mark.parametrize("order", list(permutations(range(4)))[::3])
def test_in_whatever_order_corners_are_given_the_outline_and_its_width_are_the_same(order):
    plain = refine_corners(PHOTO, CORNERS, ID1, camera=camera())
    card = refine_corners(PHOTO, CORNERS[list(order)], ID1, camera=camera())
    sides = np.linalg.norm(np.diff(card.corners_px, axis=0), axis=1)
    true = np.linalg.norm(np.diff(plain.corners_px, axis=0), axis=1)
    assert sides[0] == pytest.approx(true[0], rel=0.05) or sides[0] == pytest.approx(true[2], rel=0.05)
    assert card.aspect_error < 0.02


def test_sides_are_exchanged_where_the_other_way_is_a_little_off_and_this_one_far():
    """A bridge card said to be a bank card: off by 2 % one way, by 50 % the other."""
    bridge = object_from_key("bridge")
    corners = np.roll(corners_of(bridge), -1, axis=0)
    card = refine_corners(photo_of(bridge)[0], corners, ID1, camera=camera(), corner_std_px=0.2)
    assert card.aspect_error < 0.05
