"""The span: the distance between two points of a photo, with its uncertainty."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import ArrayLike

from calibration.camera import Array
from calibration.plane import Plane
from measure.errors import SpanError
from measure.length import (
    CLICK,
    EDGE,
    STANDOFF,
    Length,
    OwnInput,
    Values,
    default_standoff_std_mm,
    propagated,
)

# A hand-marked point scatters by about one pixel in each coordinate (own trials with a magnifier;
# user-settable).
CLICK_STD_PX = 1.0


def measure_span(
    plane: Plane,
    p_px: ArrayLike,
    *,
    standoff_mm: float | Sequence[float] = 0.0,
    standoff_std_mm: float | None = None,
    click_std_px: float | Sequence[float] = CLICK_STD_PX,
    on_edge: Sequence[bool] = (False, False),
    photo_id: str = "photo",
    span_id: str | None = None,
) -> Length:
    """Measure between two points.

    Parameters
    ----------
    plane : Plane
        Of the reference card.
    p_px : (2, 2) array
        The two end points in pixels.
    standoff_mm : float or pair of floats
        Height of the span above the card's face, toward the camera. A pair of different heights gives each
        end its own, with its own error, and the result is then the distance in space.
    standoff_std_mm : float, optional
        Standard uncertainty of the stand-off, of each one if there are two; 1 mm by default.
    click_std_px : float or pair of floats
        Standard uncertainty of each coordinate of the end points: 1 px by hand, less when snapped to an edge.
    on_edge : pair of bool
        Which ends lie on a fitted edge; their errors are those of the fit, not of a click.
    photo_id, span_id : str
        Name the inputs, so that lengths of one photo share its errors and each has its own clicks.

    Returns
    -------
    Length
        In mm. The plane's inputs are shared with the photo's other lengths; clicks and stand-off are its own.

    Raises
    ------
    SpanError
        The points coincide or lie outside the photo, a stand-off reaches the camera, or an uncertainty is
        negative.
    GeometryError
        A point lies beyond the plane's horizon.
    """
    points = np.asarray(p_px, dtype=float)
    if points.shape != (2, 2) or not np.all(np.isfinite(points)):
        raise SpanError("a span needs two points (x, y) in pixels")
    heights, own_heights = _heights(plane, standoff_mm)
    if standoff_std_mm is None:
        standoff_std_mm = default_standoff_std_mm(plane)
    clicks = np.broadcast_to(np.asarray(click_std_px, dtype=float), (2,))
    if not (standoff_std_mm >= 0.0 and np.all(clicks >= 0.0)):
        raise SpanError("the uncertainties of the points and of the stand-off must be numbers from 0 up")
    plane.to_mm(points, heights)
    _check_inside(plane, points)
    lifts = standoff_std_mm * (np.eye(2) if own_heights else np.ones((1, 2)))
    name = span_id or "span-{:.2f}-{:.2f}-{:.2f}-{:.2f}".format(*points.ravel())
    own = [OwnInput(f"click-{n}", EDGE if on_edge[(n - 1) // 2] else CLICK) for n in range(1, 5)]
    own += [OwnInput(f"standoff-{number}", STANDOFF) for number in range(1, len(lifts) + 1)]
    values = span_values(plane, points, heights, np.repeat(clicks, 2), lifts)
    length = propagated(plane, values, own, photo_id=photo_id, name=name)
    if length.value_mm <= 0.0:
        raise SpanError("the two points of a span coincide: mark two different points")
    return length


def span_values(
    plane: Plane, points_px: Array, heights_mm: Array, click_std_px: Array, lifts_mm: Array
) -> Values:
    """Return a span as a function of its inputs, for `measure.length.propagation`.

    Parameters
    ----------
    plane : Plane
        Its inputs come first.
    points_px : (2, 2) array
        End points.
    heights_mm : (2,) array
        Their stand-offs.
    click_std_px : (4,) array
        Standard uncertainty of x and y of each.
    lifts_mm : (1 or 2, 2) array
        Effect of each stand-off input on the two heights.

    Returns
    -------
    callable
        Plane inputs (B, M) and own inputs (B, 5 or 6) to distances (B,) in mm.
    """

    def values(shared: Array, own: Array) -> Array:
        points = points_px + (own[:, :4] * click_std_px).reshape(-1, 2, 2)
        heights = heights_mm + own[:, 4:] @ lifts_mm
        spots = plane.to_mm_spread(shared, points, heights)
        flat = spots[:, 1] - spots[:, 0]
        return np.asarray(np.sqrt(np.sum(flat**2, axis=-1) + (heights[:, 1] - heights[:, 0]) ** 2))

    return values


def _check_inside(plane: Plane, points: Array) -> None:
    width, height = plane.camera.width_px, plane.camera.height_px
    for x, y in points:
        if not (-0.5 <= x <= width - 0.5 and -0.5 <= y <= height - 0.5):
            raise SpanError(
                f"the point ({x:g}, {y:g}) lies outside the photo, which is {width} x {height} px: "
                "mark points inside it"
            )


def _heights(plane: Plane, standoff_mm: float | Sequence[float]) -> tuple[Array, bool]:
    given = np.asarray(standoff_mm, dtype=float)
    if given.shape not in ((), (1,), (2,)) or not np.all(np.isfinite(given)):
        raise SpanError("a stand-off is one height in mm, or one for each end")
    heights = np.array(np.broadcast_to(given, (2,)))
    if float(heights.max()) >= 0.95 * plane.distance_mm:
        raise SpanError(
            f"a stand-off of {heights.max():g} mm reaches the camera, "
            f"which is {plane.distance_mm:.0f} mm above the card: give the height of the edge above the card"
        )
    # The same height twice is one statement about one plane: its error lifts both ends together.
    return heights, bool(heights[0] != heights[1])
