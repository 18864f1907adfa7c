"""No text covers a measured part, another text, the card or the frame, however the parts lie."""

import numpy as np
import pytest

from measure.writeup.draw.busy import busy_map
from measure.writeup.draw.layout import MOST_LABELS, Figure, Sheet, place
from measure.writeup.draw.planar import box, hull, inside, overlap


def sheet(figures, *, pixels=None, width=1600, height=1200, unit=43.0):
    plain = np.full((height, width, 3), 180, np.uint8) if pixels is None else pixels
    points = np.concatenate([figure.part_px for figure in figures])
    return Sheet.blank(width, height, busy_map(plain, points), unit)


def span(key, start, end, *, part=None, pointed=False):
    ends = np.array([start, end], float)
    return Figure(key, ends, ends if part is None else part, (400.0, 100.0), (65.0, 65.0), pointed)


def scattered(seed, count):
    rng = np.random.default_rng(seed)
    figures = []
    for number in range(count):
        start = rng.uniform([200, 200], [1400, 1000])
        end = np.clip(start + rng.normal(0, 200, 2), 60, [1540, 1140])
        figures.append(span(str(number + 1), start, end))
    return tuple(figures)


@pytest.mark.parametrize(("seed", "count"), [(1, 1), (2, 3), (3, 4), (4, 6), (5, 8), (6, 13)])
def test_text_covers_neither_part_nor_text_nor_frame(seed, count):
    figures = scattered(seed, count)
    placed = place(figures, sheet(figures))
    for number, spot in enumerate(placed):
        assert inside(spot.text_px, 1600, 1200)
        assert not any(overlap(spot.text_px, hull(figure.part_px)) for figure in figures)
        assert not any(overlap(spot.text_px, other.text_px) for other in placed[:number])


def test_dimension_line_lies_beside_the_part_and_as_long_as_it():
    part = np.array([[500, 500], [900, 500], [900, 560], [500, 560]], float)
    (spot,) = place((figure := span("1", [500, 530], [900, 530], part=part),), sheet((figure,)))
    assert not overlap(spot.line_px, part)
    assert np.allclose(spot.line_px[1] - spot.line_px[0], [400, 0])


def test_text_stands_on_background_and_the_line_off_the_part():
    pixels = np.full((1200, 1600, 3), 200, np.uint8)
    pixels[400:700, 500:900] = (60, 60, 160)
    (spot,) = place((figure := span("1", [700, 400], [700, 700]),), sheet((figure,), pixels=pixels))
    shown = box(np.array([700.0, 550.0]), 400, 300)
    assert not spot.tagged
    assert not overlap(spot.text_px, shown)
    assert spot.line_px[:, 0].max() < 505 or spot.line_px[:, 0].min() > 895


def test_grain_all_over_still_leaves_text_outside_all_measured_points():
    pixels = np.random.default_rng(0).integers(0, 255, (1200, 1600, 3)).astype(np.uint8)
    figures = (span("1", [600, 500], [1000, 500]), span("2", [800, 420], [800, 700]))
    placed = place(figures, sheet(figures, pixels=pixels))
    everything = hull(np.concatenate([figure.part_px for figure in figures]))
    assert not any(overlap(spot.text_px, everything) for spot in placed)


def test_a_crowd_shows_keys_alone():
    figures = scattered(7, MOST_LABELS + 1)
    assert all(spot.tagged for spot in place(figures, sheet(figures)))


def test_a_part_that_fills_the_frame_still_gets_its_key():
    part = np.array([[0, 0], [1600, 0], [1600, 1200], [0, 1200]], float)
    (spot,) = place((figure := span("1", [0, 600], [1599, 600], part=part),), sheet((figure,)))
    assert spot.tagged
    assert inside(spot.text_px, 1600, 1200)


def test_a_radius_gets_a_leader_and_no_dimension_line():
    (spot,) = place((figure := span("1", [700, 500], [720, 520], pointed=True),), sheet((figure,)))
    assert spot.line_px is None
    assert np.allclose(spot.leader_px[0], [720, 520])
