import cv2
import numpy as np
import pytest

from calibration.cautions import NoAnswer, NoAnswerCode
from calibration.edges.line_fit import median
from calibration.edges.straight import fit_edge, snap_to_edge
from tests.synthetic.optics import grey_levels, linear_light

SIZE = 240


def step(angle_deg, *, blur_px=1.0, noise=2.0, low=70.0, high=170.0, seed=0, bend=0.0, offset=0.0):
    """A picture of one blurred step through its middle, and the step's ends (2, 2)."""
    from scipy.special import ndtr

    rng = np.random.default_rng(seed)
    centre = SIZE / 2 + rng.uniform(-0.5, 0.5, 2)
    along = np.array([np.cos(np.radians(angle_deg)), np.sin(np.radians(angle_deg))])
    left = np.array([along[1], -along[0]])
    x, y = np.meshgrid(np.arange(SIZE, dtype=float), np.arange(SIZE, dtype=float))
    across = (x - centre[0]) * left[0] + (y - centre[1]) * left[1] - offset
    t = ((x - centre[0]) * along[0] + (y - centre[1]) * along[1]) / 80.0
    share = ndtr((across - bend * (1 - t**2)) / blur_px)[..., None]
    light = linear_light((low, low, low)) + share * (
        linear_light((high, high, high)) - linear_light((low, low, low))
    )
    picture = np.clip(np.rint(grey_levels(light) + rng.normal(0, noise, light.shape)), 0, 255).astype(
        np.uint8
    )
    return picture, np.array([centre - 80 * along, centre + 80 * along]), left


def errors(angles, **options):
    found = []
    for seed, angle in enumerate(angles):
        picture, ends, left = step(angle, seed=seed, **options)
        fit = fit_edge(picture, ends[0] + 1.7 * left, ends[1] - 1.2 * left, search_px=3.0)
        found.append(
            [(fit.start - ends[0]) @ left, (fit.end - ends[1]) @ left, *np.sqrt(np.diag(fit.offset_cov))]
        )
    return np.array(found)


ANGLES = np.linspace(3, 357, 24)


def test_a_blurred_edge_is_found_to_a_twentieth_of_a_pixel():
    found = errors(ANGLES)
    assert np.sqrt((found[:, :2] ** 2).mean()) < 0.05
    assert abs(found[:, :2].mean()) < 0.02


def test_the_stated_uncertainty_is_that_of_the_scatter():
    found = errors(ANGLES, noise=4.0)
    z = found[:, :2] / found[:, 2:]
    assert 0.5 < np.sqrt((z**2).mean()) < 1.4


def test_scatter_is_no_better_than_the_bound_and_not_much_worse():
    # Cramer-Rao bound of an edge's place: Gatherer, Stanford CSL-TR-93-560, 1993, as recalled:
    # (noise / step) sqrt(2 sqrt(pi) blur) / sqrt(profiles), for the place at the middle of the edge.
    low, high, noise, blur = 100.0, 160.0, 4.0, 1.0
    found = errors(ANGLES, noise=noise, low=low, high=high, blur_px=blur)
    middle = found[:, :2].mean(axis=1)
    # Three channels with independent noise, one pixel row each.
    bound = noise / (high - low) * np.sqrt(2 * np.sqrt(np.pi) * blur) / np.sqrt(3 * 0.9 * 160)
    assert 0.8 * bound < np.sqrt((middle**2).mean()) < 4.0 * bound


def test_the_edge_stays_put_when_contrast_is_strong_and_blur_wide():
    # In the file's encoded values the steepest place lies 0.5 px or more toward the dark side here.
    found = errors(ANGLES[::3], blur_px=2.0, low=20.0, high=230.0)
    assert np.abs(found[:, :2]).max() < 0.12


def test_a_bent_edge_tells_its_sag_and_keeps_its_ends():
    picture, ends, left = step(20.0, bend=1.0)
    fit = fit_edge(picture, *ends, search_px=2.0, bend_std=0.01)
    assert fit.sag_px == pytest.approx(1.0, abs=0.15)
    assert abs((fit.start - ends[0]) @ left) < 0.25


def test_an_opposite_stripe_beside_the_edge_does_not_pull():
    picture, ends, left = step(0.0, noise=1.0)
    dark_row = round(ends[0][1]) - 5
    picture[dark_row - 1 : dark_row + 1] = 110
    fit = fit_edge(picture, *ends, search_px=0.0)
    assert abs((fit.start - ends[0]) @ left) < 0.1


def test_no_edge_no_fit():
    flat = np.full((120, 120, 3), 128, np.uint8)
    assert fit_edge(flat, np.array([20.0, 60.0]), np.array([100.0, 60.0]), search_px=4.0) is None


def test_two_equal_points_give_no_fit():
    picture, ends, _ = step(0.0)
    assert fit_edge(picture, ends[0], ends[0], search_px=3.0) is None


@pytest.mark.parametrize("angle", [0.0, 37.0, 90.0, 200.0])
def test_a_click_snaps_along_the_span_to_the_edge(angle):
    picture, ends, left = step(angle)
    middle = ends.mean(axis=0)
    snapped = snap_to_edge(picture, middle + 3.0 * left, left)
    assert snapped.reason is None
    assert np.linalg.norm(np.array(snapped.point_px) - middle) < 0.15
    assert 0.1 < snapped.std_px < 0.5


def test_a_click_meets_a_slanting_edge_on_the_line_of_the_span():
    picture, ends, left = step(20.0)
    direction = np.array([0.0, 1.0])
    click = ends.mean(axis=0) + np.array([0.0, 2.0])
    snapped = snap_to_edge(picture, click, direction)
    assert snapped.point_px[0] == pytest.approx(click[0], abs=1e-6)
    assert abs((np.array(snapped.point_px) - ends[0]) @ left) < 0.2


def test_a_click_far_from_any_edge_stays():
    picture, ends, left = step(0.0)
    click = ends.mean(axis=0) + 40.0 * left
    snapped = snap_to_edge(picture, click, left)
    assert snapped.reason == NoAnswer.of(NoAnswerCode.NO_EDGE)
    assert snapped.point_px == tuple(click)


def test_agrees_with_opencv_on_a_corner():
    # Second method: cornerSubPix on a chessboard-like crossing of two edges.
    first, _, _ = step(0.0, blur_px=1.2, noise=0.5, seed=3)
    second = np.ascontiguousarray(np.rot90(first))
    crossing = np.where((first[..., :1] > 120) ^ (second[..., :1] > 120), 170, 70).astype(np.uint8)
    light = cv2.GaussianBlur(linear_light(np.repeat(crossing, 3, axis=2)), (0, 0), 1.2)
    soft = np.rint(grey_levels(light)).astype(np.uint8)
    criteria = (cv2.TERM_CRITERIA_EPS | cv2.TERM_CRITERIA_MAX_ITER, 50, 1e-3)
    seed = np.array([[[120.0, 120.0]]], np.float32)
    corner = cv2.cornerSubPix(
        cv2.cvtColor(soft, cv2.COLOR_BGR2GRAY), seed, (9, 9), (-1, -1), criteria
    ).ravel()
    x, y = float(corner[0]), float(corner[1])
    across = fit_edge(soft, np.array([x + 5, y]), np.array([x + 70, y]), search_px=2.0)
    down = fit_edge(soft, np.array([x, y + 5]), np.array([x, y + 70]), search_px=2.0)
    assert across.start[1] == pytest.approx(y, abs=0.06)
    assert down.start[0] == pytest.approx(x, abs=0.06)


def test_the_quick_median_is_numpys() -> None:
    rng = np.random.default_rng(2)
    for count in range(1, 60):
        values = rng.normal(size=count)
        assert median(values) == np.median(values)
