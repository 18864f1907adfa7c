"""How the colour changes across a quadrilateral's sides, along them and beyond their ends."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from calibration.edges import EdgeFit, Path, Pixels, across, interpolate, medians, to_light

Array = NDArray[np.float64]

_ALONG = np.linspace(0.06, 0.94, 48)
_BEFORE, _AFTER = np.linspace(-0.35, -0.06, 24), np.linspace(1.06, 1.35, 24)
_PLACES = np.concatenate([_BEFORE, _ALONG, _AFTER])
_PARTS = np.cumsum([len(_BEFORE), len(_ALONG)])


@dataclass(frozen=True, slots=True, eq=False)
class SideColours:
    """What a side looks like beside what continues it.

    Attributes
    ----------
    polarity_consistency : float
        1 where the colour changes in one direction all along the side, 0 where the directions cancel, as on a
        chessboard's lines.
    edge_continuation : tuple of float
        Share of the side's prolongation, before and after it, that shows the same step: a card's side ends at
        its corner, but a tile's joint or the edge of a table continues.
    inside, outside : (3,) arrays
        Typical colour just inside and just outside it, proportional to light (see `edges.to_light`).
    step : float
        Typical size of the step between them, in the same unit.
    """

    polarity_consistency: float
    edge_continuation: tuple[float, float]
    inside: Array
    outside: Array
    step: float


def side_colours(pixels: Pixels, sides: Sequence[EdgeFit]) -> tuple[SideColours, ...]:
    """Look across fitted sides and their prolongations.

    Parameters
    ----------
    pixels : (H, W, 3) uint8 array
        The photo, or a level of it.
    sides : sequence of EdgeFit
        Sides in px of that, clockwise in the picture, so that the outside lies to their left.

    Returns
    -------
    tuple of SideColours
        One for each side.
    """
    reaches_px = [2.0 + 2.0 * side.blur_px for side in sides]
    (before, along, after), beside = _beside(pixels, sides, reaches_px)
    sizes = np.linalg.norm(along, axis=2)
    mean = along.mean(axis=1)
    polarity_consistency = np.linalg.norm(mean, axis=1) / np.maximum(sizes.mean(axis=1), 1e-6)
    usual = medians(sizes)
    edge_continuation = [_edge_continuation(steps, mean, usual) for steps in (before, after)]
    inside, outside = (medians(np.swapaxes(colours, 1, 2)) for colours in beside)
    return tuple(
        SideColours(
            float(polarity_consistency[index]),
            (float(edge_continuation[0][index]), float(edge_continuation[1][index])),
            inside[index],
            outside[index],
            float(usual[index]),
        )
        for index in range(len(sides))
    )


def colour_spreads(sides: Sequence[SideColours]) -> tuple[float, float]:
    """Return how much the colours inside and outside the sides differ from side to side.

    A card's margin usually has one colour all round and lies on one table; an outline around the top and the
    front of a box has neither.

    Parameters
    ----------
    sides : sequence of SideColours
        The four sides of an outline.

    Returns
    -------
    inside, outside : float
        Standard deviation of the colours over the typical step across the sides.
    """
    step = max(float(np.mean([side.step for side in sides])), 1.0)
    colours = np.array([(side.inside, side.outside) for side in sides])
    inside, outside = np.linalg.norm(colours.std(axis=0), axis=1).tolist()
    return inside / step, outside / step


def colour_contrasts(sides: Sequence[SideColours]) -> tuple[float, float]:
    """Return how far colours inside of sides are from those outside of the other sides.

    A side that is not the card's own has table on both of its sides, or card.

    Parameters
    ----------
    sides : sequence of SideColours
        The four sides of an outline.

    Returns
    -------
    tuple of float
        Both over the typical step across the sides: of the two sides where they are nearest; and of the side
        that on the whole is the nearest to what lies outside of the other three.
    """
    step = max(float(np.mean([side.step for side in sides])), 1.0)
    inside, outside = (np.array([getattr(side, where) for side in sides]) for where in ("inside", "outside"))
    apart = np.linalg.norm(inside[:, None] - outside, axis=2)
    others = apart[~np.eye(len(sides), dtype=bool)].reshape(len(sides), -1)
    return float(others.min()) / step, float(np.median(others, axis=1).min()) / step


def _beside(
    pixels: Pixels, sides: Sequence[EdgeFit], reaches_px: Sequence[float]
) -> tuple[list[Array], tuple[Array, Array]]:
    """Sample colours a little inside and outside sides.

    Returns
    -------
    steps : list of (S, N, 3) arrays
        Outside minus inside: before each side, along it and after it.
    colours : tuple of (S, N, 3) arrays
        Inside and outside along it.
    """
    points = [
        across(Path(side.start, side.end, side.sag_px), _PLACES, _offsets(reach_px))
        for side, reach_px in zip(sides, reaches_px, strict=True)
    ]
    levels = interpolate(pixels, np.concatenate(points)).reshape(len(sides), len(_PLACES), 4, 3)
    steps, both = [], []
    for part in np.split(levels, _PARTS, axis=1):
        colours = to_light(part)
        both.append(
            (0.5 * (colours[:, :, 0] + colours[:, :, 1]), 0.5 * (colours[:, :, 2] + colours[:, :, 3]))
        )
        steps.append(both[-1][1] - both[-1][0])
    return steps, both[1]


def _offsets(reach_px: float) -> Array:
    return np.array([-reach_px - 1.0, -reach_px, reach_px, reach_px + 1.0])


def _edge_continuation(steps: Array, mean: Array, usual: Array) -> Array:
    """Share of a prolongation of each side, (S,), that shows the side's own step."""
    sizes = np.linalg.norm(steps, axis=2)
    product = np.einsum("snc,sc->sn", steps, mean)
    same = product > 0.5 * sizes * np.linalg.norm(mean, axis=1)[:, None]
    return np.asarray(((sizes > 0.4 * usual[:, None]) & same).mean(axis=1))
