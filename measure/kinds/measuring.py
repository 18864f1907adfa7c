"""Measuring by kind: one entry point for all of them."""

from collections.abc import Callable
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import ArrayLike

from calibration.camera import Array
from calibration.cautions import Caution
from calibration.edges import hidden_px
from calibration.plane import Plane
from measure.cautions import LengthCautionCode
from measure.errors import SpanError
from measure.kinds.clicks import click_std_px
from measure.kinds.gap import angle_between_deg, measure_gap
from measure.kinds.gap_edges import edges_of_gap
from measure.kinds.rise import measure_rise
from measure.kinds.round import measure_round
from measure.kinds.round_rim import rim_of_round
from measure.kinds.snapping import seen_ends
from measure.kinds.span import measure_span
from measure.kinds.terms import KINDS, Choices, Measured
from measure.kinds.tip import measure_tip
from measure.length import Length, checked_standoff, points_of

if TYPE_CHECKING:
    from calibration.image import Photo

OnPlane = Callable[[Plane], Measured]
_Measure = Callable[["Photo", Plane, Array, Choices, float], Measured]

# Edges at a larger angle are not clearly parallel any more.
_TURNED_DEG = 1.5


def on_planes(kind: str, photo: "Photo", clicks_px: ArrayLike, choices: Choices | None = None) -> OnPlane:
    """Return a measurement, by the rules of its kind, as a function of the plane.

    The photo is searched once, however many planes follow.

    Parameters
    ----------
    kind : str
        One of `measure.kinds.terms.KINDS`.
    photo : Photo
        For the edges beside the clicks.
    clicks_px : (N, 2) array
        The points that the kind asks for.
    choices : Choices, optional
        How.

    Returns
    -------
    callable
        Takes the plane of the reference; raises a GeometryError for points beyond its horizon.

    Raises
    ------
    SpanError
        Unknown kind, wrong number of points, or points that make no such measurement; also by the function.
    """
    if kind not in KINDS:
        raise SpanError(f"no kind of measurement '{kind}': expected one of {', '.join(KINDS)}")
    known = KINDS[kind]
    points = points_of(clicks_px, known.least, f"a {kind} ({known.clicks})")
    if known.most and len(points) > known.most:
        raise SpanError(f"a {kind} takes {known.clicks}; {len(points)} points given")
    how = choices or Choices()
    if kind == "span":
        return _span(photo, points, how)
    return _marked(_MEASURES[kind], photo, points, how)


def _marked(measure: _Measure, photo: "Photo", points: Array, how: Choices) -> OnPlane:
    """Return a measurement whose points are all marked equally well, as stated or by the picture."""
    std_px = how.click_std_px
    if std_px is None:
        height_px, width_px = photo.pixels_bgr.shape[:2]
        std_px = click_std_px((width_px, height_px), zoom_factor=how.zoom_factor)

    def on(plane: Plane) -> Measured:
        measured = measure(photo, plane, points, how, std_px)
        return replace(measured, std_px=(std_px,) * len(measured.used_px))

    return on


def _tuples(points: Array) -> tuple[tuple[float, float], ...]:
    return tuple((float(x), float(y)) for x, y in points)


def _scales(plane: Plane, points: Array, height_mm: float) -> list[float]:
    return [1.0 / plane.scale_mm_per_px(point, height_mm) for point in points]


def _span(photo: "Photo", points: Array, how: Choices) -> OnPlane:
    seen = seen_ends(
        photo, _tuples(points), snap=how.snap, click_std_px=how.click_std_px, zoom_factor=how.zoom_factor
    )

    def on(plane: Plane) -> Measured:
        checked_standoff(plane, how.height_mm, how.standoff_std_mm)
        scales = _scales(plane, points, how.height_mm) if how.snap else (0.0, 0.0)
        ends = tuple(end.shaped(scale) for end, scale in zip(seen, scales, strict=True))
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

    return on


def _gap(photo: "Photo", plane: Plane, points: Array, how: Choices, std_px: float) -> Measured:
    scale = _scales(plane, points.mean(axis=0, keepdims=True), how.height_mm)[0]
    edges = edges_of_gap(photo, points, snap=how.snap, click_std_px=std_px, px_per_mm=scale)
    length = measure_gap(
        plane,
        edges,
        standoff_mm=how.height_mm,
        standoff_std_mm=how.standoff_std_mm,
        photo_id=how.photo_id,
        span_id=how.span_id,
    )
    angle_deg = angle_between_deg(plane, edges, how.height_mm)
    turned = Caution.of(LengthCautionCode.EDGES_TURNED, angle_deg=angle_deg)
    cautions = (turned,) if angle_deg > _TURNED_DEG else ()
    used = np.concatenate([edge.ends_px for edge in edges])
    return Measured(length, _tuples(used), all(edge.fitted for edge in edges), cautions)


def _shape_mm(plane: Plane, rim_px: Array, height_mm: float) -> float:
    """Return by how much, as a standard uncertainty, a rounded rim may lie outside its fitted edge."""
    scale = _scales(plane, rim_px[:1], height_mm)[0]
    return hidden_px(scale) / scale


def _round(photo: "Photo", plane: Plane, points: Array, how: Choices, std_px: float) -> Measured:
    rim = rim_of_round(photo, plane, points, how.height_mm) if how.snap else None
    used = points if rim is None else rim.points_px
    length = measure_round(
        plane,
        used,
        point_std_px=std_px if rim is None else rim.std_px,
        fitted=rim is not None,
        edge_std_mm=0.0 if rim is None else _shape_mm(plane, rim.points_px, how.height_mm),
        standoff_mm=how.height_mm,
        standoff_std_mm=how.standoff_std_mm,
        photo_id=how.photo_id,
        span_id=how.span_id,
    )
    shown = points if rim is None else rim.points_px[:: max(1, len(rim.points_px) // 12)]
    cautions = (Caution.of(LengthCautionCode.NO_RIM),) if how.snap and rim is None else ()
    return Measured(length, _tuples(shown), rim is not None, cautions)


def _rise(photo: "Photo", plane: Plane, points: Array, how: Choices, std_px: float) -> Measured:
    lean = {} if how.lean_std_mm is None else {"lean_std_mm": how.lean_std_mm}
    length = measure_rise(
        plane, points, click_std_px=std_px, photo_id=how.photo_id, span_id=how.span_id, **lean
    )
    return Measured(length, _tuples(points), snapped=False)


def _tip(photo: "Photo", plane: Plane, points: Array, how: Choices, _std_px: float) -> Measured:
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


_MEASURES: dict[str, _Measure] = {
    "gap": _gap,
    "round": _round,
    "rise": _rise,
    "tip": _tip,
}
