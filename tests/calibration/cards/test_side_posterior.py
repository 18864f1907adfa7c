"""Profiles across a card's side, made of light step by step, whose face ends at a known place."""

import numpy as np
import pytest
from scipy.ndimage import gaussian_filter1d

from calibration.cards.geometry.rectangle_view import KindFit
from calibration.cards.refine.corners import RefinedQuad
from calibration.cards.refine.face_edge import FaceOutline, rim_shifts
from calibration.cards.refine.side_cautions import side_cautions
from calibration.cards.refine.side_model import Scan
from calibration.cards.refine.side_posterior import Posterior, SideView, face_posteriors
from calibration.cautions import CautionCode
from calibration.objects import ID1
from tests.synthetic.one_card import camera, corners_of, project
from tests.synthetic.optics import grey_levels, linear_light

THICKNESS_PX, FINE = 7.6, 0.05
FACE, TABLE = (190, 160, 70), (120, 130, 140)


def profile(
    face_px,
    *,
    foot_px=0.0,
    rim=0.7,
    shadow=0.0,
    reach_px=0.0,
    blur_px=0.8,
    halo=0.0,
    stripe=None,
    print_px=None,
):
    """A scan whose face ends at `face_px`, and whose print ends at `print_px`.

    The shadow falls from the foot as far as `reach_px`.
    """
    x = np.arange(-60.0, 70.0, FINE)
    beyond = x - face_px - foot_px
    light = np.where((x < face_px)[:, None], linear_light(FACE), rim * linear_light(FACE))
    if print_px is not None:
        light[x < print_px] = linear_light((60, 40, 45))
    shade = 1.0 - shadow * np.clip(1.0 - (beyond - reach_px) / 2.0, 0.0, 1.0)
    light = np.where((beyond > 0)[:, None], linear_light(TABLE) * shade[:, None], light)
    if stripe is not None:
        light[(x > stripe) & (x < stripe + 4.0)] = linear_light((30, 30, 200))
    levels = grey_levels(gaussian_filter1d(light, blur_px / FINE, axis=0))
    levels = levels + halo * (levels - gaussian_filter1d(levels, 1.5 / FINE, axis=0))
    reach = 1.7 * THICKNESS_PX + foot_px
    offsets = np.arange(-reach - 6.0, foot_px + 22.0, 0.55)
    seen = np.stack([np.interp(offsets, x, np.clip(levels[:, c], 0, 255)) for c in range(3)], axis=1)
    std = np.full(seen.shape, 1.5)
    return Scan(offsets, np.rint(seen), std, reach, foot_px, 1.6 * THICKNESS_PX)


def settled(scan, own_blur_px=0.8):
    return face_posteriors([SideView(scan, THICKNESS_PX, 0.8, own_blur_px)])[0]


def test_a_clean_edge_stays_where_it_was_fitted():
    found = settled(profile(0.0))
    assert found.mean_px == pytest.approx(0.0, abs=0.1)
    assert found.variance_px2 < 0.15**2


@pytest.mark.parametrize("foot_px", [1.5, 3.0, 6.0])
def test_a_side_fitted_to_the_foot_of_its_rim_moves_to_the_face(foot_px):
    found = settled(profile(-foot_px, foot_px=foot_px))
    assert found.mean_px == pytest.approx(-foot_px, abs=0.25)


def test_a_side_fitted_to_the_end_of_its_shadow_moves_to_the_face():
    found = settled(profile(-8.0, shadow=0.5, reach_px=7.0), own_blur_px=2.0)
    assert found.mean_px == pytest.approx(-8.0, abs=0.3)


def test_sides_judged_together_are_judged_as_each_alone():
    scans = [profile(0.0), profile(-6.0, foot_px=6.0), profile(-8.0, shadow=0.5, reach_px=7.0)]
    together = face_posteriors([SideView(scan, THICKNESS_PX, 0.8, 0.8) for scan in scans])
    for scan, found in zip(scans, together, strict=True):
        alone = settled(scan)
        assert found.mean_px == pytest.approx(alone.mean_px, abs=1e-3)
        assert found.variance_px2 == pytest.approx(alone.variance_px2, rel=1e-2)
        assert found.reduced_chi2 == pytest.approx(alone.reduced_chi2, rel=1e-3)


@pytest.mark.parametrize("halo", [0.3, 1.0])
def test_a_sharpened_edge_is_not_taken_for_a_rim(halo):
    found = settled(profile(0.0, halo=halo))
    assert found.mean_px == pytest.approx(0.0, abs=0.2)


def test_a_rim_that_looks_like_the_face_leaves_both_places_open():
    found = settled(profile(-2.0, foot_px=2.0, rim=1.0))
    assert found.range_px[0] < -1.8
    assert np.sqrt(found.variance_px2) * 2.0 > abs(found.mean_px + 2.0)


def test_another_thing_beside_the_side_is_not_explained_away():
    found = settled(profile(0.0, stripe=12.0))
    assert not found.explained


@pytest.mark.parametrize("foot_px", [0.0, 3.0])
def test_a_printed_frame_near_the_edge_is_not_taken_for_the_face(foot_px):
    found = settled(profile(-foot_px, foot_px=foot_px, print_px=-11.0))
    assert found.explained
    assert found.mean_px == pytest.approx(-foot_px, abs=0.3)


def test_the_foot_is_seen_where_the_pinhole_puts_it():
    # Second method: the middles of the sides, on the face and below it, by the tests' own projection.
    view = {"tilt_deg": 35.0, "turn_deg": 20.0, "distance_mm": 320.0}
    corners = corners_of(ID1, **view)
    w, h = ID1.width_mm, ID1.height_mm
    middles = np.array([[w / 2, 0], [w, h / 2], [w / 2, h], [0, h / 2]])
    foot = project(ID1, np.c_[middles, np.full(4, ID1.thickness_mm)], **view)
    lines = np.roll(corners, -1, axis=0) - corners
    outward = np.stack([lines[:, 1], -lines[:, 0]], axis=1) / np.linalg.norm(lines, axis=1)[:, None]
    wanted = ((foot - project(ID1, middles, **view)) * outward).sum(axis=1)
    fit = KindFit(ID1, False, 0.0, camera().focal_px, 35.0, 0.0, -12.0)
    assert rim_shifts(corners, camera(), fit) == pytest.approx(wanted, abs=0.02)


CLEAR = Posterior(0.0, 0.01, (-0.1, 0.1), 0.1, True)


def beside(*sides):
    corners = np.array([[100.0, 100], [956, 100], [956, 640], [100, 640]])
    return FaceOutline(RefinedQuad(corners, np.eye(8), ()), sides)


def test_clear_sides_are_not_mentioned():
    assert side_cautions(beside(CLEAR, CLEAR, CLEAR, CLEAR), ID1) == ()


def test_an_open_side_is_named_with_what_it_does_to_lengths():
    wide = Posterior(-4.0, 16.0, (-9.0, 1.0), 0.1, True)
    (caution,) = side_cautions(beside(CLEAR, CLEAR, CLEAR, wide), ID1)
    assert caution.code == CautionCode.OPEN_SIDE
    assert caution["side"] == "left"
    # 10 px at 10 px/mm; half of it over the 85.6 mm between left and right.
    assert caution["apart_mm"] == pytest.approx(1.0, abs=0.05)
    assert caution["off_share"] == pytest.approx(0.006, abs=0.0005)


def test_sides_that_are_not_explained_are_named_together():
    unexplained = Posterior(0.0, 0.25, (0.0, 0.0), 40.0, False)
    (caution,) = side_cautions(beside(unexplained, CLEAR, unexplained, CLEAR), ID1)
    assert caution.code == CautionCode.CROWDED_SIDES
    assert caution["sides"] == ("top", "bottom")
