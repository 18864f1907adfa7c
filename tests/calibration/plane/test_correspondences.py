"""Planes from several references, or from a target of many corners."""

from dataclasses import replace

import numpy as np
import pytest
from numpy.testing import assert_allclose

from calibration.camera.prior import Camera
from calibration.cautions import CautionCode
from calibration.errors import GeometryError
from calibration.objects import ID1
from calibration.plane import bundle, projection
from calibration.plane.correspondences import correspondences_of_object
from calibration.plane.fit import fit_plane, fit_plane_correspondences, fit_plane_points
from calibration.plane.solver import starts
from tests.calibration.plane.moving import sensitivity
from tests.calibration.plane.test_plane import CAMERA, CARD, COV, ROTATION, TRANSLATION, seen

IN_PLANE = np.array([[np.cos(0.4), -np.sin(0.4)], [np.sin(0.4), np.cos(0.4)]])
SECOND = CARD @ IN_PLANE.T + [240.0, 20.0]
GRID = np.array([[12.0 * x, 12.0 * y] for y in range(6) for x in range(9)])


def two_cards(scale: float = 1.0) -> list[bundle.Correspondences]:
    return [
        correspondences_of_object(ID1, seen(CARD, ROTATION, TRANSLATION), COV),
        correspondences_of_object(ID1, seen(SECOND * [scale, scale], ROTATION, TRANSLATION), COV),
    ]


def test_two_cards_give_the_plane_of_one_exactly() -> None:
    plane = fit_plane_correspondences(CAMERA, two_cards(), ID1)
    assert_allclose(plane.to_mm(seen(SECOND, ROTATION, TRANSLATION)), SECOND, atol=2e-3)
    assert plane.chi2 == pytest.approx(0.0, abs=1e-4)


def test_a_second_card_at_the_far_end_halves_the_uncertainty_there() -> None:
    far = seen(np.array([[300.0, 30.0]]), ROTATION, TRANSLATION)
    one = fit_plane(CAMERA, ID1, seen(CARD, ROTATION, TRANSLATION), COV)
    two = fit_plane_correspondences(CAMERA, two_cards(), ID1)
    spreads = [
        np.linalg.norm(sensitivity(plane, lambda other: other.to_mm(far)[0, 0])) for plane in (one, two)
    ]
    assert spreads[1] < 0.5 * spreads[0]


def test_references_that_disagree_are_reported_and_count_for_less() -> None:
    sharp = [replace(target, cov_px2=0.0025 * np.eye(8)) for target in two_cards()]
    wrong = replace(sharp[1], points_mm=sharp[1].points_mm * 1.02)
    plane = fit_plane_correspondences(CAMERA, [sharp[0], wrong], ID1)
    assert CautionCode.DISAGREEMENT in [one.code for one in plane.cautions]


def test_a_card_lying_higher_is_placed_by_its_height() -> None:
    lifted = np.column_stack([SECOND, np.full(4, -30.0)])
    targets = two_cards()
    targets[1] = replace(targets[1], points_px=seen(lifted, ROTATION, TRANSLATION), height_mm=30.0)
    plane = fit_plane_correspondences(CAMERA, targets, ID1)
    assert_allclose(plane.to_mm(seen(lifted, ROTATION, TRANSLATION), 30.0), SECOND, atol=2e-3)


def test_a_grid_of_points_gives_plane_focal_length_and_lens() -> None:
    camera = Camera(4032, 3024, 2900.0, 0.25, (2016.0, 1512.0), 40.0, k1_std=0.1)
    bent = replace(CAMERA, distortion=(-0.08, 0.0, 0.0, 0.0, 0.0))
    picture = seen(GRID * 2.5 - [120, 80], ROTATION, TRANSLATION, bent)
    plane = fit_plane_points(camera, GRID * 2.5 - [120, 80], picture, 0.01)
    assert plane.camera.focal_px == pytest.approx(3000.0, rel=0.01)
    assert plane.camera.division == pytest.approx(-0.08, abs=0.01)
    assert np.linalg.norm(plane.sensitivity_matrix[projection.DIVISION]) < 0.01
    assert len(plane.error_sources) == projection.PARAMETERS + 4


def test_fewer_than_four_points_are_refused() -> None:
    with pytest.raises(GeometryError, match="four points"):
        fit_plane_points(CAMERA, GRID[:3], GRID[:3], 0.01)


def test_the_residuals_derivatives_are_those_of_differences() -> None:
    rng = np.random.default_rng(0)
    camera = replace(CAMERA, distortion=(-0.1, 0.05, 0.001, -0.002, 0.01), division=-0.05, k1_std=0.05)
    problem = bundle.Problem(camera, two_cards(), -1.0)
    unknowns, base = starts(problem, (0.0,))
    unknowns = unknowns + 0.1 * rng.normal(size=unknowns.shape)
    unknowns[:, projection.ROTATION] = 0.0
    values, slope = problem.jacobian(unknowns, base)
    assert_allclose(values, problem.residuals(unknowns, base))
    for index, shift in enumerate(1e-5 * np.eye(problem.size)):
        up, down = problem.residuals(unknowns + shift, base), problem.residuals(unknowns - shift, base)
        assert_allclose(slope[..., index], (up - down) / 2e-5, atol=1e-5)


def test_a_step_in_focal_length_and_distance_keeps_the_picture() -> None:
    plane = fit_plane(CAMERA, ID1, seen(CARD, ROTATION, TRANSLATION), COV)
    middle = np.array([*plane.centre_mm, 0.0])
    step = np.zeros(projection.PARAMETERS)
    step[projection.LOG_FOCAL] = 0.2
    step[projection.TRANSLATION] = 0.2 * (plane.rotation @ middle + plane.translation_mm) * [0, 0, 1]
    there, _ = projection.follow(plane.parameters, plane.base, step, middle)
    before = projection.project(plane.parameters, plane.base, CAMERA.distortion, middle[None])
    assert_allclose(projection.project(there, plane.base, CAMERA.distortion, middle[None]), before, atol=1e-6)
