"""Moving the ends of a span to the edges of the part beside them."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
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


@dataclass(frozen=True, slots=True)
class SeenEnd:
    """An end of a span as the photo alone tells of it, for whatever plane it is measured on.

    Attributes
    ----------
    point : UsedPoint
        As for an edge that is cut sharp.
    soft_px : float
        Standard uncertainty of an outline within the strip over which its edge fades; 0 where none was found.
    """

    point: UsedPoint
    soft_px: float

    def shaped(self, px_per_mm: float) -> UsedPoint:
        """Return the end where a millimetre has so many pixels, by which a rounded edge's shade counts.

        Parameters
        ----------
        px_per_mm : float
            0 for edges that are cut sharp.
        """
        from calibration.edge_shape import hidden_px

        if not self.point.snapped or px_per_mm <= 0.0:
            return self.point
        shape_px = hypot(self.soft_px, hidden_px(px_per_mm))
        return replace(self.point, std_px=hypot(self.point.std_px, shape_px))


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
    photo, p_px, snap, click_std_px
        As for `seen_ends`.
    px_per_mm : pair of floats
        Scale at either end, by which a rounded edge's shade counts; 0 for edges that are cut sharp.
    """
    first, second = seen_ends(photo, p_px, snap=snap, click_std_px=click_std_px)
    return first.shaped(px_per_mm[0]), second.shaped(px_per_mm[1])


def seen_ends(
    photo: "Photo", p_px: Sequence[Point], *, snap: bool, click_std_px: float | Sequence[float]
) -> tuple[SeenEnd, SeenEnd]:
    """Look for the clear edge beside each end of a span.

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
    """
    first, second = ((float(x), float(y)) for x, y in p_px)
    stds = (click_std_px, click_std_px) if isinstance(click_std_px, int | float) else tuple(click_std_px)
    direction = (second[0] - first[0], second[1] - first[1])
    if not snap:
        ends = zip((first, second), stds, strict=True)
        one, other = (SeenEnd(UsedPoint(point, point, std, "snapping is off"), 0.0) for point, std in ends)
        return one, other
    return _seen_end(photo, first, direction, stds[0]), _seen_end(photo, second, direction, stds[1])


def _seen_end(photo: "Photo", point: Point, direction: Point, std_px: float) -> SeenEnd:
    from calibration.edges import snap_to_edge

    reach_px = max(2.0, _REACH_STD * std_px)
    found = snap_to_edge(photo.pixels_bgr, point, direction, search_px=reach_px)
    if found.reason is not None:
        return SeenEnd(UsedPoint(point, point, std_px, found.reason), 0.0)
    used = UsedPoint(point, found.point_px, found.std_px, None)
    return SeenEnd(used, _soft_px(photo, found.point_px, direction))


def _soft_px(photo: "Photo", point: Point, direction: Point) -> float:
    """Return by how much, as a standard uncertainty, an outline may lie in the fading of its edge."""
    import numpy as np

    from calibration.edge_shape import softness_px
    from calibration.edges import fit_edge

    side = np.array([-direction[1], direction[0]]) / hypot(*direction) * (_EDGE_PX / 2.0)
    at = np.array(point)
    # Its direction is all that is asked of this fit: few profiles do.
    fit = fit_edge(
        photo.pixels_bgr, at - side, at + side, search_px=0.0, margins=(0.0, 0.0), most_profiles=24
    )
    return 0.0 if fit is None else softness_px(photo.pixels_bgr, fit.start, fit.end)
