"""How the colour changes across a quadrilateral's sides, along them and beyond their ends."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from calibration.edge_profiles import Path, Pixels, sample_across
from calibration.edges import EdgeFit

Array = NDArray[np.float64]

_ALONG = np.linspace(0.06, 0.94, 48)
_BEFORE, _AFTER = np.linspace(-0.35, -0.06, 24), np.linspace(1.06, 1.35, 24)


@dataclass(frozen=True, slots=True)
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
    """

    one_sign: float
    runs_on: tuple[float, float]


def side_colours(pixels: Pixels, side: EdgeFit) -> SideColours:
    """Look across one fitted side and its prolongations."""
    path = Path(side.start, side.end, side.sag_px)
    reach_px = 2.0 + 2.0 * side.blur_px
    steps = _steps(pixels, path, _ALONG, reach_px)
    sizes = np.linalg.norm(steps, axis=1)
    mean = steps.mean(axis=0)
    usual = float(np.median(sizes))
    return SideColours(
        float(np.linalg.norm(mean) / max(float(sizes.mean()), 1e-6)),
        (
            _runs_on(_steps(pixels, path, _BEFORE, reach_px), mean, usual),
            _runs_on(_steps(pixels, path, _AFTER, reach_px), mean, usual),
        ),
    )


def _steps(pixels: Pixels, path: Path, along: Array, reach_px: float) -> Array:
    offsets = np.array([-reach_px - 1.0, -reach_px, reach_px, reach_px + 1.0])
    colours = sample_across(pixels, path, along, offsets)
    return np.asarray(colours[:, 2:].mean(axis=1) - colours[:, :2].mean(axis=1))


def _runs_on(steps: Array, mean: Array, usual: float) -> float:
    sizes = np.linalg.norm(steps, axis=1)
    same = steps @ mean > 0.5 * sizes * np.linalg.norm(mean)
    return float(np.mean((sizes > 0.4 * usual) & same))
