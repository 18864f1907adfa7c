"""Quadrilaterals from straight segments that meet near their ends."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from calibration.cards.geometry import is_convex
from calibration.cards.proposals.segments import Segments

Array = NDArray[np.float64]
Index = NDArray[np.intp]

# The nearest junctions at one end of a segment, and the cheapest quadrilaterals of a photo.
_MOST_PER_END, _MOST_QUADS = 14, 60_000


@dataclass(frozen=True, slots=True, eq=False)
class Junctions:
    """The ways to walk along one segment, past its end, and on along another to the right.

    State 2 i + e is segment i walked toward its end e.

    Attributes
    ----------
    leave, enter : (M,) arrays of int
        States before and after the corner.
    corner : (M, 2) array
        Where the two lines meet, px.
    cost : (M,) array
        How far, as a share of each segment's length, the corner lies from the segments' ends.
    """

    leave: Index
    enter: Index
    corner: Array
    cost: Array


def find_junctions(segments: Segments) -> Junctions:
    """Join segments whose lines meet near an end of both, at more than 30 degrees.

    Parameters
    ----------
    segments : Segments
        Straight edges, in px of the reduced photo.

    Returns
    -------
    Junctions
        All turns to the right, seen in the picture.
    """
    ends = segments.ends
    count = len(ends)
    vector = ends[:, 1] - ends[:, 0]
    length = np.maximum(np.linalg.norm(vector, axis=1), 1e-6)
    along = vector / length[:, None]
    cross = along[:, None, 0] * along[None, :, 1] - along[:, None, 1] * along[None, :, 0]
    # How far along line i it meets line j: (start j - start i) x along j / (along i x along j).
    moment = ends[:, 0, 0] * along[:, 1] - ends[:, 0, 1] * along[:, 0]
    safe = np.where(np.abs(cross) < 1e-9, 1e-9, cross)
    start_cross = ends[:, None, 0, 0] * along[None, :, 1] - ends[:, None, 0, 1] * along[None, :, 0]
    position = (moment[None, :] - start_cross) / safe
    cost = np.full((count, count, 2), np.inf)
    for end in (0, 1):
        beyond = position - length[:, None] if end == 1 else -position
        limit_out = np.maximum(0.7 * length, 9.0)[:, None]
        limit_in = np.maximum(0.28 * length, 6.0)[:, None]
        share = np.where(beyond > 0, beyond / limit_out, -beyond / limit_in)
        cost[..., end] = np.where((share <= 1.0) & (np.abs(cross) > 0.5), share, np.inf)
    return _select_junctions(cost, cross, (ends[:, 0], along, position))


def _select_junctions(cost: Array, cross: Array, lines: tuple[Array, Array, Array]) -> Junctions:
    leave, enter, first, second, total = [], [], [], [], []
    for end_i in (0, 1):
        for end_k in (0, 1):
            both = cost[..., end_i] + cost[..., end_k].T
            # Walking i toward end_i, then k away from end_k; the turn must be to the right (y is down).
            sign = (1.0 if end_i == 1 else -1.0) * (1.0 if end_k == 0 else -1.0)
            i, k = np.nonzero(np.isfinite(both) & (cross * sign > 0))
            leave.append(2 * i + end_i)
            enter.append(2 * k + (1 - end_k))
            first.append(i)
            second.append(k)
            total.append(both[i, k])
    states, costs = np.concatenate(leave), np.concatenate(total)
    order = np.lexsort((costs, states))
    states = states[order]
    rank = np.arange(len(states)) - np.searchsorted(states, states, side="left")
    keep = order[rank < _MOST_PER_END]
    i, k = np.concatenate(first)[keep], np.concatenate(second)[keep]
    start, along, position = lines
    corner = start[i] + position[i, k, None] * along[i]
    return Junctions(np.concatenate(leave)[keep], np.concatenate(enter)[keep], corner, costs[keep])


def closed_quads(junctions: Junctions) -> tuple[Array, Array]:
    """Return all clockwise quadrilaterals, (N, 4, 2), that four right turns close, with their costs (N,)."""
    first, second = junction_pairs(junctions)
    if not len(first):
        return np.zeros((0, 4, 2)), np.zeros(0)
    size = int(max(junctions.leave.max(), junctions.enter.max())) + 1
    key = junctions.leave[first] * size + junctions.enter[second]
    back = junctions.enter[second] * size + junctions.leave[first]
    order = np.argsort(key, kind="stable")
    ordered = key[order]
    low, high = np.searchsorted(ordered, back, "left"), np.searchsorted(ordered, back, "right")
    # Each quadrilateral is met four times, once per starting side: keep the start with the lowest state.
    repeat = high - low
    left = np.repeat(np.arange(len(key)), repeat)
    right = order[
        np.arange(len(left)) - np.repeat(np.cumsum(repeat) - repeat, repeat) + np.repeat(low, repeat)
    ]
    start = junctions.leave[first[left]]
    others = [junctions.enter[first[left]], junctions.leave[first[right]], junctions.enter[first[right]]]
    lowest = np.all([start <= other for other in others], axis=0)
    left, right = left[lowest], right[lowest]
    walk = np.stack([first[left], second[left], first[right], second[right]], axis=1)
    cost = junctions.cost[walk].sum(axis=1)
    if len(cost) > _MOST_QUADS:
        best = np.argpartition(cost, _MOST_QUADS)[:_MOST_QUADS]
        walk, cost = walk[best], cost[best]
    quads = junctions.corner[walk]
    convex = is_convex(quads)
    return quads[convex], cost[convex]


def junction_pairs(junctions: Junctions) -> tuple[Index, Index]:
    """Return pairs of turns that follow each other."""
    order = np.argsort(junctions.leave, kind="stable")
    ordered = junctions.leave[order]
    low = np.searchsorted(ordered, junctions.enter, "left")
    repeat = np.searchsorted(ordered, junctions.enter, "right") - low
    first = np.repeat(np.arange(len(junctions.leave)), repeat)
    within = np.arange(len(first)) - np.repeat(np.cumsum(repeat) - repeat, repeat)
    return first, order[within + np.repeat(low, repeat)]
