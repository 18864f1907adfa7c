"""The plane of a card: exact views, second methods, and covariances against repeated trials."""

from dataclasses import replace

import cv2
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose
from scipy.spatial.transform import Rotation
from skimage.transform import ProjectiveTransform

from calibration.camera.prior import Camera
from calibration.cautions import CautionCode
from calibration.errors import GeometryError
from calibration.objects import ID1
from calibration.plane.fit import fit_plane, with_runner_up
from tests.calibration.plane.moving import moved, sensitivity

CAMERA = Camera(4032, 3024, 3000.0, 0.03, (2016.0, 1512.0), 40.0)
CARD = np.array([[0.0, 0.0], [85.6, 0.0], [85.6, 53.98], [0.0, 53.98]])
COV = 0.01 * np.eye(8)


def turned(tilt_deg: float, about_deg: float, spin_deg: float) -> np.ndarray:
    axis = np.array([np.cos(np.radians(about_deg)), np.sin(np.radians(about_deg)), 0.0])
    tilt, _ = cv2.Rodrigues(axis * np.radians(tilt_deg))
    spin, _ = cv2.Rodrigues(np.array([0.0, 0.0, np.radians(spin_deg)]))
    return tilt @ spin


def seen(
    points: np.ndarray, rotation: np.ndarray, translation: np.ndarray, camera: Camera = CAMERA
) -> np.ndarray:
    """Project by the library, so that our own projection is no judge of itself; the division must be 0."""
    solid = np.column_stack([points, np.zeros(len(points))]) if points.shape[1] == 2 else points
    picture, _ = cv2.projectPoints(
        solid, cv2.Rodrigues(rotation)[0], translation, camera.matrix, np.array(camera.distortion)
    )
    return picture.reshape(-1, 2)


ROTATION, TRANSLATION = turned(25.0, 70.0, 15.0), np.array([-60.0, -40.0, 520.0])


@pytest.mark.parametrize("tilt_deg", [0.0, 8.0, 30.0, 55.0])
def test_an_exact_view_gives_the_exact_pose(tilt_deg: float) -> None:
    rotation = turned(tilt_deg, 70.0, 15.0)
    plane = fit_plane(CAMERA, ID1, seen(CARD, rotation, TRANSLATION), COV)
    assert_allclose(plane.rotation, rotation, atol=1e-6)
    assert_allclose(plane.translation_mm, TRANSLATION, atol=1e-3)
    assert plane.tilt_deg == pytest.approx(tilt_deg, abs=1e-3)
    assert plane.distance_mm == pytest.approx(abs((rotation.T @ TRANSLATION)[2]), abs=1e-3)


@pytest.mark.parametrize("distance_mm", [100.0, 250.0, 1000.0])
@pytest.mark.parametrize("tilt_deg", [0.0, 1e-7, 1e-4, 0.01])
def test_a_card_seen_square_on_gives_the_exact_pose(tilt_deg: float, distance_mm: float) -> None:
    camera = replace(CAMERA, principal_point_px=(2015.5, 1511.5))
    for spin_deg in range(-180, 181, 10):
        rotation = turned(tilt_deg, 70.0, spin_deg)
        translation = np.array([0.0, 0.0, distance_mm]) - rotation[:, :2] @ CARD.mean(axis=0)
        plane = fit_plane(camera, ID1, seen(CARD, rotation, translation, camera), COV)
        assert_allclose(plane.rotation, rotation, atol=1e-5)
        assert plane.tilt_deg == pytest.approx(tilt_deg, abs=1e-3)
        assert plane.distance_mm == pytest.approx(distance_mm, rel=1e-5)


def test_the_librarys_pose_agrees_where_the_focal_length_is_certain() -> None:
    camera = replace(CAMERA, log_focal_std=1e-9, principal_point_std_px=1e-9, k1_std=1e-9)
    rigid = replace(ID1, flatness_std_mm=1e-9, width_std_mm=1e-9, height_std_mm=1e-9, outline_std_mm=0.0)
    noisy = seen(CARD, ROTATION, TRANSLATION) + np.random.default_rng(1).normal(0, 0.1, (4, 2))
    plane = fit_plane(camera, rigid, noisy, COV)
    solid = np.column_stack([CARD, np.zeros(4)])
    _, rotation_vector, translation = cv2.solvePnP(
        solid, noisy, camera.matrix, None, flags=cv2.SOLVEPNP_ITERATIVE
    )
    rotation_vector, translation = cv2.solvePnPRefineLM(
        solid, noisy, camera.matrix, None, rotation_vector, translation
    )
    assert_allclose(plane.rotation, cv2.Rodrigues(rotation_vector)[0], atol=2e-6)
    assert_allclose(plane.translation_mm, translation.ravel(), rtol=1e-5)


def test_two_libraries_homographies_agree_in_the_plane() -> None:
    corners = seen(CARD, ROTATION, TRANSLATION)
    plane = fit_plane(CAMERA, ID1, corners, COV)
    points = np.array([[900.0, 700.0], [2500.0, 900.0], [3000.0, 2400.0]])
    mapped = cv2.perspectiveTransform(points[:, None], cv2.findHomography(corners, CARD)[0])
    assert_allclose(plane.to_mm(points), mapped.reshape(-1, 2), atol=2e-3)
    other = ProjectiveTransform.from_estimate(corners, CARD)
    assert_allclose(plane.to_mm(points), other(points), atol=2e-3)


@pytest.mark.parametrize("height_mm", [-20.0, 0.0, 35.0])
def test_points_above_and_below_the_plane_are_met_by_their_rays(height_mm: float) -> None:
    plane = fit_plane(CAMERA, ID1, seen(CARD, ROTATION, TRANSLATION), COV)
    flat = np.array([[120.0, -10.0], [-80.0, 60.0]])
    # Clockwise corners: z points away from the camera, so a height toward it is negative.
    picture = seen(np.column_stack([flat, np.full(2, -height_mm)]), ROTATION, TRANSLATION)
    assert_allclose(plane.to_mm(picture, height_mm), flat, atol=2e-3)
    assert_allclose(plane.to_px(flat, height_mm), picture, atol=2e-3)


def test_a_ray_leads_from_the_camera_to_the_point() -> None:
    plane = fit_plane(CAMERA, ID1, seen(CARD, ROTATION, TRANSLATION), COV)
    point = np.array([120.0, -10.0, 0.0])
    way = point - plane.camera_centre_mm
    assert_allclose(
        plane.ray(seen(point[None], ROTATION, TRANSLATION))[0], way / np.linalg.norm(way), atol=1e-6
    )


def test_corners_given_the_other_way_round_measure_the_same() -> None:
    corners = seen(CARD, ROTATION, TRANSLATION)
    flipped = corners[[1, 0, 3, 2]]
    one, other = fit_plane(CAMERA, ID1, corners, COV), fit_plane(CAMERA, ID1, flipped, COV)
    points = np.array([[900.0, 700.0], [2500.0, 900.0]])
    for height_mm in (0.0, 30.0):
        lengths = [np.linalg.norm(np.diff(plane.to_mm(points, height_mm), axis=0)) for plane in (one, other)]
        assert lengths[0] == pytest.approx(lengths[1], abs=1e-4)


def test_an_input_moves_the_plane_as_a_new_fit_to_changed_corners_does() -> None:
    corners = seen(CARD, ROTATION, TRANSLATION)
    plane = fit_plane(CAMERA, ID1, corners, COV)
    point = np.array([[3000.0, 2400.0]])
    # A unit diagonal covariance leaves the whitened inputs in the order of the coordinates.
    index = [key for key, _ in plane.error_sources].index("card-corners-3")
    changed = corners.copy()
    changed[1, 0] += 0.1
    again = fit_plane(CAMERA, ID1, changed, COV)
    assert_allclose(
        moved(plane, index, 1.0).to_mm(point) - plane.to_mm(point),
        again.to_mm(point) - plane.to_mm(point),
        rtol=0.05,
        atol=1e-4,
    )


def test_a_changed_prior_moves_the_plane_as_its_input_says() -> None:
    corners = seen(CARD, ROTATION, TRANSLATION)
    plane = fit_plane(CAMERA, ID1, corners, COV)
    longer = replace(CAMERA, focal_px=CAMERA.focal_px * np.exp(CAMERA.log_focal_std))
    index = [source for _, source in plane.error_sources].index("focal length")
    point = np.array([[3000.0, 2400.0]])
    expected = fit_plane(longer, ID1, corners, COV).to_mm(point, 30.0) - plane.to_mm(point, 30.0)
    assert_allclose(
        moved(plane, index, 1.0).to_mm(point, 30.0) - plane.to_mm(point, 30.0), expected, rtol=0.1
    )


def test_the_corners_improve_a_vague_focal_length_where_the_view_is_tilted() -> None:
    vague = replace(CAMERA, log_focal_std=0.25)
    tilted = fit_plane(vague, ID1, seen(CARD, turned(35.0, 70.0, 15.0), TRANSLATION), COV)
    overhead = fit_plane(vague, ID1, seen(CARD, turned(0.5, 70.0, 15.0), TRANSLATION), COV)
    assert tilted.log_focal_std < 0.06 < overhead.log_focal_std


def test_sensitivity_differentiates_any_function_of_the_plane() -> None:
    plane = fit_plane(CAMERA, ID1, seen(CARD, ROTATION, TRANSLATION), COV)
    points = np.array([[900.0, 700.0], [2500.0, 900.0]])
    slopes = sensitivity(plane, lambda other: other.to_mm(points))
    size = len(plane.error_sources)
    spread = plane.to_mm_spread(np.concatenate([np.eye(size), -np.eye(size)]), points[None], np.zeros(2))
    assert_allclose(slopes, (spread[:size] - spread[size:]) / 2, atol=1e-9)


def test_a_pose_extrapolates_better_than_eight_free_numbers() -> None:
    rng = np.random.default_rng(5)
    rotation = turned(20.0, 70.0, 0.0)
    translation = np.array([0.0, 0.0, 600.0]) - rotation @ [42.8, 26.99, 0.0]
    corners = seen(CARD, rotation, translation)
    ends = seen(np.array([[112.8, 26.99], [340.8, 26.99]]), rotation, translation)
    free, posed = [], []
    for _ in range(60):
        noisy = corners + rng.normal(0, 0.3, (4, 2))
        there = cv2.perspectiveTransform(ends[:, None], cv2.findHomography(noisy, CARD)[0]).reshape(-1, 2)
        free.append(np.linalg.norm(there[1] - there[0]))
        here = fit_plane(CAMERA, ID1, noisy, 0.09 * np.eye(8)).to_mm(ends)
        posed.append(np.linalg.norm(here[1] - here[0]))
    assert np.std(free) == pytest.approx(2.2, rel=0.3)
    assert np.std(posed) < 0.65 * np.std(free)


def test_far_away_two_tilts_are_possible_and_said_to_be() -> None:
    far = np.array([-42.8, -26.99, 6000.0])
    camera = replace(CAMERA, focal_px=12000.0)
    noise = np.random.default_rng(2).normal(0, 0.3, (4, 2))
    plane = fit_plane(
        camera, ID1, seen(CARD, turned(20.0, 60.0, 10.0), far, camera) + noise, 0.09 * np.eye(8)
    )
    assert plane.runner_up is not None
    assert ("two-fold-tilt-1", "two-fold tilt") in plane.error_sources
    assert CautionCode.TWO_TILTS in [one.code for one in plane.cautions]


@pytest.mark.parametrize("short_rad", [0.0, 1e-9, 1e-7, 9e-6, 1e-3, 1.0])
@pytest.mark.parametrize("axis", [[1.0, 0.0, 0.0], [0.0, 0.6, 0.8], [-0.48, 0.6, 0.64]])
def test_the_step_to_a_second_pose_reaches_it_even_half_a_turn_away(
    axis: list[float], short_rad: float
) -> None:
    plane = fit_plane(CAMERA, ID1, seen(CARD, ROTATION, TRANSLATION), COV)
    turn = Rotation.from_rotvec((np.pi - short_rad) * np.array(axis)).as_matrix()
    other = replace(plane, base=plane.base @ turn)
    step = with_runner_up(plane, other, 1.0).sensitivity_matrix[:, -1] / 0.5**0.5
    reached = plane.base @ Rotation.from_rotvec(step[:3]).as_matrix()
    assert_allclose(reached, other.base, atol=1e-12)


def test_a_wrong_object_is_noticed_where_the_corners_are_sharp() -> None:
    # A true rectangle: corners that are off by themselves would hide it.
    wrong = replace(ID1, height_mm=55.0, outline_std_mm=0.0)
    plane = fit_plane(CAMERA, wrong, seen(CARD, ROTATION, TRANSLATION), 0.0025 * np.eye(8))
    assert CautionCode.MISFIT in [one.code for one in plane.cautions]


def test_a_steep_view_and_a_tiny_card_are_cautioned() -> None:
    steep = fit_plane(CAMERA, ID1, seen(CARD, turned(55.0, 70.0, 15.0), TRANSLATION), COV)
    assert CautionCode.STEEP_PLANE in [one.code for one in steep.cautions]
    tiny = fit_plane(CAMERA, ID1, seen(CARD, ROTATION, TRANSLATION * [1, 1, 6]), COV)
    assert CautionCode.SMALL_REFERENCE in [one.code for one in tiny.cautions]


@pytest.mark.parametrize(
    ("corners", "message"),
    [
        ([[0, 0], [10, 0], [20, 0], [30, 0]], "line"),
        ([[0, 0], [500, 0], [0, 300], [500, 300]], "convex"),
        ([[0, 0], [500, 0], [500, 300], [np.nan, 300]], "finite"),
        ([[0, 0], [500, 0], [500, 300]], "four corners"),
        ([[5, 5], [5, 5], [5, 5], [5, 5]], "line"),
    ],
)
def test_impossible_corners_are_refused(corners: list[list[float]], message: str) -> None:
    with pytest.raises(GeometryError, match=message):
        fit_plane(CAMERA, ID1, corners, COV)


@pytest.mark.parametrize("cov", [np.zeros((8, 8)), -np.eye(8), np.eye(4), np.full((8, 8), np.nan)])
def test_an_impossible_covariance_is_refused(cov: np.ndarray) -> None:
    with pytest.raises(GeometryError, match="covariance"):
        fit_plane(CAMERA, ID1, seen(CARD, ROTATION, TRANSLATION), cov)


def test_a_point_beyond_the_horizon_is_refused_in_words() -> None:
    plane = fit_plane(CAMERA, ID1, seen(CARD, turned(70.0, 0.0, 0.0), np.array([-40.0, 0.0, 400.0])), COV)
    beyond = np.array([[2016.0, -3000.0], [2016.0, 6000.0]])
    with pytest.raises(GeometryError, match="horizon"):
        plane.to_mm(beyond)


@settings(max_examples=20, deadline=None, derandomize=True)
@given(
    tilt_deg=st.floats(0.0, 50.0),
    about_deg=st.floats(0.0, 360.0),
    spin_deg=st.floats(-180.0, 180.0),
    distance_mm=st.floats(250.0, 1500.0),
)
def test_pixels_to_millimetres_and_back_returns_the_pixel(
    tilt_deg: float, about_deg: float, spin_deg: float, distance_mm: float
) -> None:
    camera = replace(CAMERA, distortion=(-0.1, 0.02, 0.001, 0.0, 0.0))
    rotation = turned(tilt_deg, about_deg, spin_deg)
    translation = np.array([0.0, 0.0, distance_mm]) - rotation @ [42.8, 26.99, 0.0]
    plane = fit_plane(camera, ID1, seen(CARD, rotation, translation, camera), COV)
    pixels = np.array([[1500.0, 1200.0], [2500.0, 1800.0]])
    assert_allclose(plane.to_px(plane.to_mm(pixels, 12.0), 12.0), pixels, atol=1e-5)


@pytest.mark.parametrize("turn", [1, 2, 3])
def test_turning_the_photo_keeps_the_millimetres(turn: int) -> None:
    corners, ends = seen(CARD, ROTATION, TRANSLATION), np.array([[900.0, 700.0], [2500.0, 900.0]])

    def quarter(points: np.ndarray, width: float, height: float) -> np.ndarray:
        for _ in range(turn):
            points = np.column_stack([height - 1 - points[:, 1], points[:, 0]])
            width, height = height, width
        return points

    size = (4032, 3024) if turn == 2 else (3024, 4032)
    centre = tuple(float(value) for value in quarter(np.array([CAMERA.principal_point_px]), 4032, 3024)[0])
    other = replace(CAMERA, width_px=size[0], height_px=size[1], principal_point_px=centre)
    one = fit_plane(CAMERA, ID1, corners, COV).to_mm(ends, 20.0)
    two = fit_plane(other, ID1, quarter(corners, 4032, 3024), COV).to_mm(quarter(ends, 4032, 3024), 20.0)
    assert_allclose(one, two, atol=1e-4)


def test_enlarging_the_photo_keeps_the_millimetres() -> None:
    corners, ends = seen(CARD, ROTATION, TRANSLATION), np.array([[900.0, 700.0], [2500.0, 900.0]])
    twice = replace(
        CAMERA,
        width_px=8064,
        height_px=6048,
        focal_px=6000.0,
        principal_point_px=(4032.5, 3024.5),
        principal_point_std_px=80.0,
    )
    one = fit_plane(CAMERA, ID1, corners, COV).to_mm(ends)
    two = fit_plane(twice, ID1, (corners + 0.5) * 2 - 0.5, 4 * COV).to_mm((ends + 0.5) * 2 - 0.5)
    assert_allclose(one, two, atol=1e-4)


def test_any_four_points_give_a_plane_or_a_reason() -> None:
    rng = np.random.default_rng(8)
    vague = replace(CAMERA, log_focal_std=0.25, division=-0.16, k1_std=0.12)
    outcomes = []
    for _ in range(60):
        corners = rng.uniform(0, 1, (4, 2)) * [4031, 3023]
        around = corners - corners.mean(axis=0)
        corners = corners[np.argsort(np.arctan2(around[:, 1], around[:, 0]))]
        try:
            outcomes.append(np.isfinite(fit_plane(vague, ID1, corners, COV).tilt_deg))
        except GeometryError as reason:
            outcomes.append("corners" in str(reason))
    assert all(outcomes)
