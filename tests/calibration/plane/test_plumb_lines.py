"""Straight lines of the scene: they tell the lens, as far as they can."""

from dataclasses import replace

import numpy as np
import pytest
from numpy.testing import assert_allclose

from calibration.errors import GeometryError
from calibration.objects import ID1
from calibration.plane import projection
from calibration.plane.fit import PlumbLine, fit_plane
from calibration.plane.plumb_lines import all_plumb_residuals, plumb_residuals_slope
from tests.calibration.plane.test_plane import CAMERA, CARD, COV, ROTATION, TRANSLATION, seen

BENT = replace(CAMERA, distortion=(-0.12, 0.0, 0.0, 0.0, 0.0))
UNKNOWN = replace(CAMERA, division=-0.16, k1_std=0.12)


def lines(noise_px: float = 0.0) -> list[PlumbLine]:
    rng, found = np.random.default_rng(4), []
    for start, end in (((-180, -110), (320, -110)), ((-180, 180), (320, 150)), ((-170, -100), (-160, 180))):
        points = np.linspace(start, end, 5)
        found.append(
            PlumbLine(seen(points, ROTATION, TRANSLATION, BENT) + noise_px * rng.normal(size=(5, 2)), 0.5)
        )
    return found


def test_marked_lines_tell_an_unknown_lens() -> None:
    corners = seen(CARD, ROTATION, TRANSLATION, BENT)
    without = fit_plane(UNKNOWN, ID1, corners, COV)
    plane = fit_plane(UNKNOWN, ID1, corners, COV, lines=lines(0.5))
    std = [float(np.linalg.norm(one.sensitivity_matrix[projection.DIVISION])) for one in (without, plane)]
    assert std[1] < 0.2 * std[0]
    assert plane.camera.division == pytest.approx(-0.12, abs=3 * std[1])


def test_marked_lines_shorten_the_interval_of_a_length_and_it_still_holds_the_truth() -> None:
    from measure.kinds.span import measure_span

    corners, ends = seen(CARD, ROTATION, TRANSLATION, BENT), np.array([[150.0, 20.0], [290.0, 20.0]])
    found = [
        measure_span(
            fit_plane(UNKNOWN, ID1, corners, COV, lines=some), seen(ends, ROTATION, TRANSLATION, BENT)
        )
        for some in ([], lines(0.5))
    ]
    assert found[1].expanded_uncertainty_mm < 0.7 * found[0].expanded_uncertainty_mm
    for length in found:
        assert abs(length.value_mm - 140.0) < length.expanded_uncertainty_mm


def test_without_distortion_a_straight_line_has_no_bend() -> None:
    plane = fit_plane(CAMERA, ID1, seen(CARD, ROTATION, TRANSLATION), COV)
    straight = PlumbLine(seen(np.linspace([-100, -50], [300, 90], 6), ROTATION, TRANSLATION))
    assert_allclose(all_plumb_residuals(plane.parameters, CAMERA.distortion, [straight]), 0.0, atol=1e-3)


def test_the_derivatives_of_the_bends_are_those_of_larger_differences() -> None:
    sets = np.zeros(projection.PARAMETERS)
    sets[projection.LOG_FOCAL], sets[projection.DIVISION], sets[projection.PRINCIPAL_POINT] = (
        np.log(3000.0),
        -0.1,
        (2016.0, 1512.0),
    )
    slope = plumb_residuals_slope(sets, CAMERA.distortion, lines())
    for index, size in ((projection.LOG_FOCAL, 1e-3), (projection.DIVISION, 1e-3), (8, 1.0)):
        step = size * np.eye(projection.PARAMETERS)[index]
        up, down = (all_plumb_residuals(sets + sign * step, CAMERA.distortion, lines()) for sign in (1, -1))
        assert_allclose(slope[:, index], (up - down) / (2 * size), rtol=1e-3, atol=1e-4)


@pytest.mark.parametrize(
    ("points", "std_px", "message"),
    [
        ([[0.0, 0.0], [100.0, 0.0]], 0.5, "three points"),
        ([[0.0, 0.0], [1.0, 0.0], [2.0, 0.0]], 0.5, "too close"),
        ([[0.0, 0.0], [50.0, 0.0], [100.0, 0.0]], 0.0, "above zero"),
    ],
)
def test_marks_that_are_no_line_are_refused(points: list[list[float]], std_px: float, message: str) -> None:
    with pytest.raises(GeometryError, match=message):
        PlumbLine(np.array(points), std_px)
