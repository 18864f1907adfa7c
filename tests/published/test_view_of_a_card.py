"""One worked view of an ID-1 card, and what is known of such views.

Camera: focal length 3000 px, centre (2016, 1512); rotation vector (0.35, -0.25, 0.10), translation (-40, -25,
500) mm. Figures recomputed with OpenCV 4.14 and 5.0 and scikit-image 0.26. Zhang and He, Whiteboard scanning
and image enhancement, MSR-TR-2003-39, for the focal length and aspect of one rectangle; the parallax factor
Z/(Z - h) and the cosine of the tilt are the pinhole model's.
"""

from dataclasses import replace

import cv2
import numpy as np
import pytest
from numpy.testing import assert_allclose

from calibration.camera.prior import Camera
from calibration.objects import ID1
from calibration.plane.fit import fit_plane
from measure.kinds.span import measure_span
from tests.published.printed import agrees

CAMERA = Camera(4032, 3024, 3000.0, 0.03, (2016.0, 1512.0), 40.0)
CORNERS = np.array(
    [[1776.0, 1362.0], [2260.436886, 1394.799953], [2210.510563, 1679.068439], [1740.425261, 1659.568728]]
)
ENDS = np.array([[2433.254052, 1460.331606], [3503.172183, 1527.412983]])
PLANE = fit_plane(CAMERA, ID1, CORNERS, 0.01 * np.eye(8))


def test_pose_tilt_distance_and_camera_centre() -> None:
    assert_allclose(cv2.Rodrigues(PLANE.rotation)[0].ravel(), [0.35, -0.25, 0.10], atol=1e-6)
    assert_allclose(PLANE.translation_mm, [-40.0, -25.0, 500.0], atol=1e-4)
    assert agrees(PLANE.tilt_deg, "24.6334")
    assert agrees(PLANE.distance_mm, "472.262")
    assert_allclose(PLANE.camera_centre_mm, [-89.6688, -145.4411, -472.262], atol=2e-4)


def test_points_and_length_beside_the_card() -> None:
    assert_allclose(PLANE.to_mm(ENDS), [[120, 10], [348, 10]], atol=1e-4)
    assert agrees(measure_span(PLANE, ENDS).value_mm, "228.000")


def test_the_homography_of_millimetres_to_pixels() -> None:
    printed = [
        [6.8309902394, 0.4772435486, 1776.0],
        [1.106161308, 6.5960636338, 1362.0],
        [0.0005183426, 0.0006528744, 1.0],
    ]
    found = CAMERA.matrix @ np.column_stack([PLANE.rotation[:, :2], PLANE.translation_mm])
    assert_allclose(found / found[2, 2], printed, rtol=1e-6)


def test_zhang_and_hes_focal_length_is_what_a_vague_prior_recovers() -> None:
    # From four corners alone, exact to 1e-6 px: f = 3000.000, side ratio 1.585773.
    one, two, four, three = (np.append(corner - [2016, 1512], 1.0) for corner in CORNERS)
    k2 = np.cross(one, four) @ three / (np.cross(two, four) @ three)
    k3 = np.cross(one, four) @ two / (np.cross(three, four) @ two)
    n2, n3 = k2 * two - one, k3 * three - one
    focal_px = np.sqrt(-(n2[:2] @ n3[:2]) / (n2[2] * n3[2]))
    assert agrees(focal_px, "3000.00")
    weights = np.array([1 / focal_px**2, 1 / focal_px**2, 1.0])
    assert agrees(np.sqrt((n2**2 @ weights) / (n3**2 @ weights)), "1.58577")
    vague = Camera(4032, 3024, 2500.0, 0.25, (2016.0, 1512.0), 0.1, k1_std=1e-6)
    rigid = replace(ID1, width_std_mm=1e-6, height_std_mm=1e-6, flatness_std_mm=1e-6)
    assert fit_plane(vague, rigid, CORNERS, 1e-8 * np.eye(8)).camera.focal_px == pytest.approx(
        focal_px, rel=0.02
    )


@pytest.mark.parametrize(
    ("distance_mm", "height_mm", "read_mm"),
    [
        (600, 24.0, "237.5000"),
        (600, 25.4, "238.0787"),
        (600, 6.35, "230.4388"),
        (600, 0.76, "228.2892"),
        (600, -0.76, "227.7116"),
        (300, 24.0, "247.8261"),
        (1000, 24.0, "233.6066"),
        (2000, 24.0, "230.7692"),
    ],
)
def test_an_edge_nearer_the_camera_reads_long_and_its_stand_off_corrects_it(
    distance_mm: float, height_mm: float, read_mm: str
) -> None:
    translation = np.array([-42.8, -26.99, distance_mm])
    focal_px = 5.0 * distance_mm
    camera = Camera(4032, 3024, focal_px, 0.03, (2015.5, 1511.5), 40.0)
    flat = np.array([[0, 0, 0], [85.6, 0, 0], [85.6, 53.98, 0], [0, 53.98, 0]])
    plane = fit_plane(camera, ID1, camera.project(flat + translation), 0.01 * np.eye(8))
    ends = camera.project(np.array([[-71.2, 27.0, -height_mm], [156.8, 27.0, -height_mm]]) + translation)
    assert agrees(measure_span(plane, ends).value_mm, read_mm, units=4)
    assert agrees(measure_span(plane, ends, standoff_mm=height_mm).value_mm, "228.000", units=2)


@pytest.mark.parametrize(
    ("tilt_deg", "read_mm"), [(2, "227.8611"), (5, "227.1324"), (10, "224.5362"), (15, "220.2311")]
)
def test_a_tilt_is_undone_where_one_scale_would_lose_its_cosine(tilt_deg: float, read_mm: str) -> None:
    # From far away, where perspective is nothing, a span along the tilt shrinks by the cosine.
    far = 60_000.0
    camera = Camera(4032, 3024, 5.0 * far, 0.03, (2015.5, 1511.5), 40.0)
    turn = cv2.Rodrigues(np.array([0.0, np.radians(tilt_deg), 0.0]))[0]
    flat = np.array([[0, 0, 0], [85.6, 0, 0], [85.6, 53.98, 0], [0, 53.98, 0]]) - [42.8, 26.99, 0]
    translation = np.array([0.0, 0.0, far])
    ends = camera.project(np.array([[-114.0, 0, 0], [114.0, 0, 0]]) @ turn.T + translation)
    assert np.linalg.norm(ends[1] - ends[0]) / 5.0 == pytest.approx(float(read_mm), rel=2e-5)
    plane = fit_plane(camera, ID1, camera.project(flat @ turn.T + translation), 1e-6 * np.eye(8))
    assert measure_span(plane, ends, click_std_px=0.01).value_mm == pytest.approx(228.0, abs=0.05)


def test_a_scale_from_pixels_has_the_propagated_uncertainty() -> None:
    # L = D W / W_px with W 85.60 (0.0722) mm, W_px 428 (0.4243), D 1140 (1.4142): 228.00 mm, u 0.410 mm,
    # recomputed with the uncertainties package. From straight above a span across the card is such a ratio.
    from measure.length.value import Contribution, Length

    width = Length(85.60, {"W": Contribution("card size", True, 0.0722)})
    card_px = Length(428.0, {"px": Contribution("card corners", True, 0.4243)})
    part_px = Length(1140.0, {"D": Contribution("click", False, 1.4142)})
    ratio = part_px / card_px
    total = np.hypot(width.value_mm * ratio.standard_uncertainty, ratio.value * width.standard_uncertainty_mm)
    assert agrees(width.value_mm * ratio.value, "228.00")
    assert agrees(float(total), "0.410")
