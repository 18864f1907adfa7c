"""The kinds of measurement: what each needs, and one door to all of them."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import ArrayLike

from calibration.edge_shape import hidden_px
from calibration.lens import Array
from calibration.plane import Plane
from measure.errors import SpanError
from measure.kind_edges import edges_of_gap
from measure.kind_gap import angle_between_deg, measure_gap
from measure.kind_rims import rim_of_round
from measure.kind_rise import measure_rise
from measure.kind_round import measure_round
from measure.kind_tip import CannotTell, measure_tip
from measure.length import Length
from measure.propagation import points_of
from measure.snapping import UsedPoint, snap_span
from measure.span import CLICK_STD_PX, measure_span

if TYPE_CHECKING:
    from calibration.photo import Photo


@dataclass(frozen=True, slots=True)
class Kind:
    """One kind of measurement.

    Attributes
    ----------
    key : str
        Its name.
    clicks : str
        What to mark, for people.
    least, most : int
        How many points; `most` is 0 where there may be any number.
    gives : str
        What comes out.
    """

    key: str
    clicks: str
    least: int
    most: int
    gives: str


KINDS: dict[str, Kind] = {
    kind.key: kind
    for kind in (
        Kind("span", "two points", 2, 2, "the distance between them"),
        Kind(
            "gap",
            "two points on each of two parallel edges, or one point on each",
            2,
            4,
            "the distance between the edges",
        ),
        Kind("round", "three or more points around a rim", 3, 0, "the diameter"),
        Kind(
            "rise",
            "the foot, where the thing meets the table, then the top right above it",
            2,
            2,
            "the height above the table",
        ),
        Kind(
            "tip",
            "around a corner in order: two points on one straight side, two on the other",
            4,
            0,
            "the radius of the rounding",
        ),
    )
}


@dataclass(frozen=True, slots=True)
class Measured:
    """A measurement of any kind.

    Attributes
    ----------
    result : Length or CannotTell
        The length, or why the photo doesn't give it.
    used_px : tuple of points
        The points that entered, after snapping.
    snapped : bool
        Whether edges or a rim were found in the photo.
    cautions : tuple of str
        What may be wrong and what to do.
    std_px : tuple of float
        Standard uncertainty of each used point's coordinates; empty where it is that of a click throughout.
    ends : tuple of UsedPoint
        Of a span: how each end was moved, or why not.
    """

    result: Length | CannotTell
    used_px: tuple[tuple[float, float], ...]
    snapped: bool
    cautions: tuple[str, ...] = ()
    std_px: tuple[float, ...] = ()
    ends: tuple[UsedPoint, ...] = ()


@dataclass(frozen=True, slots=True)
class Choices:
    """How a measurement is to be made.

    Attributes
    ----------
    snap : bool
        Whether to look for the edges beside the points.
    click_std_px : float
        Standard uncertainty of each coordinate of a point by hand.
    standoff_mm : float or pair of floats
        Height above the reference's face; a span may have one for each end, other kinds take the mean.
    standoff_std_mm : float or None
        Its standard uncertainty; None for the usual one.
    lean_std_mm : float or None
        For a rise: how far the top may stand aside from straight above the foot.
    photo_id, span_id : str
        Name the inputs.
    """

    snap: bool = True
    click_std_px: float = CLICK_STD_PX
    standoff_mm: float | tuple[float, ...] = 0.0
    standoff_std_mm: float | None = None
    lean_std_mm: float | None = None
    photo_id: str = "photo"
    span_id: str | None = None

    @property
    def height_mm(self) -> float:
        """One stand-off for all points."""
        return float(np.mean(self.standoff_mm))


def measure_kind(
    kind: str, photo: "Photo", plane: Plane, clicks_px: ArrayLike, choices: Choices | None = None
) -> Measured:
    """Measure what was clicked, by the rules of its kind.

    Parameters
    ----------
    kind : str
        One of `KINDS`.
    photo : Photo
        For the edges beside the clicks.
    plane : Plane
        Of the reference.
    clicks_px : (N, 2) array
        The points that the kind asks for.
    choices : Choices, optional
        How.

    Raises
    ------
    SpanError
        Unknown kind, wrong number of points, or points that make no such measurement.
    GeometryError
        Points beyond the plane's horizon.
    """
    if kind not in KINDS:
        raise SpanError(f"no kind of measurement '{kind}': expected one of {', '.join(KINDS)}")
    known = KINDS[kind]
    points = points_of(clicks_px, known.least, f"a {kind} ({known.clicks})")
    if known.most and len(points) > known.most:
        raise SpanError(f"a {kind} takes {known.clicks}; {len(points)} points given")
    return _MEASURES[kind](photo, plane, points, choices or Choices())


def _tuples(points: Array) -> tuple[tuple[float, float], ...]:
    return tuple((float(x), float(y)) for x, y in points)


def _scales(plane: Plane, points: Array, height_mm: float) -> list[float]:
    return [1.0 / plane.scale_mm_per_px(point, height_mm) for point in points]


def _span(photo: "Photo", plane: Plane, points: Array, how: Choices) -> Measured:
    ends = snap_span(
        photo,
        _tuples(points),
        snap=how.snap,
        click_std_px=how.click_std_px,
        px_per_mm=_scales(plane, points, how.height_mm) if how.snap else (0.0, 0.0),
    )
    length = measure_span(
        plane,
        [end.used_px for end in ends],
        standoff_mm=how.standoff_mm,
        standoff_std_mm=how.standoff_std_mm,
        click_std_px=[end.std_px for end in ends],
        on_edge=[end.snapped for end in ends],
        photo_id=how.photo_id,
        span_id=how.span_id,
    )
    stds = tuple(end.std_px for end in ends)
    used = tuple(end.used_px for end in ends)
    return Measured(length, used, any(end.snapped for end in ends), std_px=stds, ends=ends)


def _gap(photo: "Photo", plane: Plane, points: Array, how: Choices) -> Measured:
    scale = _scales(plane, points.mean(axis=0, keepdims=True), how.height_mm)[0]
    edges = edges_of_gap(photo, points, snap=how.snap, click_std_px=how.click_std_px, px_per_mm=scale)
    length = measure_gap(
        plane,
        edges,
        standoff_mm=how.height_mm,
        standoff_std_mm=how.standoff_std_mm,
        photo_id=how.photo_id,
        span_id=how.span_id,
    )
    angle_deg = angle_between_deg(plane, edges, how.height_mm)
    cautions: tuple[str, ...] = ()
    if angle_deg > 1.5:
        cautions = (
            f"The edges make {angle_deg:.1f}° with each other; the gap is their mean distance over the"
            " stretch where they lie side by side.",
        )
    used = np.concatenate([edge.ends_px for edge in edges])
    return Measured(length, _tuples(used), all(edge.fitted for edge in edges), cautions)


def _shape_mm(plane: Plane, rim_px: Array, height_mm: float) -> float:
    """Return by how much, as a standard uncertainty, a rounded rim may lie outside its fitted edge."""
    scale = _scales(plane, rim_px[:1], height_mm)[0]
    return hidden_px(scale) / scale


def _round(photo: "Photo", plane: Plane, points: Array, how: Choices) -> Measured:
    rim = rim_of_round(photo, plane, points, how.height_mm) if how.snap else None
    used = points if rim is None else rim.points_px
    length = measure_round(
        plane,
        used,
        point_std_px=how.click_std_px if rim is None else rim.std_px,
        fitted=rim is not None,
        edge_std_mm=0.0 if rim is None else _shape_mm(plane, rim.points_px, how.height_mm),
        standoff_mm=how.height_mm,
        standoff_std_mm=how.standoff_std_mm,
        photo_id=how.photo_id,
        span_id=how.span_id,
    )
    shown = points if rim is None else rim.points_px[:: max(1, len(rim.points_px) // 12)]
    cautions: tuple[str, ...] = ()
    if how.snap and rim is None:
        cautions = ("No clear rim was found beside the points; they were used as given.",)
    return Measured(length, _tuples(shown), rim is not None, cautions)


def _rise(photo: "Photo", plane: Plane, points: Array, how: Choices) -> Measured:
    lean = {} if how.lean_std_mm is None else {"lean_std_mm": how.lean_std_mm}
    length = measure_rise(
        plane, points, click_std_px=how.click_std_px, photo_id=how.photo_id, span_id=how.span_id, **lean
    )
    return Measured(length, _tuples(points), snapped=False)


def _tip(photo: "Photo", plane: Plane, points: Array, how: Choices) -> Measured:
    result = measure_tip(
        photo,
        plane,
        points,
        standoff_mm=how.height_mm,
        standoff_std_mm=how.standoff_std_mm,
        photo_id=how.photo_id,
        span_id=how.span_id,
    )
    return Measured(result, _tuples(points), snapped=isinstance(result, Length))


_MEASURES: dict[str, Callable[["Photo", Plane, Array, Choices], Measured]] = {
    "span": _span,
    "gap": _gap,
    "round": _round,
    "rise": _rise,
    "tip": _tip,
}
