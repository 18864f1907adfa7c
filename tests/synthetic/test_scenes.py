"""The generator itself: its edges lie where its truth says, by OpenCV's own projection."""

import cv2
import numpy as np
import pytest
from scipy.ndimage import map_coordinates  # type: ignore[attr-defined]

from calibration.objects import object_from_key
from tests.synthetic.bend import Bend, draw_bend
from tests.synthetic.card import draw_card
from tests.synthetic.clutter import ODD_ASPECTS
from tests.synthetic.layout import LEVELS, corner_points, draw_view
from tests.synthetic.optics import TO_LINEAR, blur
from tests.synthetic.raster import Canvas
from tests.synthetic.scenes import HELD_OUT_SEEDS, SEEDED_AS, TUNING_SEEDS, make_scene

STANDARD_ASPECTS = (85.60 / 53.98, 88.9 / 63.5, 88 / 63, 297 / 210, 279.4 / 215.9)


def crossings_px(light: np.ndarray, points: np.ndarray, normals: np.ndarray, level: float) -> np.ndarray:
    """Where the picture crosses this level along the normals, from the points, looked up on cubic splines."""
    t = np.linspace(-4, 4, 161)
    at = points[:, None] + t[:, None] * normals[:, None]
    values = map_coordinates(light, [at[..., 1], at[..., 0]], order=3)
    i = np.argmax(values > level, axis=1)
    rows = np.arange(len(points))
    low, high = values[rows, i - 1], values[rows, i]
    crossings: np.ndarray = t[i - 1] + (level - low) / (high - low) * (t[1] - t[0])
    return crossings


@pytest.mark.parametrize(("seed", "bow_mm"), [(3, 0.0), (11, 0.0), (42, 3.0)])
def test_step_edges_lie_where_opencv_projects_them(seed: int, bow_mm: float) -> None:
    card = object_from_key("id1")
    bend = Bend(card.width_mm, card.height_mm, bow_mm, 0.4)
    view = draw_view(np.random.default_rng(seed), LEVELS["clutter"], card, 2.0)
    canvas = Canvas(view.camera, view.pose)
    bright = float(TO_LINEAR[230])
    canvas.light[:] = bright  # the card's rim has the table's colour, so only the upper face makes edges
    draw_card(canvas, card, np.full((8, 8, 3), 60, np.uint8), shadow=0.0, rim_bgr=(230,) * 3, bend=bend)
    inside = float(canvas.light.min())
    light = blur(canvas.light, 0.8, (0, 0))[..., 1]
    corners = corner_points(card)
    rotation, _ = cv2.Rodrigues(view.pose.rotation)
    for a, b in zip(corners, np.roll(corners, -1, axis=0), strict=True):
        along = bend.raised(a + np.linspace(0.15, 0.85, 40)[:, None] * (b - a))
        distortion = np.array([view.camera.k1, 0, 0, 0, 0])
        px, _ = cv2.projectPoints(along, rotation, view.pose.translation_mm, view.camera.matrix, distortion)
        px = px.reshape(-1, 2)
        tangent = np.gradient(px, axis=0)
        tangent /= np.linalg.norm(tangent, axis=1, keepdims=True)
        normals = np.column_stack([tangent[:, 1], -tangent[:, 0]])
        offsets = crossings_px(light, px, normals, (bright + inside) / 2)
        assert abs(np.mean(offsets)) < 0.02
        assert np.abs(offsets).max() < 0.05


def test_same_seed_gives_the_same_file() -> None:
    first, second = (make_scene(5, "clutter", megapixels=0.4) for _ in range(2))
    assert first.jpeg == second.jpeg


def test_truth_agrees_with_opencv_projection() -> None:
    scene = make_scene(8, "hostile", megapixels=0.4)
    assert scene.object_key is not None
    assert scene.corners_px is not None
    card = object_from_key(scene.object_key)
    flat = corner_points(card)
    rotation, _ = cv2.Rodrigues(scene.rotation)
    bend = draw_bend(np.random.default_rng([SEEDED_AS, 77, 8]), card)
    corners = np.column_stack([flat[:, :2], -bend.height(flat[:, :2], curled=False)])
    px, _ = cv2.projectPoints(
        corners, rotation, scene.translation_mm, scene.matrix, np.array(scene.distortion)
    )
    np.testing.assert_allclose(px.reshape(-1, 2), scene.corners_px, atol=1e-6)
    assert scene.pixels_bgr.shape[:2] == (scene.height_px, scene.width_px)


def test_decoys_have_no_standard_proportions() -> None:
    for low, high in ODD_ASPECTS:
        assert all(aspect < 0.93 * low or aspect > 1.07 * high for aspect in STANDARD_ASPECTS)


def test_seed_ranges_do_not_meet() -> None:
    assert not set(TUNING_SEEDS) & set(HELD_OUT_SEEDS)
