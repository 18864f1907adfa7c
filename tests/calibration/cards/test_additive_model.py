"""The additive model of the finder's confidence."""

import numpy as np
import pytest

from calibration.cards.additive_model import Additive, Curve, log_odds
from calibration.cards.score.classifier_weights import ALONE, BESIDE

MODEL = Additive(
    1.0,
    -1.0,
    (Curve("a", (0.0, 1.0), (0.0, 2.0), (0.0, 4.0)), Curve("b", (0.0, 10.0), (0.0, -1.0), (0.0, 0.0))),
)


@pytest.mark.parametrize(
    ("features", "sharp", "expected"),
    [
        ((0.0, 0.0), False, 1.0),
        ((0.5, 5.0), False, 1.0 + 1.0 - 0.5),
        ((7.0, 99.0), False, 1.0 + 2.0 - 1.0),
        ((0.5, 5.0), True, -1.0 + 2.0),
    ],
)
def test_curves_add_up_and_are_level_beyond_their_knots(features, sharp, expected):
    assert log_odds(MODEL, np.array(features), sharp=sharp) == pytest.approx(expected)


@pytest.mark.parametrize("model", [ALONE, BESIDE])
def test_the_fitted_curves_are_whole(model):
    for curve in model.curves:
        assert len(curve.knots) == len(curve.rounded) == len(curve.sharp)
        assert all(np.diff(curve.knots) > 0)


def test_what_is_seen_of_a_side_never_speaks_against_it():
    for curve in (ALONE.curves[0], BESIDE.curves[0]):
        assert all(np.diff(curve.rounded) >= 0)
        assert all(np.diff(curve.sharp) >= 0)


def test_beside_others_adds_the_three_margins():
    assert [curve.feature for curve in BESIDE.curves[: len(ALONE.curves)]] == [
        c.feature for c in ALONE.curves
    ]
    assert len(BESIDE.curves) == len(ALONE.curves) + 3
