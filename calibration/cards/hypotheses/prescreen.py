"""Prescreening: which choices of sides deserve verification, judged before any refinement."""

import numpy as np
from numpy.typing import NDArray

from calibration.cards.additive_model import log_odds
from calibration.cards.features import side_colours
from calibration.cards.hypotheses.prescreen_weights import CHOICE
from calibration.cards.hypotheses.side_combinations import Combination
from calibration.edges import EdgeFit
from calibration.image import Pyramid
from calibration.objects import ReferenceObject

Array = NDArray[np.float64]

_LARGEST_ASPECT_ERROR = 0.06
# A sharp photo's, after its reduction.
_BLUR_PX = 0.6


def prescreen(pyramid: Pyramid, kind: ReferenceObject, choice: Combination, runner_up: float) -> float:
    """Return the log odds that a choice of sides is the card's outline, from a reduced level alone.

    Parameters
    ----------
    pyramid : Pyramid
        The photo.
    kind : ReferenceObject
        The kind that the choice was taken for.
    choice : Combination
        Its sides.
    runner_up : float
        Score of the best other choice at the place, minus this one's.
    """
    return log_odds(CHOICE, features(pyramid, kind, choice, runner_up), sharp=kind.corner_radius_mm == 0.0)


def features(pyramid: Pyramid, kind: ReferenceObject, choice: Combination, runner_up: float) -> Array:
    """Return the numbers that `prescreen` weighs, in the order of its curves."""
    corners = choice.corners_px
    unit_px = float(np.linalg.norm(corners[2] - corners[0])) / 100.0
    level = pyramid.level_for(unit_px / 3.0)
    placed = pyramid.to_level(corners, level)
    sides = side_colours(
        pyramid.levels[level], [_unrefined(placed[i], placed[(i + 1) % 4]) for i in range(4)]
    )
    signs = np.sort([side.polarity_consistency for side in sides])
    edge_continuation = np.sort([share for side in sides for share in side.edge_continuation])
    x, y = corners.T
    area = 0.5 * abs(float(np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y)))
    height, width = pyramid.levels[0].shape[:2]
    return np.array(
        [
            choice.score,
            *np.sort(choice.edge_support),
            *np.sort(choice.shapes),
            min(choice.aspect_error, _LARGEST_ASPECT_ERROR),
            np.log(max(area, 1.0) / (height * width)),
            *signs[:2],
            edge_continuation[-1],
            edge_continuation[-2],
            runner_up,
            np.log(max(area, 1.0)),
        ]
    )


def _unrefined(start: Array, end: Array) -> EdgeFit:
    """Take a side as it was proposed: only where it lies matters here."""
    return EdgeFit(start, end, 0.0, np.zeros((2, 2)), 1.0, 0.0, _BLUR_PX, 0.0, 0)
