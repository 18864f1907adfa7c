"""How closely points count as marked: by zoom, picture, blur and whether they moved to an edge."""

from types import SimpleNamespace

import cv2
import numpy as np
import pytest

from measure.kinds.clicks import click_std_px
from measure.kinds.measuring import on_planes
from measure.kinds.snapping import seen_ends
from measure.kinds.terms import Choices
from tests.measure.kinds.test_span import plane

LARGE_PX, SMALL_PX = (4032, 3024), (640, 480)
EDGE_PX, ROW_PX = 60.0, 60.0


def step(blur_px: float) -> SimpleNamespace:
    """Return a small picture, dark left of an upright edge and bright right of it."""
    row = np.where(np.arange(640) < EDGE_PX, 60.0, 190.0)
    wide = np.repeat(np.repeat(row[None, :, None], 480, axis=0), 3, axis=2)
    return SimpleNamespace(pixels_bgr=cv2.GaussianBlur(wide, (0, 0), blur_px).round().astype(np.uint8))


def std_px(photo, x_px: float, **how) -> float:
    """Return the uncertainty of the left end of a level span."""
    how = {"snap": False, "click_std_px": None, **how}
    return seen_ends(photo, [(x_px, ROW_PX), (300.0, ROW_PX)], **how)[0].point.std_px


def test_the_closer_the_zoom_the_better_the_point() -> None:
    stds = [click_std_px(LARGE_PX, zoom_factor=zoom) for zoom in (0.1, 0.25, 0.5, 1.0, 2.0)]
    assert stds == sorted(stds, reverse=True)
    assert stds[1] == pytest.approx(3.4)


def test_nobody_sees_into_a_pixel() -> None:
    assert click_std_px(SMALL_PX, zoom_factor=50.0) == pytest.approx(12**-0.5)


def test_blur_sets_a_floor_that_no_zoom_passes() -> None:
    assert click_std_px(LARGE_PX, zoom_factor=50.0, blur_px=4.0) > 1.2
    stds = [click_std_px(SMALL_PX, blur_px=blur) for blur in (0.0, 0.5, 1.0, 2.0, 4.0)]
    assert stds == sorted(stds)


def test_without_a_zoom_a_large_picture_counts_as_before_and_a_small_one_for_less() -> None:
    assert click_std_px(LARGE_PX) == click_std_px(LARGE_PX[::-1]) == pytest.approx(1.0)
    assert click_std_px(SMALL_PX) == pytest.approx(0.4996, abs=1e-3)
    assert click_std_px(SMALL_PX[::-1]) == pytest.approx(0.616, abs=1e-3)


def test_an_end_on_an_edge_counts_for_less_than_one_as_clicked() -> None:
    snapped = std_px(step(0.7), EDGE_PX + 0.4, snap=True)
    assert snapped < 0.2 < std_px(step(0.7), EDGE_PX + 0.4)


def test_an_end_on_a_blurred_edge_counts_for_more() -> None:
    sharp, soft = (std_px(step(blur_px), EDGE_PX) for blur_px in (0.7, 3.0))
    assert sharp == pytest.approx(np.hypot(0.4996, 0.3 * 0.7), abs=0.04)
    assert soft == pytest.approx(np.hypot(0.4996, 0.3 * 3.0), abs=0.1)
    assert std_px(step(3.0), 200.0) == pytest.approx(0.4996, abs=1e-3)  # nothing there


def test_what_the_user_states_stays() -> None:
    assert std_px(step(3.0), EDGE_PX, click_std_px=0.8) == 0.8


@pytest.mark.parametrize("kind", ["span", "gap", "round"])
def test_every_kind_says_how_well_its_points_are_known(kind) -> None:
    points = {
        "span": [(20, 20), (90, 30)],
        "gap": [(20, 20), (90, 20), (20, 80), (90, 80)],
        "round": plane().to_px([(40, 0), (80, 40), (40, 80), (0, 40)]),
    }[kind]
    photo = SimpleNamespace(pixels_bgr=np.full((480, 640, 3), 120, np.uint8))
    for stated, expected in ((None, 0.4996), (0.8, 0.8)):
        measured = on_planes(kind, photo, points, Choices(snap=False, click_std_px=stated))(plane())
        assert measured.std_px == pytest.approx((expected,) * len(points), abs=1e-3)
        clicks = [line.u_mm for line in measured.result.budget if line.source == "click"]
        assert len(clicks) == 1
