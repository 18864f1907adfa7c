"""Soft edges and sharp ones: how far an outline may lie from the steepest place."""

import cv2
import numpy as np
import pytest

from calibration.edges.edge_offset import fades_px, fading, hidden_px, outline_in_shade, softness_px


def step(fade_px: float, blur_px: float = 0.7) -> np.ndarray:
    """Render an upright edge whose dark side begins at x = 30 and darkens on over `fade_px`."""
    x = (np.arange(8 * 60) + 0.5) / 8 - 0.5
    grey = np.where(x < 30, 220.0, 60.0)
    if fade_px:
        grey = np.where((x >= 30) & (x < 30 + fade_px), 120.0 - 60.0 * (x - 30) / fade_px, grey)
    row = cv2.GaussianBlur(grey[None].astype(np.float32), (0, 0), blur_px * 8)
    line = row.reshape(60, 8).mean(axis=1)
    return np.ascontiguousarray(np.broadcast_to(line[None, :, None], (60, 60, 3))).astype(np.uint8)


def soft(fade_px: float, blur_px: float = 0.7) -> float:
    return softness_px(step(fade_px, blur_px), np.array([30.0, 10.0]), np.array([30.0, 50.0]))


def test_a_sharp_step_is_no_softer_than_its_lens() -> None:
    assert soft(0.0) < 0.2


def test_an_edge_that_fades_is_as_doubtful_as_the_strip_is_wider_than_a_sharp_ones() -> None:
    """The root mean square of a rectangular distribution over the strip, GUM 4.3.7 with one-sided limits."""
    assert soft(5.0) == pytest.approx((5.0 - 1.7) / 3**0.5, rel=0.25)
    assert soft(2.0) < soft(4.0) < soft(6.0)


def test_blur_alone_counts_too() -> None:
    assert soft(0.0, 2.5) > soft(0.0)


def test_a_hidden_strip_grows_with_the_scale_up_to_what_would_show() -> None:
    assert hidden_px(3.0) == pytest.approx(0.3)
    assert hidden_px(40.0) == hidden_px(20.0) < 1.0


def test_a_shade_is_found_on_the_dark_side_of_the_edge_only() -> None:
    seen = fading(step(5.0), np.array([30.0, 50.0]), np.array([30.0, 10.0]))
    assert not seen.left_darker
    assert fades_px(seen, outside_left=False)[0] == pytest.approx(5.0 - 1.7, rel=0.25)
    assert fades_px(seen, outside_left=True) == (0.0, 0.0)


def test_an_outline_lies_in_the_middle_of_the_shade_with_rectangular_limits() -> None:
    assert outline_in_shade(2.0, 0.0, 10.0) == pytest.approx((1.0, 2.0 / 12**0.5))


def test_an_outline_fading_alike_on_both_sides_stays_where_it_is() -> None:
    assert outline_in_shade(3.0, 3.0, 10.0) == pytest.approx((0.0, 3.0 / 3**0.5))


def test_what_is_wider_than_a_roundings_shade_counts_as_doubt() -> None:
    shift_px, std_px = outline_in_shade(6.0, 0.0, 4.0)
    assert shift_px == pytest.approx(1.0)
    assert std_px == pytest.approx(np.hypot(6.0 / 12**0.5, 2.0))
