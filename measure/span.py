"""The span: the distance between two points of a photo, with its uncertainty."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import ArrayLike

from calibration.lens import Array
from calibration.plane import Plane
from measure.errors import SpanError
from measure.length import Contribution, Length

# A hand-marked point scatters by about one pixel in each coordinate (own trials with a magnifier;
# user-settable).
CLICK_STD_PX = 1.0
CLICK, STANDOFF, POSE = "click", "stand-off", "two-fold tilt"


def default_standoff_std_mm(plane: Plane) -> float:
    """Return the uncertainty of a stand-off where none is stated: 1 mm, less in a close-up."""
    return min(1.0, plane.distance_mm / 400.0)


def measure_span(
    plane: Plane,
    p_px: ArrayLike,
    *,
    standoff_mm: float | Sequence[float] = 0.0,
    standoff_std_mm: float | None = None,
    click_std_px: float | Sequence[float] = CLICK_STD_PX,
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
        Height of the span above the card's face, toward the camera; a pair gives each end its own, and the
        result is then the distance in space.
    standoff_std_mm : float, optional
        Standard uncertainty of the stand-off, of each one where there are two; 1 mm where not given.
    click_std_px : float or pair of floats
        Standard uncertainty of each coordinate of the end points: 1 px by hand, less when snapped to an edge.
    photo_id, span_id : str
        Name the inputs, so that lengths of one photo share its errors and each has its own clicks.

    Raises
    ------
    SpanError
        The points coincide, or a stand-off reaches the camera.
    GeometryError
        A point lies beyond the plane's horizon.
    """
    points = np.asarray(p_px, dtype=float)
    if points.shape != (2, 2) or not np.all(np.isfinite(points)):
        raise SpanError("a span needs two points (x, y) in pixels")
    heights, own_heights = _heights(plane, standoff_mm)
    if standoff_std_mm is None:
        standoff_std_mm = default_standoff_std_mm(plane)
    plane.to_mm(points, heights)
    clicks = np.broadcast_to(np.asarray(click_std_px, dtype=float), (2,))
    spread = _Spread(
        plane,
        points,
        heights,
        own_heights=own_heights,
        standoff_std_mm=standoff_std_mm,
        click_std_px=clicks,
    )
    value_mm, effects = spread.linear()
    if value_mm <= 0.0:
        raise SpanError("the two points of a span coincide: mark two different points")
    name = span_id or "span-{:.2f}-{:.2f}-{:.2f}-{:.2f}".format(*points.ravel())
    return Length(value_mm, spread.contributions(effects, photo_id, name))


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
    return heights, given.shape == (2,)


class _Spread:
    """Lengths of one span for many values of its independent inputs."""

    def __init__(
        self,
        plane: Plane,
        points: Array,
        heights: Array,
        *,
        own_heights: bool,
        standoff_std_mm: float,
        click_std_px: Array,
    ) -> None:
        self.plane, self.points, self.heights = plane, points, heights
        self.inputs_of_plane = len(plane.latents)
        lift = standoff_std_mm * np.eye(2) if own_heights else standoff_std_mm * np.ones((1, 2))
        self.lift = lift
        self.click = np.repeat(click_std_px, 2)
        self.size = self.inputs_of_plane + 4 + len(lift)

    def lengths(self, inputs: Array) -> Array:
        """Return the lengths (B,) for input errors (B, size), in standard uncertainties."""
        m = self.inputs_of_plane
        points = self.points + (inputs[:, m : m + 4] * self.click).reshape(-1, 2, 2)
        heights = self.heights + inputs[:, m + 4 :] @ self.lift
        spots = self.plane.to_mm_spread(inputs[:, :m], points, heights)
        flat = spots[:, 1] - spots[:, 0]
        return np.asarray(np.sqrt(np.sum(flat**2, axis=-1) + (heights[:, 1] - heights[:, 0]) ** 2))

    def linear(self) -> tuple[float, Array]:
        """Return the length and its changes per standard uncertainty of each input."""
        one = np.eye(self.size)
        lengths = self.lengths(np.concatenate([np.zeros((1, self.size)), one, -one]))
        return float(lengths[0]), (lengths[1 : self.size + 1] - lengths[self.size + 1 :]) / 2.0

    def contributions(self, effects: Array, photo_id: str, name: str) -> dict[str, Contribution]:
        """Name the effects."""
        m = self.inputs_of_plane
        parts = {
            f"{photo_id}:{key}": Contribution(source, True, float(effect))
            for (key, source), effect in zip(self.plane.latents, effects[:m], strict=True)
        }
        for index, effect in enumerate(effects[m : m + 4]):
            parts[f"{photo_id}:{name}:click-{index + 1}"] = Contribution(CLICK, False, float(effect))
        for index, effect in enumerate(effects[m + 4 :]):
            parts[f"{photo_id}:{name}:standoff-{index + 1}"] = Contribution(STANDOFF, False, float(effect))
        return parts
