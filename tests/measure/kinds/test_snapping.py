"""Ends of spans against simulated rounded edges whose outline is known."""

from types import SimpleNamespace

import numpy as np
import pytest

from measure.kinds.snapping import SeenEnd, UsedPoint, seen_ends
from tests.synthetic.rounded_edge import HEIGHT_PX, draw_edge

ROW = HEIGHT_PX / 2


def ends_outward_px(seed: int, count: int, radius_mm=(0.15, 1.0), blur_px=(0.5, 1.1)) -> np.ndarray:
    """Return px outside the outline of each snapped end, as found and as shaped, and its uncertainty."""
    rng = np.random.default_rng(seed)
    rows = []
    for _ in range(count):
        edge = draw_edge(rng, radius_mm, blur_px)
        click = (edge.outline_px + rng.uniform(-0.8, 0.8), ROW)
        photo = SimpleNamespace(pixels_bgr=edge.pixels_bgr)
        end = seen_ends(photo, [(5.0, ROW), click], snap=True, click_std_px=1.0)[1]
        used = end.shaped(edge.px_per_mm)
        if used.snapped:
            places = end.point.used_px[0], used.used_px[0]
            rows.append((*(x - edge.outline_px for x in places), used.std_px))
    return np.array(rows)


@pytest.fixture(scope="module")
def rounded() -> np.ndarray:
    return ends_outward_px(4100, 120)


def test_a_rounded_edges_outline_is_looked_for_in_its_shade(rounded) -> None:
    """The steepest place alone lies where the shade begins: every length would read short."""
    found, shaped, _ = rounded.T
    assert found.mean() < -0.5
    assert abs(shaped.mean()) < 0.75 * abs(found.mean())
    assert np.mean(shaped**2) < 0.8 * np.mean(found**2)


def test_the_outline_lies_within_the_stated_uncertainty(rounded) -> None:
    _, shaped, std = rounded.T
    assert np.mean(np.abs(shaped) < 1.96 * std) > 0.93


def test_a_sharp_edge_stays_within_its_uncertainty() -> None:
    _, shaped, std = ends_outward_px(4101, 60, radius_mm=(0.0, 0.08)).T
    assert np.mean(np.abs(shaped) < 1.96 * std) > 0.95
    assert abs(shaped.mean()) < 0.5


def test_an_edge_out_of_focus_is_not_taken_for_a_shade() -> None:
    _, shaped, std = ends_outward_px(4102, 60, radius_mm=(0.0, 0.08), blur_px=(2.5, 3.5)).T
    assert abs(shaped.mean()) < 0.5
    assert np.mean(np.abs(shaped) < 1.96 * std) > 0.95


def test_an_end_moves_outward_along_its_span_by_half_its_shade() -> None:
    point = UsedPoint((10.0, 10.0), (10.0, 10.0), 0.2, None)
    used = SeenEnd(point, 1.0, (3.0, 1.0), (0.6, -0.8)).shaped(8.0)
    assert used.used_px == pytest.approx((10.6, 9.2))


def test_a_point_as_clicked_stays_where_it_is() -> None:
    point = UsedPoint((10.0, 10.0), (10.0, 10.0), 1.0, "no clear edge near the point")
    assert SeenEnd(point, 0.0, (2.0, 0.0), (1.0, 0.0)).shaped(8.0) == point
