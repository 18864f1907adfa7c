"""Which choices of sides deserve a close look: a quick judgement before any refinement."""

import numpy as np
from numpy.typing import NDArray

from calibration.edges import EdgeFit
from calibration.objects import ReferenceObject
from calibration.quads_alternatives import Combination
from calibration.quads_lines import Pyramid
from calibration.quads_sides import side_colours

Array = NDArray[np.float64]

# Logistic regression with a ridge on 12,000 choices in 332 simulated photos of all levels (tuning seeds);
# made by ``python -m tests.bench.finder_glance``.
_WEIGHTS = np.array(
    [
        2.959,  # constant
        1.240,  # score among the choices on the same view from above
        *(3.374, -1.465, -0.924, -6.170),  # share of each side seen, least first
        *(-0.779, 2.272, -0.358, 0.244),  # likeness of the corners, worst first
        -53.234,  # disagreement of the proportions
        0.153,  # rounded corners
        0.540,  # log of the area's share of the photo
        *(2.719, -0.882),  # least and second least sameness of a side's contrast
        *(-2.816, -2.551),  # largest and second largest share of a prolongation showing the side's own step
        -2.117,  # lead of the best other choice
    ]
)
_LARGEST_ASPECT_ERROR = 0.06
# A sharp photo's, after its reduction.
_BLUR_PX = 0.6


def glance(pyramid: Pyramid, kind: ReferenceObject, choice: Combination, rival: float) -> float:
    """Return the log odds that a choice of sides is the card's outline, from a reduced level alone.

    Parameters
    ----------
    pyramid : Pyramid
        The photo.
    kind : ReferenceObject
        What the choice was looked at as.
    choice : Combination
        Its sides.
    rival : float
        Score of the best other choice at the place, less this one's.
    """
    return float(_WEIGHTS @ features(pyramid, kind, choice, rival))


def features(pyramid: Pyramid, kind: ReferenceObject, choice: Combination, rival: float) -> Array:
    """Return the numbers that `glance` weighs, in the order of its weights."""
    corners = choice.corners_px
    unit_px = float(np.linalg.norm(corners[2] - corners[0])) / 100.0
    level = pyramid.level_for(unit_px / 3.0)
    placed = pyramid.to_level(corners, level)
    sides = side_colours(
        pyramid.levels[level], [_unrefined(placed[i], placed[(i + 1) % 4]) for i in range(4)]
    )
    signs = np.sort([side.one_sign for side in sides])
    runs_on = np.sort([share for side in sides for share in side.runs_on])
    x, y = corners.T
    area = 0.5 * abs(float(np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y)))
    height, width = pyramid.levels[0].shape[:2]
    return np.array(
        [
            1.0,
            choice.score,
            *np.sort(choice.shares),
            *np.sort(choice.shapes),
            min(choice.aspect_error, _LARGEST_ASPECT_ERROR),
            float(kind.corner_radius_mm > 0.0),
            np.log(max(area, 1.0) / (height * width)),
            *signs[:2],
            runs_on[-1],
            runs_on[-2],
            rival,
        ]
    )


def _unrefined(start: Array, end: Array) -> EdgeFit:
    """Take a side as it was proposed: only where it lies matters here."""
    return EdgeFit(start, end, 0.0, np.zeros((2, 2)), 1.0, 0.0, _BLUR_PX, 0.0, 0)
