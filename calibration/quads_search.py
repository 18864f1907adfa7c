"""Rough quadrilaterals that may be the card, best first."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from calibration.camera import Camera
from calibration.objects import ReferenceObject
from calibration.quads_graph import closed_quads, find_turns
from calibration.quads_kinds import aspect_errors
from calibration.quads_lines import Pixels, Pyramid, find_segments
from calibration.quads_support import EdgeMap, measure_support, rough_shapes

Array = NDArray[np.float64]
WIDEST_ASPECT_ERROR = 0.12


@dataclass(frozen=True, slots=True, eq=False)
class Candidates:
    """Rough outlines in full-resolution px.

    Attributes
    ----------
    quads_px : (N, 4, 2) array
        Clockwise.
    scores : (N,) array
        Best first.
    kinds : (N,) array of int
        Index of the kind that it resembles most.
    """

    quads_px: Array
    scores: Array
    kinds: NDArray[np.intp]


def search(
    pyramid: Pyramid, camera: Camera, objects: tuple[ReferenceObject, ...], *, segments: int
) -> Candidates:
    """Find candidates on the most reduced level, from this many straight segments at most."""
    picture, scale = pyramid.levels[-1], pyramid.scales[-1]
    edges = EdgeMap.of(picture)
    quads, cost = closed_quads(find_turns(find_segments(picture, most=segments)))
    keep = _large_enough(quads, picture)
    quads, cost = quads[keep], cost[keep]
    if not len(quads):
        return Candidates(np.zeros((0, 4, 2)), np.zeros(0), np.zeros(0, dtype=np.intp))
    full = (quads + 0.5) * scale - 0.5
    errors = aspect_errors(full, camera, objects, corner_std_px=0.7 * scale)
    plausible = errors.min(axis=1) < WIDEST_ASPECT_ERROR
    quads, full, errors, cost = (a[plausible] for a in (quads, full, errors, cost))
    by_kind = 0.3 * _shapes(edges, quads, objects, errors) - errors
    scores = measure_support(edges, quads).score() + by_kind.max(axis=1) - 0.02 * cost
    kinds = by_kind.argmax(axis=1)
    order = _separate(quads, scores, apart_px=2.0)
    return Candidates(full[order], scores[order], kinds[order])


def _shapes(edges: EdgeMap, quads: Array, objects: tuple[ReferenceObject, ...], errors: Array) -> Array:
    """Likeness of the corners to each kind's, (N, K), where the proportions are near those of the kind."""
    shapes = np.zeros(errors.shape)
    for index, kind in enumerate(objects):
        near = errors[:, index] < errors.min(axis=1) + 0.05
        shapes[near, index] = rough_shapes(edges, quads[near], kind)
    return shapes


def _large_enough(quads: Array, picture: Pixels) -> NDArray[np.bool_]:
    """Leave out what is too small to measure by, and what reaches far out of the picture."""
    sides = np.linalg.norm(np.roll(quads, -1, axis=1) - quads, axis=2)
    longest = max(picture.shape[:2])
    size = np.array([picture.shape[1], picture.shape[0]])
    outside = np.maximum(-quads, quads - size).max(axis=(1, 2))
    return np.asarray(
        (sides.min(axis=1) > 0.012 * longest)
        & (sides.max(axis=1) > 0.025 * longest)
        & (outside < 0.08 * longest)
    )


def _separate(quads: Array, scores: Array, *, apart_px: float, most: int = 60) -> NDArray[np.intp]:
    """Pick the best candidates, each with a corner at least this far from those of better ones."""
    order = np.argsort(-scores)[: 6 * most]
    starts = quads[order].sum(axis=2).argmin(axis=1)
    rolled = (
        np.stack([np.roll(quads[i], -s, axis=0) for i, s in zip(order, starts, strict=True)])
        if len(order)
        else quads
    )
    kept: list[int] = []
    for index in range(len(order)):
        if kept and np.abs(rolled[kept] - rolled[index]).max(axis=(1, 2)).min() < apart_px:
            continue
        kept.append(index)
        if len(kept) == most:
            break
    return order[np.array(kept, dtype=np.intp)]
