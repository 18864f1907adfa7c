"""Which of the parallel edges beside each side are the card's: all sides judged together.

A printed frame, a magnetic stripe or a shadow lies parallel and close to the card's edge; mistaken for it, it
shifts the scale by a few per cent. Three right sides and a wrong one still look like a rectangle at some
tilt.
"""

from dataclasses import dataclass
from itertools import product

import numpy as np
from numpy.typing import NDArray

from calibration.camera import Camera
from calibration.cards.features import Patch, SideLines, corner_shapes, corners_in_photo, side_lines
from calibration.cards.geometry import aspect_errors, intersect, is_convex
from calibration.objects import ReferenceObject

Array = NDArray[np.float64]

# By how much a right outline's proportions may err beyond the noise of its corners, with the focal length
# free. With more, a small card's outline in weak perspective loses to a wrong one (like the next number,
# chosen on tuning seeds).
_SHAPE_FLOOR = 0.008
# A sharp corner never scores as high as a rounded one: its two edges blur into an arc.
_SHARP_ALLOWANCE = 0.2


@dataclass(frozen=True, slots=True, eq=False)
class Combination:
    """One choice of four sides.

    Attributes
    ----------
    corners_px : (4, 2) array
        Full-resolution px, side 0->1 the object's width.
    score : float
        Comparable between choices on the same patch.
    edge_support, shapes : (4,) arrays
        Share of each side seen; likeness of each corner to the object's, see `corner_shapes`.
    outward_units : (4,) array
        How far each side lies outside the candidate's.
    aspect_error : float
        Disagreement of the proportions, see `aspect_errors`.
    """

    corners_px: Array
    score: float
    edge_support: Array
    shapes: Array
    outward_units: Array
    aspect_error: float


def combinations(
    patch: Patch, camera: Camera, objects: tuple[ReferenceObject, ...] = ()
) -> list[Combination]:
    """Return the choices of four parallel edges, best first.

    Their proportions may be those of any of the kinds whose corners are shaped as those of the patch's kind.
    """
    lines = [side_lines(patch, side) for side in range(4)]
    choices = np.array(list(product(*(range(len(side.share)) for side in lines))), dtype=np.intp)
    ends = np.stack([side.ends[choices[:, k]] for k, side in enumerate(lines)], axis=1)
    edge_support = np.stack([side.share[choices[:, k]] for k, side in enumerate(lines)], axis=1)
    outward = np.stack([side.outward_units[choices[:, k]] for k, side in enumerate(lines)], axis=1)
    shapes = _shapes(patch, lines, choices)
    corners = _corners(ends)
    good = is_convex(corners)
    quads = corners_in_photo(patch, corners)
    unit_px = float(np.linalg.norm(quads[0, 2] - quads[0, 0])) / 100.0
    kinds = _cornered_alike(patch.kind, objects)
    errors = aspect_errors(quads, camera, kinds, corner_std_px=0.15 * unit_px, floor=_SHAPE_FLOOR)
    errors = errors.min(axis=1)
    allowance = _SHARP_ALLOWANCE if patch.kind.corner_radius_mm == 0.0 else 0.0
    score = np.where(good, _score(edge_support, shapes, errors, outward, allowance), -np.inf)
    order = np.argsort(-score)
    return [
        Combination(quads[i], float(score[i]), edge_support[i], shapes[i], outward[i], float(errors[i]))
        for i in order
        if good[i]
    ]


def _cornered_alike(
    kind: ReferenceObject, objects: tuple[ReferenceObject, ...]
) -> tuple[ReferenceObject, ...]:
    alike = (other for other in objects if (other.corner_radius_mm > 0.0) == (kind.corner_radius_mm > 0.0))
    return tuple(dict.fromkeys((kind, *alike)))


def _score(edge_support: Array, shapes: Array, errors: Array, outward: Array, allowance: float) -> Array:
    ordered = np.sort(edge_support, axis=1)
    support = 0.45 * ordered.mean(axis=1) + 0.35 * ordered[:, 1] + 0.2 * ordered[:, 0]
    # One corner may be covered: the best three count, and the mean a little.
    ranked = np.sort(shapes, axis=1)
    shape = 0.7 * ranked[:, 1:].mean(axis=1) + 0.3 * shapes.mean(axis=1)
    aspect = np.minimum((errors / 0.02) ** 2, 6.0)
    return np.asarray(
        support + 0.45 * (shape + allowance) - 0.12 * aspect + 0.012 * np.clip(outward, -4, 4).mean(axis=1)
    )


def _corners(ends: Array) -> Array:
    """Intersect side i - 1 with side i, (N, 4, 2), from the sides' ends (N, 4, 2, 2)."""
    vectors = ends[:, :, 1] - ends[:, :, 0]
    before = np.roll(ends, 1, axis=1)
    return intersect(before[:, :, 0], np.roll(vectors, 1, axis=1), ends[:, :, 0], vectors)


def _shapes(patch: Patch, lines: list[SideLines], choices: NDArray[np.intp]) -> Array:
    """Corner likeness, (N, 4), computed once per pair of neighbouring edges."""
    counts = [len(side.share) for side in lines]
    before = [np.repeat(lines[k - 1].ends, counts[k], axis=0) for k in range(4)]
    after = [np.tile(lines[k].ends, (counts[k - 1], 1, 1)) for k in range(4)]
    values = corner_shapes(patch, np.concatenate(before), np.concatenate(after))
    # Where each corner's values begin: a row for each edge before it, a column for each after.
    first = np.cumsum([0, *(len(pairs) for pairs in before)])[:4]
    return np.asarray(values[first + np.roll(choices, 1, axis=1) * counts + choices])
