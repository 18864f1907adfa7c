"""The round: the diameter of a circle seen in perspective."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from calibration.camera import Array
from calibration.plane import Plane
from measure.errors import SpanError
from measure.kinds.span import CLICK_STD_PX
from measure.length import CLICK, EDGE, STANDOFF, Length, OwnInput, checked_standoff, points_of, propagated

_IN_LINE = "the points of the rim lie on one line, or nearly so: mark points well spread around it"
# A radius is refused where its standard uncertainty exceeds this share of it.
_MOST_OPEN = 0.2
# A radius above this many times the marked extent is that of a straight edge: none.
_FARTHEST = 1e5
# Least to largest singular value of the fit's slopes: an arc of half a degree.
_LEAST_CONDITION = 1e-6
_NOWHERE_MM = 1e-12


@dataclass(frozen=True, slots=True, eq=False)
class Circle:
    """A circle in the plane.

    Attributes
    ----------
    centre_mm : (2,) array
        Its true centre; not what lies under the centre of the ellipse.
    radius_mm : float
        Radius.
    residuals_mm : (N,) array
        Distances of the points from it.
    """

    centre_mm: Array
    radius_mm: float
    residuals_mm: Array


def measure_round(
    plane: Plane,
    rim_px: ArrayLike,
    *,
    point_std_px: float = CLICK_STD_PX,
    fitted: bool = False,
    edge_std_mm: float = 0.0,
    standoff_mm: float = 0.0,
    standoff_std_mm: float | None = None,
    photo_id: str = "photo",
    span_id: str | None = None,
) -> Length:
    """Measure the diameter of a circle parallel to the reference's plane.

    Parameters
    ----------
    plane : Plane
        Of the reference.
    rim_px : (N, 2) array
        At least three points on the rim, well spread.
    point_std_px : float
        Standard uncertainty of each point across the rim.
    fitted : bool
        Whether the points were found on the edge, or clicked.
    edge_std_mm : float
        Standard uncertainty by which the whole rim may lie outside the points: a rounded edge shades itself.
    standoff_mm, standoff_std_mm : float
        Height of the rim above the reference's face, and its standard uncertainty.
    photo_id, span_id : str
        Name the inputs.

    Raises
    ------
    SpanError
        Fewer than three points, points on one line, or too little of the rim to give a diameter.

    Notes
    -----
    The points are projected to the plane of the rim, where the circle is a circle, and fitted there by least
    squares of the distances. Points that scatter more than stated are weighted by their scatter. The
    uncertainty of a diameter goes as one over the height of the arc: where the points leave it open by more
    than a fifth, neither the fit nor its linear uncertainty means anything (that fifth is common practice, no
    source).
    """
    points = points_of(rim_px, 3, "a round")
    height, std_mm = checked_standoff(plane, standoff_mm, standoff_std_mm)
    flat = plane.to_mm(points, height)
    per_px = _mm_per_px_across(plane, points, height)
    circle = fit_circle(flat, 1.0 / per_px**2)
    gain = _radius_gain(flat, circle, 1.0 / per_px**2)
    excess = _excess(circle, per_px * point_std_px)
    noise_mm = float(np.linalg.norm(gain * per_px)) * point_std_px * excess
    if not noise_mm <= _MOST_OPEN * circle.radius_mm:
        raise SpanError(_IN_LINE)
    noise_mm = float(np.hypot(noise_mm, edge_std_mm))

    def values(shared: Array, own: Array) -> Array:
        spots = plane.to_mm_spread(shared, points[None], (height + std_mm * own[:, 1])[:, None])
        reach = np.linalg.norm(spots - circle.centre_mm, axis=2)
        radius = circle.radius_mm + (reach - circle.radius_mm) @ gain
        return np.asarray(2.0 * (radius + noise_mm * own[:, 0]))

    own = [OwnInput("rim", EDGE if fitted else CLICK), OwnInput("standoff", STANDOFF)]
    name = span_id or "round-" + "-".join(f"{number:.2f}" for number in points[:3].ravel())
    return propagated(plane, values, own, photo_id=photo_id, name=name)


def fit_circle(points_mm: Array, weights: Array | None = None) -> Circle:
    """Fit a circle by least squares of the distances.

    Parameters
    ----------
    points_mm : (N, 2) array
        At least three points.
    weights : (N,) array, optional
        One over each point's variance.

    Returns
    -------
    Circle
        Centre and radius, mm, and each point's distance outside it.

    Raises
    ------
    SpanError
        The points lie on one line.

    Notes
    -----
    Gauss-Newton on the distances, from the algebraic circle.
    """
    weight = np.ones(len(points_mm)) if weights is None else weights / weights.mean()
    root = np.sqrt(weight)
    middle = points_mm.mean(axis=0)
    local = points_mm - middle
    size = float(np.abs(local).max())
    design = np.column_stack([2.0 * local, np.full(len(local), size)])
    values = np.linalg.svd(design, compute_uv=False)
    if size == 0.0 or values[2] < 1e-4 * values[0]:
        raise SpanError(_IN_LINE)
    x, y, rest = np.linalg.lstsq(design * root[:, None], np.sum(local**2, axis=1) * root, rcond=None)[0]
    centre, radius = np.array([x, y]), float(np.sqrt(rest * size + x**2 + y**2))
    for _ in range(30):
        if not radius < _FARTHEST * size:
            raise SpanError(_IN_LINE)
        away = local - centre
        reach = np.linalg.norm(away, axis=1)
        slope = _slopes(away) * root[:, None]
        step = np.linalg.lstsq(slope, (reach - radius) * root, rcond=None)[0]
        centre, radius = centre + step[:2], radius + float(step[2])
        if float(np.abs(step).max()) < 1e-10 * size:
            break
    values = np.linalg.svd(_slopes(local - centre), compute_uv=False)
    if not values[2] > _LEAST_CONDITION * values[0]:
        raise SpanError(_IN_LINE)
    return Circle(centre + middle, radius, np.linalg.norm(local - centre, axis=1) - radius)


def _slopes(away_mm: Array) -> Array:
    """Change of each point's distance from the circle with its centre and radius, (N, 3)."""
    reach = np.maximum(np.linalg.norm(away_mm, axis=1, keepdims=True), _NOWHERE_MM)
    return np.column_stack([away_mm / reach, np.ones(len(away_mm))])


def _radius_gain(points_mm: Array, circle: Circle, weights: Array) -> Array:
    """Change of the radius per mm of each point's distance from the centre, (N,)."""
    slope = _slopes(points_mm - circle.centre_mm)
    scaled = slope * (weights / weights.mean())[:, None]
    return np.asarray(np.linalg.solve(slope.T @ scaled, scaled.T)[2])


def _mm_per_px_across(plane: Plane, points_px: Array, height_mm: float) -> Array:
    """Millimetres across the rim per pixel across it, (N,): the scale along the line from the middle."""
    middle = points_px.mean(axis=0)
    away = points_px - middle
    unit = away / np.maximum(np.linalg.norm(away, axis=1, keepdims=True), 1e-9)
    step = plane.to_mm(points_px + 0.5 * unit, height_mm) - plane.to_mm(points_px - 0.5 * unit, height_mm)
    return np.asarray(np.linalg.norm(step, axis=1))


def _excess(circle: Circle, stated_mm: Array) -> float:
    """Factor, at least 1, by which the points scatter more than stated."""
    freedom = len(stated_mm) - 3
    if freedom < 1:
        return 1.0
    chi2 = float(np.sum((circle.residuals_mm / stated_mm) ** 2))
    return max(1.0, float(np.sqrt(chi2 / freedom)))
