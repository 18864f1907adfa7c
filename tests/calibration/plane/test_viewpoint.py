"""Where the camera stood: a second method, the law of total variance, and how often the truth lies within."""

from dataclasses import replace

import numpy as np
import pytest

from calibration.plane.fit import Plane, fit_plane
from calibration.plane.viewpoint import Viewpoint, mean_viewpoint, viewpoint
from tests.calibration.plane.moving import sensitivity
from tests.calibration.plane.test_plane import CAMERA, CARD, COV, ID1, TRANSLATION, seen, turned


def plane_at(tilt_deg: float) -> Plane:
    return fit_plane(CAMERA, ID1, seen(CARD, turned(tilt_deg, 70.0, 15.0), TRANSLATION), COV)


@pytest.mark.parametrize("tilt_deg", [0.0, 8.0, 30.0, 55.0])
def test_the_uncertainties_agree_with_planes_moved_input_by_input(tilt_deg: float) -> None:
    plane = plane_at(tilt_deg)
    found = viewpoint(plane)
    slopes = sensitivity(plane, lambda one: [one.distance_mm, one.mm_per_px_at_object])
    height_std_mm, side_std = np.linalg.norm(slopes, axis=0)
    assert found.height_std_mm == pytest.approx(height_std_mm, rel=0.01)
    # The middle's pixel stays where it is here; there it moves along.
    assert found.mm_per_px_std == pytest.approx(side_std, rel=0.1)
    assert (found.tilt_deg, found.height_mm) == (plane.tilt_deg, plane.distance_mm)
    assert found.mm_per_px == plane.mm_per_px_at_object


def test_a_tilt_about_nil_is_as_uncertain_as_a_small_one() -> None:
    none, small = viewpoint(plane_at(0.0)), viewpoint(plane_at(0.5))
    assert none.tilt_std_deg == pytest.approx(small.tilt_std_deg, rel=0.2)


@pytest.mark.parametrize("tilt_deg", [3.0, 30.0])
def test_the_truth_lies_within_two_standard_uncertainties(tilt_deg: float) -> None:
    rng = np.random.default_rng(11)
    rotation = turned(tilt_deg, 70.0, 15.0)
    true_height_mm = abs((rotation.T @ TRANSLATION)[2])
    within = []
    for _ in range(120):
        real = replace(CAMERA, focal_px=CAMERA.focal_px * np.exp(rng.normal(0, CAMERA.log_focal_std)))
        noisy = seen(CARD, rotation, TRANSLATION, real) + rng.normal(0, 0.1, (4, 2))
        found = viewpoint(fit_plane(CAMERA, ID1, noisy, COV))
        tilt_holds = abs(found.tilt_deg - tilt_deg) < 1.96 * found.tilt_std_deg
        height_holds = abs(found.height_mm - true_height_mm) < 1.96 * found.height_std_mm
        within.append((tilt_holds, height_holds))
    # 95 in 100 or a little more, since the card's own inputs are exact here, less three standard errors.
    assert np.all(np.mean(within, axis=0) > 0.89)


def test_several_viewpoints_make_one_by_the_law_of_total_variance() -> None:
    views = [Viewpoint(5.0, 1.0, 400.0, 3.0, 0.2, 0.01), Viewpoint(15.0, 1.0, 408.0, 4.0, 0.2, 0.02)]
    mean = mean_viewpoint(views, [0.5, 0.5])
    assert (mean.tilt_deg, mean.height_mm, mean.mm_per_px) == (10.0, 404.0, 0.2)
    assert mean.tilt_std_deg == pytest.approx((1.0 + 25.0) ** 0.5)
    assert mean.height_std_mm == pytest.approx((12.5 + 16.0) ** 0.5)
    assert mean.mm_per_px_std == pytest.approx((0.0001 + 0.0004) ** 0.5 / 2**0.5)
