"""The gap: the distance between two parallel straight edges."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import degrees

import numpy as np
from numpy.typing import ArrayLike

from calibration.camera import Array
from calibration.plane import Plane
from measure.errors import SpanError
from measure.kinds.span import CLICK_STD_PX
from measure.length import CLICK, EDGE, STANDOFF, Length, OwnInput, checked_standoff, propagated

# Edges meant to be parallel are so within a degree or two; beyond ten degrees they bound no gap.
_MOST_ANGLE_DEG = 10.0


@dataclass(frozen=True, slots=True, eq=False)
class MarkedEdge:
    """A straight edge, given by two points on it.

    Attributes
    ----------
    ends_px : (2, 2) array
        The two points.
    across_cov_px2 : (2, 2) array
        Covariance of their errors across the edge; along it they don't matter.
    fitted : bool
        Whether the edge was found in the photo, or only clicked.
    """

    ends_px: Array
    across_cov_px2: Array
    fitted: bool = False


def clicked_edge(ends_px: ArrayLike, click_std_px: float = CLICK_STD_PX) -> MarkedEdge:
    """Return an edge known by two clicks alone."""
    return MarkedEdge(np.asarray(ends_px, dtype=float), click_std_px**2 * np.eye(2))


def measure_gap(
    plane: Plane,
    edges: Sequence[MarkedEdge],
    *,
    standoff_mm: float = 0.0,
    standoff_std_mm: float | None = None,
    photo_id: str = "photo",
    span_id: str | None = None,
) -> Length:
    """Measure between two parallel edges in a plane at one stand-off.

    Parameters
    ----------
    plane : Plane
        Of the reference.
    edges : pair of MarkedEdge
        The two edges.
    standoff_mm, standoff_std_mm : float
        Height of both above the reference's face, and its standard uncertainty.
    photo_id, span_id : str
        Name the inputs.

    Raises
    ------
    SpanError
        An edge's points coincide, the edges make more than 10° with each other, or lie on one line.

    Notes
    -----
    The distance across the mean direction of the two, in the middle of the stretch over which they lie side
    by side: for edges that aren't quite parallel that is the mean distance.
    """
    if len(edges) != 2:
        raise SpanError(f"a gap lies between two edges; {len(edges)} given")
    height, std_mm = checked_standoff(plane, standoff_mm, standoff_std_mm)
    ends = np.concatenate([edge.ends_px for edge in edges])
    across = _across(ends)
    roots = [np.linalg.cholesky(edge.across_cov_px2) for edge in edges]
    flat = plane.to_mm(ends, height)
    _refuse(flat, ends)

    def values(shared: Array, own: Array) -> Array:
        moves = np.concatenate([own[:, 0:2] @ roots[0].T, own[:, 2:4] @ roots[1].T], axis=1)
        heights = (height + std_mm * own[:, 4])[:, None]
        return _distance(plane.to_mm_spread(shared, ends + moves[..., None] * across, heights))

    names = [EDGE if edge.fitted else CLICK for edge in edges for _ in range(2)]
    own = [OwnInput(f"edge-{index + 1}", source) for index, source in enumerate(names)]
    name = span_id or "gap-" + "-".join(f"{number:.2f}" for number in ends.ravel())
    return propagated(plane, values, [*own, OwnInput("standoff", STANDOFF)], photo_id=photo_id, name=name)


def angle_between_deg(plane: Plane, edges: Sequence[MarkedEdge], standoff_mm: float = 0.0) -> float:
    """Return the angle between the two edges of a gap in their plane; near 0 for a good gap."""
    return _angle_deg(plane.to_mm(np.concatenate([edge.ends_px for edge in edges]), standoff_mm))


def _across(ends: Array) -> Array:
    along = np.stack([ends[1] - ends[0], ends[3] - ends[2]])
    lengths = np.linalg.norm(along, axis=1, keepdims=True)
    if float(lengths.min()) < 1.0:
        raise SpanError("the two points on an edge coincide: mark two points well apart along it")
    unit = along / lengths
    normals = np.stack([-unit[:, 1], unit[:, 0]], axis=1)
    return np.repeat(normals, 2, axis=0)


def _angle_deg(flat: Array) -> float:
    one, other = flat[1] - flat[0], flat[3] - flat[2]
    cosine = abs(float(one @ other)) / float(np.linalg.norm(one) * np.linalg.norm(other))
    return degrees(float(np.arccos(min(1.0, cosine))))


def _refuse(flat: Array, ends: Array) -> None:
    angle_deg = _angle_deg(flat)
    if angle_deg > _MOST_ANGLE_DEG:
        raise SpanError(
            f"the two edges make {angle_deg:.0f}° with each other; a gap needs edges that are parallel within"
            f" {_MOST_ANGLE_DEG:.0f}°: mark both again, or measure a span"
        )
    if float(_distance(flat[None])[0]) < 1e-6 * float(np.ptp(flat, axis=0).max()):
        raise SpanError("the two edges of the gap lie on one line: mark two different edges")


def _distance(flat: Array) -> Array:
    """Distance (B,) between the lines through points 0, 1 and 2, 3 of (B, 4, 2)."""
    one, other = flat[:, 1] - flat[:, 0], flat[:, 3] - flat[:, 2]
    one = one / np.linalg.norm(one, axis=1, keepdims=True)
    other = other / np.linalg.norm(other, axis=1, keepdims=True)
    other = np.where(np.sum(one * other, axis=1, keepdims=True) < 0, -other, other)
    along = one + other
    along = along / np.linalg.norm(along, axis=1, keepdims=True)
    across = np.stack([-along[:, 1], along[:, 0]], axis=1)
    place = np.einsum("bnk,bk->bn", flat, along)
    first, second = np.sort(place[:, :2], axis=1), np.sort(place[:, 2:], axis=1)
    low, high = np.maximum(first[:, 0], second[:, 0]), np.minimum(first[:, 1], second[:, 1])
    middle = (low + high) / 2.0  # where they don't overlap, half way between them
    sides = np.einsum("bnk,bk->bn", flat, across)
    return np.asarray(np.abs(_at(sides, place, middle, 2) - _at(sides, place, middle, 0)))


def _at(sides: Array, place: Array, middle: Array, first: int) -> Array:
    a, b = sides[:, first], sides[:, first + 1]
    p, q = place[:, first], place[:, first + 1]
    return np.asarray(a + (b - a) * (middle - p) / (q - p))
