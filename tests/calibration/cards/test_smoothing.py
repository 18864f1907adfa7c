"""Print smoothed away, and regions that stand out: what holds of flat figures drawn exactly."""

import cv2
import numpy as np
import pytest

from calibration.cards.proposals.smoothing import (
    amplified_contrast,
    contrasting_regions,
    without_bright_print,
    without_dark_print,
)


def half_plane(angle_deg, low=60, high=200):
    """A picture, dark on one side of a line through its middle and bright on the other."""
    y, x = np.mgrid[-40:41, -40:41]
    angle = np.radians(angle_deg)
    side = x * np.cos(angle) + y * np.sin(angle) > 0
    return np.where(side[..., None], high, low).astype(np.uint8).repeat(3, axis=2)


@pytest.mark.parametrize("angle_deg", [0.0, 20.0, 45.0, 70.0])
@pytest.mark.parametrize("smooth", [without_dark_print, without_bright_print])
def test_a_straight_edge_stays_where_it_is(smooth, angle_deg):
    # Serra 1982: opening and closing by a convex set leave half-planes as they are; the grid of pixels makes
    # single steps of a slanting edge an exception.
    picture = half_plane(angle_deg)
    inner = np.s_[14:-14, 14:-14]
    changed = smooth(picture, 13)[inner] != picture[inner]
    assert changed.any(axis=2).mean() < 0.01


@pytest.mark.parametrize(
    ("smooth", "dark", "bright"),
    [(without_dark_print, 120, 220), (without_bright_print, 30, 120)],
    ids=["closing takes dark print only", "opening takes bright print only"],
)
def test_print_of_one_sense_goes_and_of_the_other_stays(smooth, dark, bright):
    picture = np.full((60, 60, 3), 120, np.uint8)
    picture[10:14], picture[40:44] = 30, 220
    smoothed = smooth(picture, 7)
    assert (smoothed[10:14] == dark).all()
    assert (smoothed[40:44] == bright).all()


def test_a_faint_edge_is_amplified_and_a_slow_change_of_light_is_not():
    x = np.linspace(80, 160, 600)
    picture = np.broadcast_to(x[None, :, None], (400, 600, 3)).astype(np.uint8).copy()
    picture[160:172, 260:276] += 5
    enlarged = amplified_contrast(picture).astype(int)
    step = enlarged[163:169, 264:272].mean() - enlarged[100:120, 264:272].mean()
    assert step == pytest.approx(20.0, abs=3.0)
    assert abs(enlarged[:, 60:-60][:140].mean() - 128.0) < 3.0


def test_a_small_figure_stands_out_from_uneven_ground():
    corners = np.array([[300.0, 200.0], [336.0, 209.0], [330.0, 233.0], [294.0, 224.0]])
    x = np.linspace(90, 160, 900)
    picture = np.broadcast_to(x[None, :, None], (700, 900, 3)).astype(np.uint8).copy()
    cv2.fillPoly(picture, [np.int32(corners)], (150, 120, 175))
    found = contrasting_regions(cv2.GaussianBlur(picture, (0, 0), 0.8))
    apart = min(np.abs(np.roll(quad, k, axis=0) - corners).max() for quad in found for k in range(4))
    assert apart < 3.0


def test_nothing_stands_out_of_an_even_picture():
    assert contrasting_regions(np.full((300, 400, 3), 128, np.uint8)).shape == (0, 4, 2)
