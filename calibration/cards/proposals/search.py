"""Rough quadrilaterals that may be the card, best first."""

from collections.abc import Callable
from dataclasses import dataclass
from functools import partial

import numpy as np
from numpy.typing import NDArray

from calibration.camera import Camera
from calibration.cards.geometry import aspect_errors
from calibration.cards.proposals.collinear_groups import with_collinear_groups
from calibration.cards.proposals.edge_support import EdgeMap, measure_support, rough_shapes
from calibration.cards.proposals.junctions import Junctions, closed_quads, find_junctions
from calibration.cards.proposals.segments import ChannelSegments, Pixels
from calibration.cards.proposals.smoothing import (
    amplified_contrast,
    contrasting_regions,
    without_bright_print,
    without_dark_print,
)
from calibration.cards.proposals.three_sides import open_quads
from calibration.image import Pyramid
from calibration.objects import ReferenceObject
from calibration.parallel import run_in_parallel

Array = NDArray[np.float64]
WIDEST_ASPECT_ERROR = 0.12
# An outline completed by the proportions agrees with them by construction: it needs better support than one
# that segments close.
_OPEN_COST = 0.1
# Only this many, the best by their sides, have their corners examined.
_MOST_WITH_CORNERS = 400
# On the finer level only small outlines are sought; lengths as shares of the photo's longer side.
_DETAIL_SEGMENTS = 700
_DETAIL_LONGEST = 0.16
# Print up to this wide is smoothed away before a search that follows if nothing else was convincing.
_NARROW_PRINT_PX, _WIDE_PRINT_PX = 7, 13
_MOST_SEPARATE = 60


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


@dataclass(frozen=True, slots=True, eq=False)
class LevelEdges:
    """What one level shows, found once for all stages of a search.

    Attributes
    ----------
    pyramid : Pyramid
        The photo.
    picture : (H, W, 3) array
        The level looked at.
    scale : float
        Full-resolution pixels per pixel of it.
    edges : EdgeMap
        Where the level has edges, by their direction.
    lines : ChannelSegments
        Its straight segments.
    """

    pyramid: Pyramid
    picture: Pixels
    scale: float
    edges: EdgeMap
    lines: ChannelSegments

    @classmethod
    def of(cls, pyramid: Pyramid) -> "LevelEdges":
        """Look for edges and straight segments on the most reduced level.

        Parameters
        ----------
        pyramid : Pyramid
            The photo.

        Returns
        -------
        LevelEdges
            What that level shows.
        """
        picture = pyramid.levels[-1]
        lines, edges = run_in_parallel(partial(ChannelSegments.of, picture), partial(EdgeMap.of, picture))
        return cls(pyramid, picture, pyramid.scales[-1], edges, lines)

    @classmethod
    def in_detail(cls, pyramid: Pyramid) -> "LevelEdges":
        """Look for edges and short segments on the level before the most reduced one.

        Parameters
        ----------
        pyramid : Pyramid
            The photo; of at least two levels.

        Returns
        -------
        LevelEdges
            What that level shows.
        """
        picture = pyramid.levels[-2]
        lines, edges = run_in_parallel(
            partial(ChannelSegments.in_detail, picture, pyramid.levels[-1]), partial(EdgeMap.of, picture)
        )
        short = lines.shorter_than(_DETAIL_LONGEST * max(picture.shape))
        return cls(pyramid, picture, pyramid.scales[-2], edges, short)


def search(
    seen: LevelEdges,
    camera: Camera,
    objects: tuple[ReferenceObject, ...],
    *,
    segments: int,
    thorough: bool = True,
) -> Candidates:
    """Find candidates on the most reduced level, from this many straight segments at most.

    Parameters
    ----------
    seen : LevelEdges
        What the most reduced level shows.
    camera : Camera
        Of the photo.
    objects : tuple of ReferenceObject
        Kinds whose proportions are plausible.
    segments : int
        Upper limit of the segments used, strongest first.
    thorough : bool
        Whether to join pieces to long lines, to add outlines of which only three sides are seen, and to look
        on the next finer level for what is small.

    Returns
    -------
    Candidates
        Best first, with full-resolution corners; where two levels are searched, those of each in turn.
    """
    if not thorough:
        pools = [_closed(find_junctions(seen.lines.strongest(segments)))]
        return _ranked(seen, camera, objects, pools)

    def coarsely() -> Candidates:
        return _ranked(seen, camera, objects, _thorough_pools(seen, camera, objects, segments))

    if len(seen.pyramid.levels) == 1:
        return coarsely()
    detail, coarse = run_in_parallel(partial(LevelEdges.in_detail, seen.pyramid), coarsely)
    pools = _thorough_pools(detail, camera, objects, _DETAIL_SEGMENTS)
    return _in_turn(coarse, _ranked(detail, camera, objects, pools))


Pool = tuple[Array, Array]


def _closed(junctions: Junctions) -> Pool:
    quads, cost = closed_quads(junctions)
    return quads, 0.02 * cost


def _thorough_pools(
    seen: LevelEdges, camera: Camera, objects: tuple[ReferenceObject, ...], segments: int
) -> list[Pool]:
    lines = with_collinear_groups(seen.lines).strongest(segments)
    junctions = find_junctions(lines)
    opened = open_quads(junctions, lines, camera, objects, seen.scale)
    return [_closed(junctions), (opened, np.full(len(opened), _OPEN_COST))]


def search_smoothed(
    seen: LevelEdges, camera: Camera, objects: tuple[ReferenceObject, ...], *, segments: int
) -> Candidates:
    """Find candidates hidden by print and pattern, faint ones, and small ones that stand out.

    Parameters
    ----------
    seen : LevelEdges
        For its photo.
    camera, objects, segments
        As for `search`.

    Returns
    -------
    Candidates
        Best first, with full-resolution corners; those of each way of looking in turn.
    """
    pyramid, at = seen.pyramid, max(len(seen.pyramid.levels) - 2, 0)

    def lines_of(level: int, smooth: Callable[[Pixels], Pixels], longest: float) -> Candidates:
        picture = smooth(pyramid.levels[level])
        lines, edges = run_in_parallel(partial(ChannelSegments.of, picture), partial(EdgeMap.of, picture))
        lines = lines.shorter_than(longest * max(picture.shape))
        smoothed = LevelEdges(pyramid, picture, pyramid.scales[level], edges, lines)
        return _ranked(smoothed, camera, objects, [_closed(find_junctions(lines.strongest(segments)))])

    def regions() -> Candidates:
        fine = pyramid.levels[at]
        quads = contrasting_regions(fine)
        around = LevelEdges(pyramid, fine, pyramid.scales[at], EdgeMap.of(fine), ChannelSegments(()))
        return _ranked(around, camera, objects, [(quads, np.zeros(len(quads)))])

    no_narrow_dark = partial(without_dark_print, width_px=_NARROW_PRINT_PX)
    no_dark = partial(without_dark_print, width_px=_WIDE_PRINT_PX)
    no_bright = partial(without_bright_print, width_px=_WIDE_PRINT_PX)
    tasks: list[Callable[[], Candidates]] = [
        partial(lines_of, at, no_narrow_dark, _DETAIL_LONGEST),
        partial(lines_of, at, no_bright, _DETAIL_LONGEST),
        regions,
        *(partial(lines_of, -1, smooth, 1.0) for smooth in (no_dark, no_bright, amplified_contrast)),
    ]
    return _in_turn(*run_in_parallel(*tasks))


def _in_turn(*lists: Candidates) -> Candidates:
    """Take from each in turn: support on pictures of different resolution can't be compared."""
    places = [np.arange(len(one.scores)) + index / len(lists) for index, one in enumerate(lists)]
    order = np.argsort(np.concatenate(places))
    return Candidates(
        np.concatenate([one.quads_px for one in lists])[order],
        np.concatenate([one.scores for one in lists])[order],
        np.concatenate([one.kinds for one in lists])[order],
    )


def _ranked(
    seen: LevelEdges, camera: Camera, objects: tuple[ReferenceObject, ...], pools: list[Pool]
) -> Candidates:
    quads, cost = (np.concatenate(parts) for parts in zip(*pools, strict=True))
    keep = _large_enough(quads, seen.picture)
    quads, cost = quads[keep], cost[keep]
    if not len(quads):
        return Candidates(np.zeros((0, 4, 2)), np.zeros(0), np.zeros(0, dtype=np.intp))
    full = (quads + 0.5) * seen.scale - 0.5
    errors = aspect_errors(full, camera, objects, corner_std_px=0.7 * seen.scale)
    plausible = errors.min(axis=1) < WIDEST_ASPECT_ERROR
    quads, full, errors, cost = (a[plausible] for a in (quads, full, errors, cost))
    if len(quads) > _MOST_WITH_CORNERS:
        rough_score = measure_support(seen.edges, quads, samples=8).score() - errors.min(axis=1) - cost
        best = np.argpartition(-rough_score, _MOST_WITH_CORNERS)[:_MOST_WITH_CORNERS]
        quads, full, errors, cost = (a[best] for a in (quads, full, errors, cost))
    by_kind = 0.3 * _shapes(seen.edges, quads, objects, errors) - errors
    scores = measure_support(seen.edges, quads).score() + by_kind.max(axis=1) - cost
    kinds = by_kind.argmax(axis=1)
    order = _separate(quads, scores, apart_px=2.0)
    return Candidates(full[order], scores[order], kinds[order])


def _shapes(edges: EdgeMap, quads: Array, objects: tuple[ReferenceObject, ...], errors: Array) -> Array:
    """Likeness of the corners to each kind's, (N, K), where the proportions are near those of the kind."""
    shapes = np.zeros(errors.shape)
    near = np.nonzero(errors < errors.min(axis=1, keepdims=True) + 0.05)
    shapes[near] = rough_shapes(edges, quads[near[0]], objects, near[1])
    return shapes


def _large_enough(quads: Array, picture: Pixels) -> NDArray[np.bool_]:
    """Drop what is too small to measure by, and what reaches far out of the picture."""
    sides = np.linalg.norm(np.roll(quads, -1, axis=1) - quads, axis=2)
    longest = max(picture.shape[:2])
    size = np.array([picture.shape[1], picture.shape[0]])
    outside = np.maximum(-quads, quads - size).max(axis=(1, 2))
    return np.asarray(
        (sides.min(axis=1) > 0.012 * longest)
        & (sides.max(axis=1) > 0.025 * longest)
        & (outside < 0.08 * longest)
    )


def _separate(quads: Array, scores: Array, *, apart_px: float) -> NDArray[np.intp]:
    """Pick the best candidates, each with a corner at least this far from those of better ones."""
    order = np.argsort(-scores)[: 6 * _MOST_SEPARATE]
    starts = quads[order].sum(axis=2).argmin(axis=1)
    rolled = quads[order[:, None], (starts[:, None] + np.arange(4)) % 4]
    kept: list[int] = []
    for index in range(len(order)):
        if kept and np.abs(rolled[kept] - rolled[index]).max(axis=(1, 2)).min() < apart_px:
            continue
        kept.append(index)
        if len(kept) == _MOST_SEPARATE:
            break
    return order[np.array(kept, dtype=np.intp)]
