"""Moving the ends of a span to the edges of the part beside them."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import hypot
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from calibration.photo import Photo

Point = tuple[float, float]

# A click is trusted to lie within three of its own standard uncertainties of the edge that was meant.
_REACH_STD = 3.0
# Length of the edge looked at beside a point.
_EDGE_PX = 24.0


@dataclass(frozen=True, slots=True)
class UsedPoint:
    """A point as it enters a measurement.

    Attributes
    ----------
    clicked_px, used_px : (x, y)
        As given, and after moving.
    std_px : float
        Standard uncertainty of each coordinate of the used point.
    reason : str or None
        Why it was not moved; None where it was.
    """

    clicked_px: Point
    used_px: Point
    std_px: float
    reason: str | None

    @property
    def snapped(self) -> bool:
        """Whether the point was moved to an edge."""
        return self.reason is None

    @property
    def moved_px(self) -> float:
        """How far it was moved."""
        return hypot(self.used_px[0] - self.clicked_px[0], self.used_px[1] - self.clicked_px[1])


def snap_span(
    photo: "Photo",
    p_px: Sequence[Point],
    *,
    snap: bool,
    click_std_px: float | Sequence[float],
    px_per_mm: Sequence[float] = (0.0, 0.0),
) -> tuple[UsedPoint, UsedPoint]:
    """Move each end of a span, along the span, to the clear edge beside it.

    Parameters
    ----------
    photo : Photo
        The photo itself, not a reduced one.
    p_px : pair of points
        The ends as given.
    snap : bool
        False leaves them as they are.
    click_std_px : float or pair of floats
        Standard uncertainty of the given ends, for those that stay.
    px_per_mm : pair of floats
        Scale at either end, by which a rounded edge's shade counts; 0 for edges that are cut sharp.
    """
    from calibration.edges import snap_to_edge

    first, second = ((float(x), float(y)) for x, y in p_px)
    stds = (click_std_px, click_std_px) if isinstance(click_std_px, int | float) else tuple(click_std_px)
    direction = (second[0] - first[0], second[1] - first[1])
    used = []
    for point, std_px, scale in zip((first, second), stds, px_per_mm, strict=True):
        if not snap:
            used.append(UsedPoint(point, point, std_px, "snapping is off"))
            continue
        reach_px = max(2.0, _REACH_STD * std_px)
        found = snap_to_edge(photo.pixels_bgr, point, direction, search_px=reach_px)
        if found.reason is None:
            fit_px = hypot(found.std_px, _shape_px(photo, found.point_px, direction, scale))
            used.append(UsedPoint(point, found.point_px, fit_px, None))
        else:
            used.append(UsedPoint(point, point, std_px, found.reason))
    return used[0], used[1]


def _shape_px(photo: "Photo", point: Point, direction: Point, px_per_mm: float) -> float:
    """Return by how much, as a standard uncertainty, an outline may lie beside its fitted edge."""
    import numpy as np

    from calibration.edge_shape import hidden_px, softness_px
    from calibration.edges import fit_edge

    if px_per_mm <= 0.0:
        return 0.0
    side = np.array([-direction[1], direction[0]]) / hypot(*direction) * (_EDGE_PX / 2.0)
    at = np.array(point)
    # Its direction is all that is asked of this fit: few profiles do.
    fit = fit_edge(
        photo.pixels_bgr, at - side, at + side, search_px=0.0, margins=(0.0, 0.0), most_profiles=24
    )
    soft_px = 0.0 if fit is None else softness_px(photo.pixels_bgr, fit.start, fit.end)
    return hypot(soft_px, hidden_px(px_per_mm))
