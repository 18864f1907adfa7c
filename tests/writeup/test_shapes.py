"""What is drawn for each kind of measurement, the cover's outline, and the scale bar."""

from dataclasses import replace

import cv2
import numpy as np
import pytest

from calibration.objects import ID1
from calibration.plane.fit import fit_plane
from measure.record.specimen import MeasurementEntry, ResultEntry
from measure.writeup.draw.dimensions import dimension, fit_circle
from measure.writeup.draw.planar import hull, overlap
from measure.writeup.draw.planes import ScaledPlane, UprightPlane
from measure.writeup.draw.privacy import RIM_MM, cover_outline_px, rounded_outline_mm
from measure.writeup.draw.scalebar import scale_bar
from tests.writeup import scene


@pytest.fixture(scope="module")
def plane():
    view = scene.View()
    return fit_plane(view.camera(), ID1, view.project(scene.CARD_MM), np.eye(8) * 0.15**2)


def entry(kind, points, standoff_mm=0.0):
    used = tuple((float(x), float(y)) for x, y in points)
    return MeasurementEntry("m", kind, "photo-1", None, None, "", used, used, standoff_mm=(standoff_mm,))


def test_circle_of_three_points():
    # By hand: the circle through (0, 5), (5, 0), (-3, -4) is x² + y² = 25.
    centre, radius = fit_circle(np.array([[0.0, 5.0], [5.0, 0.0], [-3.0, -4.0]]))
    assert centre == pytest.approx([0.0, 0.0], abs=1e-9)
    assert radius == pytest.approx(5.0)


def test_a_diameter_is_drawn_across_the_fitted_rim(plane):
    turn = np.linspace(0, 5.0, 7)
    rim_mm = np.array([150.0, 30.0]) + 31.0 * np.column_stack([np.cos(turn), np.sin(turn)])
    drawn = dimension(entry("round", plane.to_px(rim_mm, 18.0), 18.0), plane)
    ends_mm = plane.to_mm(drawn.ends_px, 18.0)
    assert np.hypot(*(ends_mm[1] - ends_mm[0])) == pytest.approx(62.0, abs=1e-6)
    assert drawn.sign.strip() == "⌀"
    assert abs(drawn.ends_px[1] - drawn.ends_px[0])[1] < 12  # the most level one


@pytest.mark.parametrize("angle_deg", [60.0, 90.0, 130.0])
def test_a_tip_is_pointed_at_on_an_arc_that_touches_both_sides(plane, angle_deg):
    turn = np.radians(angle_deg)
    corner = np.array([150.0, 30.0])
    one, other = np.array([1.0, 0.0]), np.array([np.cos(turn), np.sin(turn)])
    sides = np.array([corner + 40 * one, corner + 25 * one, corner + 25 * other, corner + 40 * other])
    result = ResultEntry(3.0, 0.1, 0.2, 2.0)
    drawn = dimension(replace(entry("tip", plane.to_px(sides, 12.0), 12.0), result=result), plane)
    arc_mm = plane.to_mm(drawn.curve_px, 12.0)
    centre_mm, end_mm = plane.to_mm(drawn.ends_px, 12.0)
    assert drawn.pointed
    assert np.hypot(*(end_mm - centre_mm)) == pytest.approx(3.0, abs=1e-6)
    # The contact lies r / tan(half the angle) from the corner, on each side.
    contacts = corner + 3.0 / np.tan(turn / 2) * np.array([one, other])
    for contact in contacts:
        assert np.hypot(*(arc_mm[[0, -1]] - contact).T).min() < 1e-6
    assert np.hypot(*(end_mm - corner)) == pytest.approx(3.0 / np.sin(turn / 2) - 3.0, abs=1e-6)


def test_a_gap_of_four_points_runs_between_the_middles_of_its_edges():
    drawn = dimension(entry("gap", [(0, 0), (10, 0), (0, 40), (10, 40)]), None)
    assert drawn.ends_px.tolist() == [[5, 0], [5, 40]]


def test_a_difference_and_a_length_without_points_are_not_drawn():
    assert dimension(entry("difference", [(0, 0), (1, 1)]), None) is None
    assert dimension(entry("span", []), None) is None


@pytest.mark.parametrize("inset_mm", [0.0, 1.2])
def test_rounded_outline_encloses_the_area_of_a_rounded_rectangle(inset_mm):
    radius = 3.18 - inset_mm
    expected = (85.6 - 2 * inset_mm) * (53.98 - 2 * inset_mm) - (4 - np.pi) * radius**2
    outline = rounded_outline_mm(ID1, inset_mm, per_corner=65)
    assert cv2.contourArea(outline.astype(np.float32)) == pytest.approx(expected, abs=0.02)


def test_the_cover_leaves_the_rim_of_the_card_in_sight(plane):
    cover_mm = plane.to_mm(cover_outline_px(plane, ID1))
    assert cover_mm.min(axis=0) == pytest.approx([RIM_MM, RIM_MM], abs=1e-6)
    assert cover_mm.max(axis=0) == pytest.approx([85.6 - RIM_MM, 53.98 - RIM_MM], abs=1e-6)


@pytest.mark.parametrize("on_face", [True, False])
def test_the_scale_bar_is_as_long_as_it_says_in_the_plane_of_the_card(plane, on_face):
    bar = scale_bar(plane, ID1, (1600, 1200), (), on_face=on_face)
    start, end = plane.to_mm(np.array([bar.fields_px[0][0], bar.fields_px[-1][1]]))
    assert np.hypot(*(end - start)) == pytest.approx(bar.length_mm, abs=1e-6)
    card = plane.to_px(rounded_outline_mm(ID1))
    assert overlap(bar.outline_px, hull(card)) == on_face


def test_the_scale_bar_moves_aside_for_a_part(plane):
    first = scale_bar(plane, ID1, (1600, 1200), (), on_face=False)
    second = scale_bar(plane, ID1, (1600, 1200), (first.outline_px,), on_face=False)
    assert not overlap(first.outline_px, second.outline_px)


def test_a_resized_picture_keeps_millimetres(plane):
    scaled = ScaledPlane(plane, 0.4)
    points = np.array([[10.0, 20.0], [150.0, 90.0]])
    assert scaled.to_mm(scaled.to_px(points)) == pytest.approx(points, abs=1e-6)


def test_a_rectified_plane_has_one_scale():
    view = UprightPlane(np.array([3.0, 4.0]), np.array([[0.8, 0.6], [-0.6, 0.8]]), 7.0)
    spots = view.to_px(np.array([[3.0, 4.0], [11.0, 10.0]]))
    assert spots == pytest.approx(np.array([[0.0, 0.0], [70.0, 0.0]]))
    assert view.to_mm(spots) == pytest.approx(np.array([[3.0, 4.0], [11.0, 10.0]]))
