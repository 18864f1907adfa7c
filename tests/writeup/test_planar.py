"""Hulls and overlaps, against scipy (Qhull) and OpenCV."""

import cv2
import numpy as np
import pytest
from scipy.spatial import ConvexHull

from measure.writeup.draw.planar import box, grown, hull, inside, overlap, strip
from measure.writeup.draw.taken import TakenMap


@pytest.mark.parametrize("seed", range(8))
def test_hull_is_that_of_qhull(seed):
    points = np.random.default_rng(seed).normal(size=(20, 2))
    expected = {tuple(point) for point in points[ConvexHull(points).vertices]}
    assert {tuple(point) for point in hull(points)} == expected


def test_hull_of_few_points_is_those_points():
    assert len(hull(np.array([[1.0, 2.0]]))) == 1
    assert len(hull(np.array([[1.0, 2.0], [1.0, 2.0], [3.0, 4.0]]))) == 2


@pytest.mark.parametrize("seed", range(30))
def test_overlap_agrees_with_the_area_of_the_intersection(seed):
    rng = np.random.default_rng(seed)
    one = hull(rng.uniform(0, 10, (6, 2)))
    other = hull(rng.uniform(0, 10, (6, 2)) + rng.uniform(-9, 9, 2))
    area, _ = cv2.intersectConvexConvex(one.astype(np.float32), other.astype(np.float32))
    assert overlap(one, other) == (area > 1e-5)


def test_touching_is_no_overlap():
    assert not overlap(box(np.array([0.0, 0.0]), 2, 2), box(np.array([2.0, 0.0]), 2, 2))


def test_a_grown_shape_keeps_the_distance_on_every_side():
    square = box(np.array([5.0, 5.0]), 4, 4)
    ring = grown(square, 1.0)
    assert cv2.pointPolygonTest(ring.astype(np.float32), (5.0, 7.0), True) >= 1.0 - 1e-6
    assert ring.max() <= 8.0 + 0.09  # an octagon about the unit circle reaches 8 % further at its corners


def test_a_strip_is_as_wide_as_asked():
    assert cv2.contourArea(strip(np.array([0.0, 0.0]), np.array([10.0, 0.0]), 2.0).astype(np.float32)) > 20.0


def test_a_taken_map_frees_only_what_no_shape_comes_near():
    taken = TakenMap(1000, 800).with_more(box(np.array([300.0, 300.0]), 100, 100))
    assert not taken.is_free(box(np.array([340.0, 300.0]), 40, 40))
    assert not taken.is_free(box(np.array([361.0, 300.0]), 20, 20))
    assert taken.is_free(box(np.array([380.0, 300.0]), 40, 40))


def test_a_taken_map_counts_what_a_line_crosses():
    shapes = [box(np.array([x, 300.0]), 20, 200) for x in (200.0, 500.0, 700.0)]
    taken = TakenMap(1000, 800).with_more(*shapes)
    assert taken.crossings(np.array([[100.0, 300.0], [600.0, 320.0]])) == 2
    assert taken.crossings(np.array([[500.0, 300.0], [900.0, 320.0]])) == 2
    assert taken.crossings(np.array([[100.0, 600.0], [900.0, 600.0]])) == 0


def test_inside_keeps_the_margin():
    assert inside(box(np.array([5.0, 5.0]), 4, 4), 10, 10, 3.0)
    assert not inside(box(np.array([5.0, 5.0]), 4, 4), 10, 10, 3.1)
