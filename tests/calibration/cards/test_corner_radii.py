"""Corners of drawn figures whose radius is known."""

import cv2
import numpy as np
import pytest

from calibration.cards.features.corner_radii import radius_margins
from calibration.image.pyramid import Pyramid
from calibration.objects import ID1

PX_PER_MM, AT_PX = 6.0, 80.0
SHIFT = 4


def card(radius_mm, inside=(60, 160, 200), outside=(150, 140, 130)):
    """An upright bank card with corners of this radius, its sharp corners, and its blur in px."""
    width, height, radius = (PX_PER_MM * value for value in (ID1.width_mm, ID1.height_mm, radius_mm))
    turn = np.radians(np.arange(0.0, 90.0, 3.0))
    arc = radius * np.stack([1.0 - np.cos(turn), 1.0 - np.sin(turn)], axis=1)
    parts = [
        arc,
        [width, 0.0] + arc[::-1] * [-1, 1],
        [width, height] - arc,
        [0.0, height] + arc[::-1] * [1, -1],
    ]
    outline = np.concatenate(parts) + AT_PX
    size = (int(height + 2 * AT_PX), int(width + 2 * AT_PX), 3)
    picture = np.full(size, outside, np.uint8)
    points = np.int32(np.round(outline * 2**SHIFT))
    cv2.fillPoly(picture, [points], inside, cv2.LINE_AA, SHIFT)
    sharp = np.array([[0.0, 0.0], [width, 0.0], [width, height], [0.0, height]]) + AT_PX
    return Pyramid.of(cv2.GaussianBlur(picture, (0, 0), 1.0)), sharp


def test_no_other_radius_suits_a_bank_card_better():
    assert radius_margins(*card(ID1.corner_radius_mm), ID1, 1.0).max() < 0.01


@pytest.mark.parametrize("radius_mm", [0.0, 1.2, 6.5, 9.0])
def test_another_radius_is_seen_to_suit_better(radius_mm):
    assert radius_margins(*card(radius_mm), ID1, 1.0).min() > 0.5


def test_the_colours_do_not_matter():
    pyramid, corners = card(6.5, inside=(150, 140, 130), outside=(60, 160, 200))
    same = radius_margins(*card(6.5), ID1, 1.0)
    assert radius_margins(pyramid, corners, ID1, 1.0) == pytest.approx(same, rel=0.05)


def test_a_corner_without_any_edge_says_nothing():
    corners = np.array([[100.0, 100.0], [400.0, 100.0], [400.0, 290.0], [100.0, 290.0]])
    pyramid = Pyramid.of(np.full((400, 500, 3), 128, np.uint8))
    assert radius_margins(pyramid, corners, ID1, 1.0) == pytest.approx(np.zeros(4), abs=1e-9)
