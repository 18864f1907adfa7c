"""Nodes and weights that integrate over the scale errors which the lengths of each photo share."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtri

from references.inference.finding import Reading

Array = NDArray[np.float64]

REACH = 4.75
"""The nodes reach this many standard deviations; beyond lies a probability of 2e-6."""
WIDEST_STEP = 0.5
NARROWEST_STEP = 0.05
MANY_READINGS = 40
NARROWEST_STEP_MANY = 0.5
"""With many readings in one photo the evidence is overwhelming long before the step matters."""
MOST_GRID_NODES = 6000
MOST_GRID_PHOTOS = 3
SEQUENCE_POWER = 12
"""Four or more photos linked by shared parts use 2**12 points of a Sobol sequence instead of a grid."""


@dataclass(frozen=True, slots=True, eq=False)
class PhotoNodes:
    """Values of the photos' scale errors, in standard deviations, and their probabilities.

    Attributes
    ----------
    photos : tuple of str
        The photos, each an independent standard normal scale error.
    nodes : (N, photos) array
    weights : (N,) array
        Adds up to 1.
    parts : tuple of int
        Positions of the parts whose lengths these photos hold.
    """

    photos: tuple[str, ...]
    nodes: Array
    weights: Array
    parts: tuple[int, ...]

    def shifts_mm(self, readings: Sequence[Reading]) -> Array:
        """Return the shared error of each reading at each node: (M, N) array in mm."""
        shifts = np.zeros((len(readings), self.weights.size))
        for row, reading in enumerate(readings):
            if reading.photo in self.photos:
                shifts[row] = reading.shared_std_mm * self.nodes[:, self.photos.index(reading.photo)]
        return shifts


@dataclass(frozen=True, slots=True)
class SpreadReading:
    """A reading with the production spread of its feature: together they set the step of the grid.

    Attributes
    ----------
    reading : Reading
    edge_std_mm : float
        The least spread at the limits of any release.
    spread_std_mm : float
        The least standard deviation of any release.
    """

    reading: Reading
    edge_std_mm: float
    spread_std_mm: float


def photo_groups(parts: Sequence[Sequence[SpreadReading]]) -> tuple[PhotoNodes, ...]:
    """Group the parts that share photos, and give each group its nodes.

    Parameters
    ----------
    parts : sequence of sequences of SpreadReading
        The readings of each part.

    Returns
    -------
    tuple of PhotoNodes
        Every part is in exactly one group.
    """
    groups: list[tuple[set[str], list[int]]] = []
    for position, readings in enumerate(parts):
        photos = {
            each.reading.photo for each in readings if each.reading.photo and each.reading.shared_std_mm > 0
        }
        members = [position]
        for group in [group for group in groups if group[0] & photos]:
            photos, members = photos | group[0], group[1] + members
            groups.remove(group)
        groups.append((photos, members))
    return tuple(_nodes(sorted(photos), sorted(members), parts) for photos, members in groups)


def _nodes(
    photos: Sequence[str], members: Sequence[int], parts: Sequence[Sequence[SpreadReading]]
) -> PhotoNodes:
    if not photos:
        return PhotoNodes((), np.zeros((1, 0)), np.ones(1), tuple(members))
    if len(photos) > MOST_GRID_PHOTOS:
        from scipy.stats import qmc  # a second to import, and rarely needed

        sequence = qmc.Sobol(len(photos), scramble=False).random_base2(SEQUENCE_POWER)
        points = ndtri((sequence + 0.5 / 2**SEQUENCE_POWER) % 1.0)
        return PhotoNodes(tuple(photos), points, np.full(len(points), 1 / len(points)), tuple(members))
    most = int(MOST_GRID_NODES ** (1 / len(photos)))
    seen = [
        [each for position in members for each in parts[position] if each.reading.photo == photo]
        for photo in photos
    ]
    axes = [_axis(_step(readings), most) for readings in seen]
    nodes = np.stack([axis.ravel() for axis in np.meshgrid(*axes, indexing="ij")], axis=1)
    weights = np.exp(-0.5 * (nodes**2).sum(axis=1))
    return PhotoNodes(tuple(photos), nodes, weights / weights.sum(), tuple(members))


def _step(readings: Sequence[SpreadReading]) -> float:
    """Return the step that resolves what a photo's readings tell about its scale error.

    The trapezium rule on a function as smooth as a normal density of standard deviation w is accurate to
    2 exp(-2 pi^2 (w/step)^2): a step of w leaves 5e-9. One reading is as sharp as its limits; many together
    are as sharp as their information allows.
    """
    shared = np.array([each.reading.shared_std_mm for each in readings])
    own = np.array([each.reading.own_std_mm for each in readings])
    edges = np.hypot(own, [each.edge_std_mm for each in readings])[shared > 0] / shared[shared > 0]
    information = 1 + ((shared / np.hypot(own, [each.spread_std_mm for each in readings])) ** 2).sum()
    narrowest = NARROWEST_STEP if len(readings) <= MANY_READINGS else NARROWEST_STEP_MANY
    return float(np.clip(0.9 * min(edges.min(), information**-0.5), narrowest, WIDEST_STEP))


def _axis(step: float, most: int) -> Array:
    half = min(int(np.ceil(REACH / step)), (most - 1) // 2)
    return np.linspace(-REACH, REACH, 2 * half + 1)
