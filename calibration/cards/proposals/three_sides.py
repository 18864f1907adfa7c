"""Quadrilaterals from three sides, the fourth where the known proportions put it.

Where one side of a card is covered, faint or broken, no four segments close around it.
"""

import numpy as np
from numpy.typing import NDArray

from calibration.camera import Camera
from calibration.cards.geometry import is_convex
from calibration.cards.proposals.junctions import Junctions, junction_pairs
from calibration.cards.proposals.segments import Segments
from calibration.objects import ReferenceObject

Array = NDArray[np.float64]
_MOST_OPEN = 2500
_SAME_ASPECT = 0.03


def open_quads(
    junctions: Junctions,
    segments: Segments,
    camera: Camera,
    objects: tuple[ReferenceObject, ...],
    scale: float,
) -> Array:
    """Complete two right turns in a row to rectangles of the known proportions, (N, 4, 2) px of the level.

    The two sides beside the middle one are parallel on the object, so they and the focal length tell its
    plane; there, each known proportion puts the fourth side at one distance for each orientation.

    Parameters
    ----------
    junctions, segments : Junctions, Segments
        On the reduced level.
    camera : Camera
        Of the full photo.
    objects : tuple of ReferenceObject
        Kinds whose proportions are tried.
    scale : float
        Full-resolution pixels per pixel of the level.
    """
    first, second = junction_pairs(junctions)
    length = np.linalg.norm(segments.ends[:, 1] - segments.ends[:, 0], axis=1)
    cost = junctions.cost[first] + junctions.cost[second]
    strength = (
        segments.strength[junctions.leave[first] // 2] + segments.strength[junctions.enter[second] // 2]
    )
    strength = strength + segments.strength[junctions.enter[first] // 2]
    good = np.flatnonzero(cost < 1.6)
    best = good[np.argsort(-(strength * (1.0 - 0.3 * cost))[good])[:_MOST_OPEN]]
    first, second = first[best], second[best]
    left, right = junctions.corner[first], junctions.corner[second]
    before, after = segments.ends[junctions.leave[first] // 2], segments.ends[junctions.enter[second] // 2]
    ends = camera.normalise((np.stack([left, right], axis=1).reshape(-1, 2) + 0.5) * scale - 0.5)
    outward = [_away(side, corner) for side, corner in ((before, left), (after, right))]
    reach = np.stack([length[junctions.leave[first] // 2], length[junctions.enter[second] // 2]], axis=1)
    return _completed(
        ends.reshape(-1, 2, 2), outward, reach, camera=camera, objects=objects, base=(left, right, scale)
    )


def _away(side: Array, corner: Array) -> Array:
    """Return unit vectors from a corner along a side, toward the side's farther end."""
    vector = side - corner[:, None]
    far = np.linalg.norm(vector, axis=2).argmax(axis=1)
    chosen = vector[np.arange(len(vector)), far]
    return np.asarray(chosen / np.maximum(np.linalg.norm(chosen, axis=1, keepdims=True), 1e-9))


def _completed(
    ends: Array,
    outward: list[Array],
    reach: Array,
    *,
    camera: Camera,
    objects: tuple[ReferenceObject, ...],
    base: tuple[Array, Array, float],
) -> Array:
    rays = np.concatenate([ends, np.ones((*ends.shape[:2], 1))], axis=2)
    planes = [
        np.cross(rays[:, k], np.concatenate([outward[k], np.zeros((len(rays), 1))], axis=1)) for k in (0, 1)
    ]
    # The sides' common direction in space lies in both their planes; the middle side's at a right angle.
    along = _unit(np.cross(planes[0], planes[1]))
    middle = _unit(np.cross(rays[:, 0], rays[:, 1]))
    across = _unit(np.cross(middle, along))
    normal = np.cross(along, across)
    depth = (normal * rays[:, 0]).sum(axis=1) / np.where(
        np.abs((normal * rays[:, 1]).sum(axis=1)) < 1e-9, 1e-9, (normal * rays[:, 1]).sum(axis=1)
    )
    width = np.linalg.norm(depth[:, None] * rays[:, 1] - rays[:, 0], axis=1)
    # `along` may point either way: the visible side tells which.
    shift = along[:, :2] - rays[:, 0, :2] * along[:, 2:]
    along = along * np.sign((shift * outward[0]).sum(axis=1))[:, None]
    quads = []
    left, right, scale = base
    for ratio in _ratios(objects):
        step = (ratio * width)[:, None] * along
        far = [rays[:, 0] + step, depth[:, None] * rays[:, 1] + step]
        front = (far[0][:, 2] > 0.2) & (far[1][:, 2] > 0.2) & (depth > 0.2) & (depth < 5.0)
        tips = []
        for point in far:
            seen = point[:, :2] / np.where(np.abs(point[:, 2:]) < 1e-6, 1e-6, point[:, 2:])
            tips.append((camera.denormalise(seen) + 0.5) / scale - 0.5)
        quad = np.stack([left, right, tips[1], tips[0]], axis=1)
        sides = np.stack(
            [np.linalg.norm(tips[0] - left, axis=1), np.linalg.norm(tips[1] - right, axis=1)], axis=1
        )
        # What is seen of the two sides must reach along them far enough, and not far beyond.
        share = reach / np.maximum(sides, 1e-6)
        fits = front & (share.max(axis=1) > 0.55) & (share.min(axis=1) > 0.3) & (share.max(axis=1) < 1.25)
        quads.append(quad[fits])
    found = np.concatenate(quads)
    return np.asarray(found[is_convex(found)])


def _ratios(objects: tuple[ReferenceObject, ...]) -> list[float]:
    """Proportions to try, in both orientations, nearly equal ones only once."""
    logs: list[float] = []
    for value in sorted(np.log(kind.aspect) for kind in objects):
        if not logs or value - logs[-1] > _SAME_ASPECT:
            logs.append(float(value))
    return [float(np.exp(sign * value)) for value in logs for sign in (1.0, -1.0)]


def _unit(vectors: Array) -> Array:
    return np.asarray(vectors / np.maximum(np.linalg.norm(vectors, axis=1, keepdims=True), 1e-12))
