"""The 95 % interval of a span holds the truth 93 to 97 % of the time, and is no wider than it must be."""

from itertools import islice

import numpy as np
import pytest

from tests.bench.coverage import PhotoType, draw_measurement, figures

TYPES = (
    PhotoType(distance_mm=400, tilt_deg=10, standoff_mm=14),
    PhotoType(distance_mm=300, tilt_deg=35, standoff_mm=25, place="around", click_std_px=0.3),
    PhotoType(distance_mm=900, tilt_deg=20, standoff_mm=14),
    PhotoType(distance_mm=500, tilt_deg=25, standoff_mm=14, exif=False),
    PhotoType("a4", 800, 15, 14, place="around", click_std_px=0.3),
)


def rows_of(kind: PhotoType, draws: int, seed: list[int]) -> list[tuple[float, float, float, float]]:
    rng = np.random.default_rng(seed)
    rows = (draw_measurement(kind, rng) for _ in range(3 * draws))
    return list(islice((row for row in rows if row is not None), draws))


@pytest.fixture(scope="module")
def rows() -> np.ndarray:
    return np.array([row for i, kind in enumerate(TYPES) for row in rows_of(kind, 100, [7, i])])


@pytest.mark.slow
def test_intervals_hold_the_truth_as_often_as_they_say(rows: np.ndarray) -> None:
    assert 0.93 <= figures(rows)["held"] <= 0.97


def test_intervals_are_no_wider_than_needed(rows: np.ndarray) -> None:
    assert figures(rows)["width_over_needed"] < 1.3


def test_spans_have_no_bias(rows: np.ndarray) -> None:
    assert abs(figures(rows)["bias_in_standard_errors"]) < 3
