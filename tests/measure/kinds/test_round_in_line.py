"""Rounds marked where there is none: points along a straight edge, or on a short arc, tell no diameter."""

import contextlib

import numpy as np
import pytest

from calibration.edges.ellipse import fit_ellipse
from calibration.errors import GeometryError
from measure.errors import SpanError
from measure.kinds.round import fit_circle, measure_round
from measure.kinds.terms import Choices
from measure.length.value import Length
from tests.synthetic.shapes import View, measure_kind

VIEW = View(tilt_deg=(20.0, -10.0, 8.0), distance_mm=300.0)
PLANE = VIEW.plane()


def edge(count, noise_px, seed):
    rng = np.random.default_rng(seed)
    along = np.column_stack([np.linspace(-40.0, 140.0, count), np.full(count, 70.0)])
    return np.round(VIEW.see(along) + rng.normal(0.0, noise_px, (count, 2)), 1)


@pytest.mark.parametrize("seed", range(6))
@pytest.mark.parametrize(("count", "noise_px"), [(3, 0.0), (3, 0.3), (3, 1.0), (5, 0.2), (8, 1.0)])
def test_points_along_a_straight_edge_are_refused(count, noise_px, seed):
    with pytest.raises(SpanError, match="on one line"):
        measure_round(PLANE, edge(count, noise_px, seed), point_std_px=1.0)


@pytest.mark.parametrize("snap", [True, False])
@pytest.mark.parametrize("seed", range(3))
def test_a_real_straight_edge_beside_the_points_is_refused_as_well(seed, snap):
    photo = VIEW.photo(lambda mm: mm[:, 1] < 70.0)
    with pytest.raises(SpanError, match="on one line"):
        measure_kind("round", photo, PLANE, edge(4, 0.5, seed), Choices(snap=snap))


@pytest.mark.parametrize("size", [1e2, 1e4, 1e6])
def test_a_rim_as_flat_as_a_line_is_no_traceback(size):
    turn, rng = np.linspace(0.0, 2.0 * np.pi, 48, endpoint=False), np.random.default_rng(0)
    for flatness in rng.uniform(0.0, 1e-3, 20):
        with contextlib.suppress(GeometryError):
            fit_ellipse(np.column_stack([size * np.cos(turn), flatness * np.sin(turn)]))


@pytest.mark.parametrize("bend", [0.0, 1e-12, 1e-9, 1e-7, 1e-6])
def test_a_fit_whose_centre_runs_away_is_refused(bend):
    x = np.linspace(-1.0, 1.0, 7)
    with pytest.raises(SpanError, match="on one line"):
        fit_circle(np.column_stack([x, bend * x**2]))


@pytest.mark.parametrize("half_deg", [60.0, 90.0, 180.0])
def test_an_arc_that_tells_the_diameter_is_measured(half_deg):
    turn = np.radians(np.linspace(-half_deg, half_deg * 0.95, 7))
    rim = VIEW.see([50.0, 40.0] + 30.0 * np.column_stack([np.cos(turn), np.sin(turn)]))
    length = measure_round(PLANE, rim, point_std_px=0.5)
    assert isinstance(length, Length)
    assert length.value_mm == pytest.approx(60.0, abs=0.01)
