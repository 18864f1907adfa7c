"""Weak sources of scale: coins, rules, known lengths; what they tell, and what they leave open."""

import numpy as np
import pytest

from calibration.camera.prior import Camera
from calibration.edges.ellipse import Ellipse, find_rim, fit_ellipse
from calibration.errors import GeometryError, ObjectError
from calibration.sources.coin import COINS, coin_from_key, find_coin, fit_coin
from calibration.sources.graduations import find_graduations
from calibration.sources.known_length import fit_known_length
from calibration.sources.ruler import fit_rule
from measure.kinds.ambiguous_planes import over_family
from measure.kinds.span import measure_span
from tests.synthetic.shapes import FOCAL, SIZE, View

CAMERA = Camera(*SIZE, FOCAL, 0.02, ((SIZE[0] - 1) / 2, (SIZE[1] - 1) / 2), 5.0, k1_std=0.01)
SQUARE = View(tilt_deg=(0.0, 0.0, 20.0), distance_mm=260.0, looked=(40.0, 30.0))
LEANING = View(tilt_deg=(24.0, 0.0, 10.0), distance_mm=260.0, looked=(40.0, 30.0))


def span(family, view, ends_mm, **how):
    ends = view.see(ends_mm)
    return over_family(family, lambda plane: measure_span(plane, ends, standoff_std_mm=0.0, **how))


# ----------------------------------------------------------------------------------------------- rims


def disc(centre, diameter):
    return lambda mm: np.linalg.norm(mm - centre, axis=1) < diameter / 2


def test_the_ellipse_of_a_tilted_circle_has_the_published_centre_and_axes():
    """A quarter under 45°, 300 mm away, f 3000 px: conic algebra, confirmed with OpenCV 4.14 and 5.0.

    Centre (2016, 1509.54571) where the circle's own centre is seen at (2016, 1512); half axes 121.34961 and
    85.84222 px.
    """
    t = np.arange(60) * 2 * np.pi / 60
    c = np.cos(np.pi / 4)
    x, y, z = 12.13 * np.cos(t), 12.13 * np.sin(t) * c, 300 + 12.13 * np.sin(t) * c
    found = fit_ellipse(np.column_stack([3000 * x / z + 2016, 3000 * y / z + 1512]))
    assert found.centre_px == pytest.approx((2016, 1509.54571), abs=1e-4)
    assert found.semi_axes_px == pytest.approx((121.34961, 85.84222), abs=1e-4)


def test_points_in_line_make_no_ellipse():
    with pytest.raises(GeometryError, match="on one line"):
        fit_ellipse([[0, 0], [10, 10], [30, 30]])


def test_a_rendered_rim_is_found_to_a_few_hundredths_of_a_pixel():
    photo = LEANING.photo(disc([40, 30], 24.257))
    t = np.arange(90) * 2 * np.pi / 90
    true = fit_ellipse(LEANING.see([40, 30] + 12.1285 * np.column_stack([np.cos(t), np.sin(t)])))
    x, y = true.centre_px
    rim = find_rim(photo.pixels_bgr, Ellipse((x + 2, y - 2), (62.0, 56.0), true.angle_rad))
    assert rim is not None
    assert rim.ellipse.semi_axes_px == pytest.approx(true.semi_axes_px, abs=0.05)
    assert rim.ellipse.centre_px == pytest.approx(true.centre_px, abs=0.05)


# ---------------------------------------------------------------------------------------------- coins


def test_coin_sizes_are_the_published_ones():
    """Inches of 31 U.S.C. 5112; euro sizes of Regulation (EC) 975/98."""
    inches = {
        "us-cent": 0.750,
        "us-nickel": 0.835,
        "us-dime": 0.705,
        "us-quarter": 0.955,
        "us-half": 1.205,
        "us-dollar": 1.043,
    }
    for key, inch in inches.items():
        assert COINS[key].diameter_mm == pytest.approx(25.4 * inch, abs=0.0006)
    assert [COINS[key].diameter_mm for key in ("euro-1c", "euro-10c", "euro-1", "euro-2")] == [
        16.25,
        19.75,
        23.25,
        25.75,
    ]


@pytest.mark.parametrize(
    ("key", "diameter_mm", "thickness_mm"),
    [
        # US Mint, specification page.
        ("us-cent", 19.05, 1.52),
        ("us-quarter", 24.26, 1.75),
        # Council Regulation (EC) 975/98.
        ("euro-2", 25.75, 2.2),
        # Coin tables quoting the Royal Mint.
        ("uk-10p", 24.5, 1.85),
        ("uk-50p", 27.3, 1.78),
    ],
)
def test_the_table_agrees_with_what_the_mints_publish(key, diameter_mm, thickness_mm):
    assert COINS[key].diameter_mm == pytest.approx(diameter_mm, abs=0.005)
    assert COINS[key].thickness_mm == thickness_mm


@pytest.mark.parametrize("key", ["uk-50p", "uk-1", "euro-20c"])
def test_a_coin_with_corners_is_refused(key):
    with pytest.raises(ObjectError, match="not round"):
        coin_from_key(key)


def test_an_unknown_coin_is_refused_with_the_known_ones():
    with pytest.raises(ObjectError, match="us-quarter"):
        coin_from_key("doubloon")


@pytest.fixture(scope="module")
def quarter():
    return LEANING.photo(disc([40, 30], 24.257))


@pytest.mark.parametrize("marks", [[[41, 31]], [[40, 17.9], [52.1, 30], [31.4, 38.6]]])
def test_a_coin_marked_roughly_gives_scale_and_tilt_with_both_leanings(quarter, marks):
    rim = find_coin(quarter.pixels_bgr, LEANING.see(marks) + [1.0, -1.0])
    family = fit_coin(CAMERA, COINS["us-quarter"], rim)
    assert len(family.planes) >= 4
    length = span(family, LEANING, [[30, 60], [80, 60]])
    assert abs(length.value_mm - 50.0) < length.expanded_uncertainty_mm
    # A flat disc has no wall: the planes without it hold the true tilt.
    assert min(abs(plane.tilt_deg - 24.0) for plane in family.planes) < 1.0


def test_saying_which_side_is_nearer_settles_the_two_fold_tilt(quarter):
    rim = find_coin(quarter.pixels_bgr, LEANING.see([[41, 31]]))
    nearer = min([[40, 0], [40, 60]], key=lambda spot: float((_rotation(LEANING) @ [*spot, 0.0])[2]))
    told = fit_coin(CAMERA, COINS["us-quarter"], rim, nearer_px=LEANING.see([nearer])[0])
    open_ = fit_coin(CAMERA, COINS["us-quarter"], rim)
    far = [[20, 80], [70, 90]]
    assert (
        span(told, LEANING, far).standard_uncertainty_mm
        < 0.7 * span(open_, LEANING, far).standard_uncertainty_mm
    )
    normals = [plane.rotation[:, 2] for plane in told.planes]
    assert all(float(normal @ _rotation(LEANING)[:, 2]) > np.cos(np.radians(12.0)) for normal in normals)


def _rotation(view):
    import cv2

    return cv2.Rodrigues(view.rvec)[0]


def test_no_coin_where_there_is_none(quarter):
    with pytest.raises(GeometryError, match="no clear rim"):
        find_coin(quarter.pixels_bgr, [[150.0, 150.0]])


def test_two_marks_are_no_coin(quarter):
    with pytest.raises(GeometryError, match="three or more"):
        find_coin(quarter.pixels_bgr, [[150.0, 150.0], [200.0, 150.0]])


# ----------------------------------------------------------------------------------------------- rule


def ruled(pitch, low=0.0, high=120.0):
    """Strokes of three lengths from y = 20 mm on."""

    def inside(mm):
        number = np.rint(mm[:, 0] / pitch)
        reach = np.where(number % 10 == 0, 8.0, np.where(number % 5 == 0, 6.0, 4.0))
        stroke = np.abs(mm[:, 0] - number * pitch) < 0.09 * pitch + 0.03
        return (
            stroke
            & (mm[:, 1] > 20)
            & (mm[:, 1] < 20 + reach)
            & (mm[:, 0] > low - 0.3)
            & (mm[:, 0] < high + 0.3)
        )

    return inside


@pytest.mark.parametrize(("kind", "pitch"), [("rule-mm", 1.0), ("rule-in16", 25.4 / 16)])
def test_graduations_give_the_scale_along_the_rule(kind, pitch):
    view = View(tilt_deg=(0.0, 18.0, 10.0), distance_mm=240.0, looked=(45.0, 30.0))
    count = int(90 / pitch)
    photo = view.photo(ruled(pitch, 0.0, count * pitch), tones=(200, 50))
    seen = find_graduations(photo.pixels_bgr, view.see([[0.3 * pitch, 22], [(count - 0.4) * pitch, 22]]))
    assert len(seen.numbers) > 0.95 * (seen.numbers[-1] + 1)
    true = view.see([[n * pitch, 22] for n in (seen.numbers + 1)])
    assert np.abs(seen.points_px - true).max() < 0.3
    family = fit_rule(CAMERA, seen, kind)
    length = span(family, view, [[10, 30], [80, 30]])
    assert length.value_mm == pytest.approx(70.0, abs=0.4)
    assert abs(length.value_mm - 70.0) < length.expanded_uncertainty_mm
    # The change of the period tells the lean along the rule.
    along = np.array([plane.rotation[:, 0] for plane in family.planes])
    assert along[:, 2].mean() == pytest.approx(-np.sin(np.radians(18.0)) * np.cos(np.radians(10)), abs=0.05)


def test_the_cross_ratio_of_graduations_is_kept_by_the_view():
    """Cross ratio of 0, 1, 2, 4 is 1.5 in every picture (projective geometry)."""
    view = View(tilt_deg=(20.0, 30.0, 10.0))
    places = view.see([[10, 5], [20, 5], [30, 5], [50, 5]])
    unit = (places[-1] - places[0]) / np.linalg.norm(places[-1] - places[0])
    a, b, c, d = (places - places[0]) @ unit
    assert ((c - a) * (d - b)) / ((c - b) * (d - a)) == pytest.approx(1.5, abs=1e-9)


def test_a_plain_table_has_no_graduations(quarter):
    with pytest.raises(GeometryError, match=r"regular"):
        find_graduations(quarter.pixels_bgr, [[50.0, 50.0], [700.0, 90.0]])


# ------------------------------------------------------------------------------------------ known length


def test_along_a_known_length_the_scale_is_right_at_any_tilt():
    ends = LEANING.see([[0, 30], [80, 30]])
    family = fit_known_length(CAMERA, ends, 80.0, length_std_mm=0.1, click_std_px=0.2)
    length = span(family, LEANING, [[0, 30], [80, 30]], click_std_px=0.2)
    assert length.value_mm == pytest.approx(80.0, abs=0.02)
    assert length.standard_uncertainty_mm < 0.2


def test_across_it_the_unknown_tilt_is_in_the_uncertainty():
    family = fit_known_length(CAMERA, SQUARE.see([[0, 30], [80, 30]]), 80.0, length_std_mm=0.1)
    along = span(family, SQUARE, [[0, 31], [80, 31]])
    across = span(family, SQUARE, [[40, -10], [40, 70]])
    assert across.standard_uncertainty_mm > along.standard_uncertainty_mm
    assert any(line.source == "tilt" for line in across.budget)


def test_a_difference_of_parallel_spans_keeps_the_unknown_tilt_out():
    family = fit_known_length(CAMERA, SQUARE.see([[0, 30], [80, 30]]), 80.0, length_std_mm=0.1)
    one = span(family, SQUARE, [[40, -10], [40, 70]], span_id="a")
    other = span(family, SQUARE, [[44, -10], [44, 70]], span_id="b")
    assert (one - other).shared_std_mm < 0.3 * one.shared_std_mm


@pytest.mark.parametrize("length_mm", [0.0, float("nan"), 1e6])
def test_an_impossible_known_length_is_refused(length_mm):
    with pytest.raises(GeometryError, match="known length"):
        fit_known_length(CAMERA, [[10, 10], [200, 10]], length_mm, length_std_mm=0.1)


def test_a_known_length_between_coinciding_points_is_refused():
    with pytest.raises(GeometryError, match="coincide"):
        fit_known_length(CAMERA, [[10, 10], [10, 10]], 50.0, length_std_mm=0.1)
