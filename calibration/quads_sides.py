"""How the colour changes across a quadrilateral's sides, along them and beyond their ends."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from calibration.edge_profiles import Path, Pixels, sample_across
from calibration.edges import EdgeFit

Array = NDArray[np.float64]

_ALONG = np.linspace(0.06, 0.94, 48)
_BEFORE, _AFTER = np.linspace(-0.35, -0.06, 24), np.linspace(1.06, 1.35, 24)


@dataclass(frozen=True, slots=True, eq=False)
class SideColours:
    """What a side looks like beside what continues it.

    Attributes
    ----------
    one_sign : float
        1 where the colour changes in the same sense all along the side, 0 where the senses cancel, as on a
        chessboard's lines.
    runs_on : tuple of float
        Share of the side's prolongation, before and after it, that shows the same step: a card's side ends at
        its corner, a tile's joint or the edge of a table runs on.
    inside, outside : (3,) arrays
        Usual colour just inside and just outside of it.
    step : float
        Usual size of the step between them.
    """

    one_sign: float
    runs_on: tuple[float, float]
    inside: Array
    outside: Array
    step: float


def side_colours(pixels: Pixels, side: EdgeFit) -> SideColours:
    """Look across one fitted side and its prolongations."""
    path = Path(side.start, side.end, side.sag_px)
    reach_px = 2.0 + 2.0 * side.blur_px
    inside, outside = _beside(pixels, path, _ALONG, reach_px)
    steps = outside - inside
    sizes = np.linalg.norm(steps, axis=1)
    mean = steps.mean(axis=0)
    usual = float(np.median(sizes))
    return SideColours(
        float(np.linalg.norm(mean) / max(float(sizes.mean()), 1e-6)),
        (
            _runs_on(_steps(pixels, path, _BEFORE, reach_px), mean, usual),
            _runs_on(_steps(pixels, path, _AFTER, reach_px), mean, usual),
        ),
        np.median(inside, axis=0),
        np.median(outside, axis=0),
        usual,
    )


def colour_spreads(sides: Sequence[SideColours]) -> tuple[float, float]:
    """Return how much the colours inside and outside of the sides differ from side to side, over their step.

    A card's margin mostly has one colour all round and lies on one table; an outline around the top and the
    front of a box has neither.
    """
    step = max(float(np.mean([side.step for side in sides])), 1.0)
    inside = np.std([side.inside for side in sides], axis=0)
    outside = np.std([side.outside for side in sides], axis=0)
    return float(np.linalg.norm(inside)) / step, float(np.linalg.norm(outside)) / step


def _steps(pixels: Pixels, path: Path, along: Array, reach_px: float) -> Array:
    inside, outside = _beside(pixels, path, along, reach_px)
    return outside - inside


def _beside(pixels: Pixels, path: Path, along: Array, reach_px: float) -> tuple[Array, Array]:
    """Colours, (N, 3) each, a little inside and outside of a side."""
    offsets = np.array([-reach_px - 1.0, -reach_px, reach_px, reach_px + 1.0])
    colours = sample_across(pixels, path, along, offsets)
    return colours[:, :2].mean(axis=1), colours[:, 2:].mean(axis=1)


def _runs_on(steps: Array, mean: Array, usual: float) -> float:
    sizes = np.linalg.norm(steps, axis=1)
    same = steps @ mean > 0.5 * sizes * np.linalg.norm(mean)
    return float(np.mean((sizes > 0.4 * usual) & same))
