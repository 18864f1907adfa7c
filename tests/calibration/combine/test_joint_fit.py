"""References of any kinds fitted together: what they tell, and when they contradict each other."""

import numpy as np
import pytest

from calibration.cards.found_card import FoundCard
from calibration.cautions import CautionCode
from calibration.combine.references import combine
from calibration.edges.ellipse import Rim, fit_ellipse
from calibration.objects import ID1
from calibration.sources import Marks, plane_from, plane_of_length
from calibration.sources.coin import COINS
from calibration.sources.graduations import Graduations
from tests.bench.sources.mixtures import drawn, span_by
from tests.calibration.sources.test_sources import CAMERA
from tests.synthetic.shapes import View

SQUARE = View(tilt_deg=(0.0, 0.0, 20.0), distance_mm=300.0, looked=(60.0, 40.0))
LEANING = View(tilt_deg=(18.0, 0.0, 10.0), distance_mm=300.0, looked=(60.0, 40.0))
# Above the table; every drawn plane is the card's face.
FACE_MM = ID1.thickness_mm
QUARTER = COINS["us-quarter"]


def card(view=LEANING, *, ways=(0, 1, 2, 3)):
    w, h = ID1.width_mm, ID1.height_mm
    corners = view.see(np.array([[0, 0], [w, 0], [w, h], [0, h]])[list(ways)])
    return FoundCard(ID1, corners, np.eye(8) * 0.15**2, 0.95, accepted=True)


def coin(view=LEANING, *, at=(120.0, 20.0), size=1.0, wall=0.5):
    turn = np.linspace(0.0, 2.0 * np.pi, 240, endpoint=False)
    unit = np.column_stack([np.cos(turn), np.sin(turn)])
    eye = -_rotation(view).T @ view.tvec
    near = unit @ (eye[:2] - at) > 0.0
    heights = QUARTER.thickness_mm - FACE_MM - wall * QUARTER.thickness_mm * near
    seen = view.see(at + unit * QUARTER.diameter_mm * size / 2.0, heights)
    ellipse = fit_ellipse(seen)
    _, normals = ellipse.at(ellipse.phases(seen))
    rim = Rim(ellipse, seen, normals, 0.25, 0.25, 1.0)
    return plane_from(CAMERA, QUARTER.key, rim, Marks(seen))


def rule(view=LEANING, *, size=1.0):
    numbers = np.arange(101)
    seen = view.see(np.column_stack([numbers * size, np.full(101, 70.0)]))
    return plane_from(CAMERA, "rule-mm", Graduations(numbers, seen, 0.15), Marks(seen))


def known(view=LEANING, *, ends=((0.0, 62.0), (100.0, 62.0)), size=1.0, std_mm=0.3, tilt_std_deg=None):
    length_mm = float(np.linalg.norm(np.subtract(*ends)))
    marks = Marks(view.see(ends), tilt_std_deg=tilt_std_deg, mark_std_px=0.3)
    return plane_of_length(CAMERA, length_mm / size, std_mm, marks)


def _rotation(view):
    import cv2

    return cv2.Rodrigues(view.rvec)[0]


def test_two_statements_of_one_length_weigh_as_their_variances():
    """Weighted mean of two values; the second is as uncertain again as its height, 1 mm of 300."""
    ends = ((10.0, 40.0), (110.0, 40.0))
    both = combine(CAMERA, [], [known(SQUARE, ends=ends, std_mm=2.0), known(SQUARE, ends=ends, std_mm=3.0)])
    length = span_by(both.plane, both.family, SQUARE.see(ends), click_std_px=1e-3)
    marks = 0.3 * 2.0**0.5 * 300.0 / 1300.0
    first, second = np.hypot(2.0, marks), np.linalg.norm([3.0, marks, 100.0 / 300.0])
    expected = (first**-2 + second**-2) ** -0.5
    assert length.standard_uncertainty_mm == pytest.approx(expected, rel=0.03)


def test_two_lengths_at_an_angle_tell_more_of_the_tilt_than_one():
    across = known(ends=((40.0, 0.0), (40.0, 90.0)))
    ends = LEANING.see([[70.0, 0.0], [70.0, 80.0]])
    one = known()
    both = combine(CAMERA, [], [one, across])
    together = span_by(both.plane, both.family, ends)
    assert abs(together.value_mm - 80.0) < together.expanded_uncertainty_mm
    alone = span_by(one.plane, one.family, ends)
    assert together.standard_uncertainty_mm < 0.9 * alone.standard_uncertainty_mm


def test_a_tilt_far_from_what_is_stated_does_not_explain_a_wrong_size():
    """Of two lines 8 mm apart one 4 % too long is right at some 50 degrees of tilt, and 8 are stated."""
    assert not combine(CAMERA, [], [rule(), known(size=1.04)]).agree


@pytest.mark.parametrize("beside", ["card", "rule"])
def test_what_lies_beside_a_coin_tells_which_side_is_nearer(beside):
    alone = coin()
    assert alone.family is not None
    normal = _rotation(LEANING)[:, 2]
    open_ = [plane for plane in alone.family.planes if plane.base[:, 2] @ normal < np.cos(np.radians(20.0))]
    assert open_
    both = combine(CAMERA, [card()], [alone]) if beside == "card" else combine(CAMERA, [], [alone, rule()])
    planes = (both.plane,) if both.family is None else both.family.planes
    assert all(plane.base[:, 2] @ normal > np.cos(np.radians(6.0)) for plane in planes)


@pytest.mark.parametrize(
    ("cards", "sources", "named"),
    [
        ([card()], [known(size=0.96)], "known length"),
        ([card()], [rule(size=0.98)], "rule"),
        ([card()], [coin(size=1.025)], "quarter"),
        ([], [rule(), known(ends=((0.0, 70.0), (100.0, 70.0)), size=1.04)], "known length"),
        ([], [coin(), rule(size=0.97)], "rule"),
    ],
    ids=["card and length", "card and rule", "card and coin", "rule and length", "coin and rule"],
)
def test_a_wrong_size_is_told_with_what_it_comes_to(cards, sources, named):
    found = combine(CAMERA, cards, sources)
    assert not found.agree
    assert CautionCode.CONTRADICTION in [one.code for one in found.cautions]
    names = [one["name"] for one in found.cautions if one.code == CautionCode.SIZE_BY_OTHERS]
    assert any(named in name for name in names)


@pytest.mark.parametrize("wall", [0.0, 0.5, 1.0])
def test_a_coin_seen_down_its_side_wall_contradicts_nothing(wall):
    """Its outline is then no ellipse, which the ellipse fitted to it must not be held against."""
    assert combine(CAMERA, [card()], [coin(wall=wall)]).agree


@pytest.mark.parametrize("ways", [(0, 1, 2, 3), (1, 0, 3, 2)], ids=["clockwise", "anticlockwise"])
def test_corners_may_run_either_way_round(ways):
    both = combine(CAMERA, [card(ways=ways)], [coin(), known()])
    length = span_by(both.plane, both.family, LEANING.see([[0.0, 62.0], [100.0, 62.0]]))
    assert both.agree
    assert length.value_mm == pytest.approx(100.0, abs=0.2)
    second = card(ways=ways)
    assert combine(CAMERA, [card(), second]).agree


def test_a_stated_tilt_counts_beside_other_references():
    across = ((40.0, 0.0), (40.0, 90.0))
    ends = SQUARE.see([[20.0, 0.0], [90.0, 70.0]])

    def spread(tilt_std_deg):
        pair = [known(SQUARE), known(SQUARE, ends=across, tilt_std_deg=tilt_std_deg)]
        both = combine(CAMERA, [], pair)
        return span_by(both.plane, both.family, ends).standard_uncertainty_mm

    assert spread(1.0) < 0.8 * spread(None)


def test_a_length_stated_without_any_doubt_is_taken_as_such():
    both = combine(CAMERA, [card()], [known(std_mm=0.0)])
    assert both.agree
    assert np.all(np.isfinite(both.plane.sensitivity_matrix))


@pytest.mark.slow
def test_intervals_of_mixtures_hold_the_truth_as_often_as_they_say():
    """Projected by another library and drawn from the distributions of `tests.bench.sources.__main__`."""
    rng = np.random.default_rng(5)
    names = ["target and card"] * 120 + ["card and coin"] * 15 + ["rule and length"] * 10
    found = [drawn(rng, name) for name in names]
    inside = [
        abs(length.value_mm - true_mm) <= length.expanded_uncertainty_mm for _, length, _, true_mm in found
    ]
    assert 0.90 <= np.mean(inside) <= 0.99
    assert np.mean([both.agree for both, *_ in found]) >= 0.97
