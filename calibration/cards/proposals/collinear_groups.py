"""Long straight edges detected as many short pieces: a card's side on a printed or patterned table."""

import numpy as np
from numpy.typing import NDArray

from calibration.cards.proposals.segments import ChannelSegments, Segments, pair_geometry

Array = NDArray[np.float64]

_MOST_PIECES, _MOST_GROUPS = 1000, 120
_ANGLE_DEG, _APART_PX, _GAP_PX = 2.5, 1.5, 14.0
_LEAST_COVERED = 0.55
_SHORTEST_PX = 24.0


def with_collinear_groups(lines: ChannelSegments) -> ChannelSegments:
    """Add, per channel, the lines along which several segments follow each other closely."""
    return ChannelSegments(tuple(_with_groups(segments) for segments in lines.channels))


def _with_groups(segments: Segments) -> Segments:
    if len(segments) < 3:
        return segments
    pieces = Segments(segments.ends[:_MOST_PIECES], segments.strength[:_MOST_PIECES])
    groups = _collinear_groups(pieces)
    ends = np.concatenate([segments.ends, groups.ends])
    strength = np.concatenate([segments.strength, groups.strength])
    order = np.argsort(-strength, kind="stable")
    return Segments(ends[order], strength[order])


def _collinear_groups(pieces: Segments) -> Segments:
    length = np.linalg.norm(pieces.ends[:, 1] - pieces.ends[:, 0], axis=1)
    cosine, across, start, stop = pair_geometry(pieces.ends)
    near = (cosine > np.cos(np.radians(_ANGLE_DEG))) & (across < _APART_PX)
    first, second = np.nonzero(near)
    total = np.bincount(first, length[second], len(length))
    free = np.ones(len(pieces), dtype=bool)
    ends: list[Array] = []
    strength: list[float] = []
    for seed in np.argsort(-total):
        if len(ends) == _MOST_GROUPS or total[seed] < _SHORTEST_PX:
            break
        if not free[seed]:
            continue
        members = np.flatnonzero(near[seed])
        run, covered = _run(members, start[seed, members], stop[seed, members], seed)
        free[run] = False
        points = pieces.ends[run].reshape(-1, 2)
        if len(run) < 3 or covered == 0.0:
            continue
        middle = points.mean(axis=0)
        along = np.linalg.svd(points - middle, full_matrices=False)[2][0]
        places = (points - middle) @ along
        ends.append(middle + np.outer([places.min(), places.max()], along))
        strength.append(covered * float(np.mean(pieces.strength[run] / length[run])))
    return Segments(np.array(ends).reshape(-1, 2, 2), np.array(strength))


def _run(members: NDArray[np.intp], start: Array, stop: Array, seed: int) -> tuple[NDArray[np.intp], float]:
    """Return the members that follow each other around the seed, and how much of their span they cover."""
    order = np.argsort(start)
    members, start, stop = members[order], start[order], stop[order]
    reached = np.maximum.accumulate(stop)
    gaps = np.maximum(start[1:] - reached[:-1], 0.0)
    group = np.concatenate([[0], np.cumsum(gaps > _GAP_PX)])
    mine = group == group[np.flatnonzero(members == seed)[0]]
    span = float(reached[mine].max() - start[mine].min())
    inner = gaps[mine[1:] & mine[:-1]]
    covered = span - float(inner.sum())
    return members[mine], covered if covered > _LEAST_COVERED * span and span > _SHORTEST_PX else 0.0
