"""Spans: values against known scenes, uncertainties against trials, and words for the user."""

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from calibration.errors import GeometryError
from calibration.objects import A4, ID1
from calibration.plane.fit import Plane, fit_plane
from measure.cautions import LengthCautionCode
from measure.errors import SpanError
from measure.kinds.span import CLICK_STD_PX, measure_span, span_values
from measure.kinds.span_cautions import span_cautions
from measure.length import default_standoff_std_mm
from measure.length.monte_carlo import Spread, monte_carlo
from measure.length.value import NORMAL_COVERAGE_FACTOR
from measure.wording import Audience, all_worded
from tests.calibration.plane.test_plane import CAMERA, CARD, COV, ROTATION, TRANSLATION, seen, turned

FLAT = np.array([[110.0, 10.0], [250.0, -20.0]])
TRUE_MM = float(np.hypot(140.0, 30.0))


@cache
def plane() -> Plane:
    return fit_plane(CAMERA, ID1, seen(CARD, ROTATION, TRANSLATION), COV)


def ends(*heights_mm: float) -> np.ndarray:
    return seen(np.column_stack([FLAT, -np.array(heights_mm)]), ROTATION, TRANSLATION)


@pytest.mark.parametrize("height_mm", [-10.0, 0.0, 24.0, 60.0])
def test_a_span_at_its_stand_off_has_its_true_length(height_mm: float) -> None:
    length = measure_span(plane(), ends(height_mm, height_mm), standoff_mm=height_mm)
    assert length.value_mm == pytest.approx(TRUE_MM, abs=2e-3)


def test_ends_of_two_heights_give_the_distance_in_space() -> None:
    length = measure_span(plane(), ends(5.0, 45.0), standoff_mm=(5.0, 45.0))
    assert length.value_mm == pytest.approx(np.hypot(TRUE_MM, 40.0), abs=2e-3)
    assert sum("standoff" in key for key in length.contributions) == 2


def test_one_height_named_twice_is_one_height() -> None:
    once, twice = (measure_span(plane(), ends(24.0, 24.0), standoff_mm=h) for h in (24.0, (24.0, 24.0)))
    assert once.standard_uncertainty_mm == twice.standard_uncertainty_mm


def test_swapping_the_ends_changes_nothing() -> None:
    one, other = (measure_span(plane(), ends(0.0, 0.0)[order]) for order in ([0, 1], [1, 0]))
    assert one.value_mm == pytest.approx(other.value_mm)
    assert one.standard_uncertainty_mm == pytest.approx(other.standard_uncertainty_mm)


def test_spans_of_one_photo_share_the_photos_errors_and_not_their_clicks() -> None:
    one = measure_span(plane(), ends(0.0, 0.0), photo_id="photo-1", span_id="m1")
    two = measure_span(plane(), ends(0.0, 0.0) + [0.0, 60.0], photo_id="photo-1", span_id="m2")
    apart = measure_span(plane(), ends(0.0, 0.0) + [0.0, 60.0], photo_id="photo-2", span_id="m2")
    assert (one - two).standard_uncertainty_mm < 0.6 * (one - apart).standard_uncertainty_mm
    own = one.standard_uncertainty_mm**2 - one.shared_std_mm**2
    assert (one - two).standard_uncertainty_mm ** 2 >= own


def test_the_stand_offs_part_of_the_budget_is_that_of_similar_triangles() -> None:
    overhead = fit_plane(CAMERA, ID1, seen(CARD, np.eye(3), np.array([-200.0, -27.0, 600.0])), COV)
    points = overhead.to_px([[100.0, 0.0], [328.0, 0.0]], 24.0)
    length = measure_span(overhead, points, standoff_mm=24.0, standoff_std_mm=1.0)
    part = {line.source: line.u_mm for line in length.budget}["stand-off"]
    # L = m (Z - h) / Z, so dL/dh = L / (Z - h) (pinhole model).
    assert part == pytest.approx(228.0 / (600.0 - 24.0), rel=0.01)


def test_every_source_is_in_the_budget() -> None:
    named = {line.source for line in measure_span(plane(), ends(24.0, 24.0), standoff_mm=24.0).budget}
    assert named == {
        "card corners", "card size", "card flatness", "focal length", "lens distortion", "principal point",
        "click", "stand-off",
    }  # fmt: skip


def monte_carlo_span(p_px: np.ndarray, standoff_mm: float) -> Spread:
    """Propagate the distributions of all inputs through a span at one height (JCGM 101:2008)."""
    heights, clicks, lifts = np.full(2, standoff_mm), np.full(4, CLICK_STD_PX), np.ones((1, 2))
    values = span_values(plane(), p_px, heights, clicks, default_standoff_std_mm(plane()) * lifts)
    best = measure_span(plane(), p_px, standoff_mm=standoff_mm).value_mm
    rng = np.random.default_rng(3)
    return monte_carlo(values, len(plane().error_sources), 5, best, rng=rng, draws=10_000)


def test_the_linear_uncertainty_is_that_of_a_monte_carlo() -> None:
    length = measure_span(plane(), ends(24.0, 24.0), standoff_mm=24.0)
    spread = monte_carlo_span(ends(24.0, 24.0), 24.0)
    assert length.coverage_factor == NORMAL_COVERAGE_FACTOR
    assert spread.standard_uncertainty_mm == pytest.approx(length.standard_uncertainty_mm, rel=0.03)
    assert spread.expanded_uncertainty_mm == pytest.approx(length.expanded_uncertainty_mm, rel=0.04)


def test_a_span_of_few_pixels_gets_the_interval_of_a_monte_carlo() -> None:
    middle = ends(0.0, 0.0)[0]
    tiny = np.array([middle, middle + [2.0, 0.0]])
    length = measure_span(plane(), tiny)
    assert length.coverage_factor != NORMAL_COVERAGE_FACTOR
    spread = monte_carlo_span(tiny, 0.0)
    assert length.expanded_uncertainty_mm == pytest.approx(spread.expanded_uncertainty_mm, rel=0.06)


def trials(count: int, seed: int, *, log_focal_std: float, tilts_deg: tuple[float, float]) -> np.ndarray:
    """Return errors and expanded uncertainties of simulated spans: every source drawn as it is stated."""
    rng, found = np.random.default_rng(seed), []
    prior = replace(CAMERA, log_focal_std=log_focal_std)
    while len(found) < count:
        true = replace(
            prior,
            focal_px=prior.focal_px * np.exp(log_focal_std * rng.normal()),
            principal_point_px=tuple(prior.principal_point_px + 40.0 * rng.normal(size=2)),
            distortion=(0.02 * rng.normal(), 0.0, 0.0, 0.0, 0.0),
        )
        card = A4 if rng.random() < 0.3 else ID1
        rotation = turned(rng.uniform(*tilts_deg), rng.uniform(0, 360), rng.uniform(0, 360))
        outline = np.array([[0, 0], [1, 0], [1, 1], [0, 1]]) * [card.width_mm, card.height_mm]
        move = np.array([0, 0, rng.uniform(3, 8) * card.width_mm]) - rotation @ [*outline.mean(axis=0), 0.0]
        move[:2] += rng.uniform(-60, 60, 2)
        size = 1 + rng.normal(size=2) * [
            card.width_std_mm / card.width_mm,
            card.height_std_mm / card.height_mm,
        ]
        solid = np.column_stack([outline * size, card.flatness_std_mm * rng.normal(size=4)])
        height = rng.uniform(0, 40)
        a = outline.mean(axis=0) + rng.uniform(-1, 1, 2) * card.width_mm
        b = a + rng.uniform(0.3, 1.5) * card.width_mm * turned(0, 0, rng.uniform(0, 360))[0, :2]
        span = np.column_stack([[a, b], np.full(2, -height + rng.normal())])
        corners, points = seen(solid, rotation, move, true), seen(span, rotation, move, true)
        picture = np.concatenate([corners, points])
        if picture.min() < 0 or np.any(picture.max(axis=0) > [4031, 3023]):
            continue
        fitted = fit_plane(prior, card, corners + 0.15 * rng.normal(size=(4, 2)), 0.0225 * np.eye(8))
        clicks = points + rng.normal(size=(2, 2))
        length = measure_span(
            fitted, np.clip(clicks, 0, [4031, 3023]), standoff_mm=height, standoff_std_mm=1.0
        )
        found.append((length.value_mm - np.linalg.norm(b - a), length.expanded_uncertainty_mm))
    return np.array(found)


@pytest.mark.parametrize(
    ("seed", "log_focal_std", "tilts_deg"),
    [(1, 0.03, (0.0, 15.0)), (2, 0.03, (15.0, 45.0)), (3, 0.25, (0.0, 40.0))],
)
def test_the_interval_holds_the_truth_as_often_as_it_says(
    seed: int, log_focal_std: float, tilts_deg: tuple[float, float]
) -> None:
    errors, expanded = trials(220, seed, log_focal_std=log_focal_std, tilts_deg=tilts_deg).T
    # 95 % of 220 trials, within 2.6 standard deviations of the binomial distribution.
    assert 0.912 <= np.mean(np.abs(errors) <= expanded) <= 0.988
    # Neither wider than needed: the errors fill their stated uncertainties.
    assert 0.85 < np.sqrt(np.mean((1.96 * errors / expanded) ** 2)) < 1.15


@pytest.mark.parametrize(
    ("points", "message"),
    [
        ([[100.0, 100.0], [100.0, 100.0]], "coincide"),
        ([[100.0, 100.0], [9000.0, 100.0]], "outside the photo"),
        ([[100.0, 100.0]], "two points"),
        ([[100.0, 100.0], [np.nan, 100.0]], "two points"),
    ],
)
def test_impossible_points_are_refused_in_words(points: list[list[float]], message: str) -> None:
    with pytest.raises(SpanError, match=message):
        measure_span(plane(), points)


def test_a_stand_off_beyond_the_camera_is_refused() -> None:
    with pytest.raises(SpanError, match="reaches the camera"):
        measure_span(plane(), ends(0.0, 0.0), standoff_mm=600.0)


@pytest.mark.parametrize("wrong", [{"click_std_px": -1.0}, {"standoff_std_mm": float("nan")}])
def test_impossible_uncertainties_are_refused(wrong: dict[str, float]) -> None:
    with pytest.raises(SpanError, match="from 0 up"):
        measure_span(plane(), ends(0.0, 0.0), **wrong)


def test_points_of_a_horizon_are_refused() -> None:
    low = fit_plane(CAMERA, ID1, seen(CARD, turned(75.0, 0.0, 0.0), np.array([-40.0, 500.0, 900.0])), COV)
    with pytest.raises(GeometryError, match="horizon"):
        measure_span(low, [[2000.0, 100.0], [2200.0, 100.0]])


def test_an_unknown_stand_off_is_explained_with_this_photos_numbers() -> None:
    points = ends(0.0, 0.0)
    cautions = span_cautions(plane(), points, measure_span(plane(), points))
    words = " ".join(all_worded(cautions, Audience.COMMAND))
    distance = plane().distance_mm
    assert f"25 mm nearer the camera than the card at {distance:.0f} mm" in words
    assert f"{100 * 25 / (distance - 25):.2g} % too long" in words
    assert "give its stand-off" in words


def test_a_part_far_from_the_card_is_advised_to_have_it_in_the_middle() -> None:
    points = seen(np.array([[150.0, 0.0], [330.0, 0.0]]), ROTATION, TRANSLATION)
    cautions = span_cautions(plane(), points, measure_span(plane(), points), standoff_mm=0.0)
    assert LengthCautionCode.FAR_FROM_CARD in [one.code for one in cautions]
    words = all_worded(cautions, Audience.COMMAND)
    assert any("lay the card beside the middle of the part" in word for word in words)


def test_a_short_span_is_advised_to_snap_or_come_closer() -> None:
    points = plane().to_px([[90.0, 10.0], [96.0, 10.0]])
    cautions = span_cautions(plane(), points, measure_span(plane(), points), standoff_mm=0.0)
    words = all_worded(cautions, Audience.COMMAND)
    assert any("snap to the edges, or come closer" in word for word in words)


def test_a_good_span_needs_no_words() -> None:
    points = plane().to_px([[0.0, 60.0], [85.0, 60.0]])
    length = measure_span(plane(), points, click_std_px=0.1, standoff_std_mm=0.1)
    assert span_cautions(plane(), points, length, standoff_mm=0.0) == ()
