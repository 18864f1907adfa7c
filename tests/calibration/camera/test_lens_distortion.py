"""Lens models: against the library, the closed forms of lens designs, and themselves inverted."""

import cv2
import numpy as np
import pytest
from numpy.testing import assert_allclose

from calibration.camera import lens_distortion
from calibration.camera.intrinsics import Camera

RNG = np.random.default_rng(11)
POINTS = RNG.uniform(-0.6, 0.6, (40, 2))
BROWN = (-0.28, 0.07, 0.001, -0.0005, 0.01)
RATIONAL = (1.466, 1.188, -0.0003, 0.0001, 0.1016, 1.732, 1.535, 0.338)


@pytest.mark.parametrize("coefficients", [BROWN, RATIONAL])
def test_the_polynomial_is_the_librarys(coefficients: tuple[float, ...]) -> None:
    solid = np.column_stack([POINTS, np.ones(len(POINTS))])
    seen, _ = cv2.projectPoints(solid, np.zeros(3), np.zeros(3), np.eye(3), np.array(coefficients))
    assert_allclose(lens_distortion.distort(POINTS, coefficients), seen.reshape(-1, 2), atol=1e-12)


@pytest.mark.parametrize("coefficients", [BROWN, RATIONAL])
def test_undistorting_inverts_the_polynomial(coefficients: tuple[float, ...]) -> None:
    assert_allclose(
        lens_distortion.undistort(lens_distortion.distort(POINTS, coefficients), coefficients),
        POINTS,
        atol=1e-10,
    )


@pytest.mark.parametrize("division", [-0.37, -0.02, 0.0, 0.05])
def test_undividing_inverts_the_division_model(division: float) -> None:
    assert_allclose(
        lens_distortion.undistort_division(lens_distortion.distort_division(POINTS, division), division),
        POINTS,
        atol=1e-12,
    )


# Textbook projections of a ray at an angle to the axis, in focal lengths.
@pytest.mark.parametrize(
    ("division", "projection", "rtol"),
    [
        (-1 / 4, lambda angle: 2 * np.tan(angle / 2), 1e-12),  # stereographic: exact
        (-1 / 3, lambda angle: angle, 0.015),  # equidistant
        (-3 / 8, lambda angle: 2 * np.sin(angle / 2), 0.02),  # equisolid
        (0.0, np.tan, 1e-12),  # rectilinear
    ],
)
def test_one_coefficient_spans_the_ways_lenses_are_built(division: float, projection, rtol: float) -> None:
    angles = np.radians(np.linspace(1.0, 45.0, 12))
    seen = np.column_stack([projection(angles), np.zeros(12)])
    assert_allclose(lens_distortion.undistort_division(seen, division)[:, 0], np.tan(angles), rtol=rtol)


def test_the_coefficient_equals_k1_to_first_order() -> None:
    small = 0.1 * POINTS
    assert_allclose(
        lens_distortion.distort_division(small, -0.02),
        lens_distortion.distort(small, (-0.02, 0, 0, 0, 0)),
        atol=2e-7,
    )


def slopes(function, points: np.ndarray, step: float = 1e-6) -> np.ndarray:
    shifts = step * np.eye(2)
    columns = [(function(points + shift) - function(points - shift)) / (2 * step) for shift in shifts]
    return np.stack(columns, axis=-1)


def test_the_derivatives_are_those_of_differences() -> None:
    along, by_coefficient = lens_distortion.distort_division_slope(POINTS, -0.2)
    assert_allclose(along, slopes(lambda p: lens_distortion.distort_division(p, -0.2), POINTS), atol=1e-8)
    numeric = (
        lens_distortion.distort_division(POINTS, -0.2 + 1e-6)
        - lens_distortion.distort_division(POINTS, -0.2 - 1e-6)
    ) / 2e-6
    assert_allclose(by_coefficient, numeric, atol=1e-8)
    assert_allclose(
        lens_distortion.distort_slope(POINTS, BROWN),
        slopes(lambda p: lens_distortion.distort(p, BROWN), POINTS),
        atol=1e-8,
    )


def test_a_camera_projects_as_the_library_does_and_back() -> None:
    camera = Camera(1280, 720, 1000.0, 0.01, (640.0, 360.0), 5.0, distortion=BROWN)
    solid = np.column_stack([POINTS * 400.0, np.full(len(POINTS), 500.0)])
    seen, _ = cv2.projectPoints(solid, np.zeros(3), np.zeros(3), camera.matrix, np.array(BROWN))
    assert_allclose(camera.project(solid), seen.reshape(-1, 2), atol=1e-8)
    assert_allclose(camera.normalise(camera.project(solid)), solid[:, :2] / solid[:, 2:], atol=1e-10)


def test_a_camera_refuses_the_impossible() -> None:
    with pytest.raises(ValueError, match="positive"):
        Camera(100, 100, -1.0, 0.1, (50.0, 50.0), 1.0)
    with pytest.raises(ValueError, match="finite"):
        Camera(100, 100, float("nan"), 0.1, (50.0, 50.0), 1.0)
    with pytest.raises(ValueError, match="coefficients"):
        Camera(100, 100, 90.0, 0.1, (50.0, 50.0), 1.0, distortion=(0.1, 0.2))
