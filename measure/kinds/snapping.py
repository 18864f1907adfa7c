"""Moving the ends of a span to the edges of the part beside them."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import hypot
from typing import TYPE_CHECKING

from calibration.cautions import NoAnswer
from measure.cautions import NoLengthCode

if TYPE_CHECKING:
    from calibration.edges import Fading
    from calibration.image import Photo

Point = tuple[float, float]

# A click is trusted to lie within three of its own standard uncertainties of the edge that was meant.
_REACH_STD = 3.0
# Length of the edge examined beside a point.
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
    reason : NoAnswer or None
        Why it was not moved; None if it was.
    """

    clicked_px: Point
    used_px: Point
    std_px: float
    reason: NoAnswer | None

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
    """An end of a span as seen in the photo alone, for any plane it is measured on.

    Attributes
    ----------
    point : UsedPoint
        As for an edge that is cut sharp.
    soft_px : float
        Standard uncertainty of an outline within the strip over which its edge fades; 0 where none was found.
    fades_px : (outside, inside)
        How far an edge fades outside and inside a part that may shade itself there; zeros where it doesn't.
    outward : (x, y)
        Unit vector along the span, away from its other end.
    """

    point: UsedPoint
    soft_px: float
    fades_px: tuple[float, float] = (0.0, 0.0)
    outward: Point = (0.0, 0.0)

    def shaped(self, px_per_mm: float) -> UsedPoint:
        """Return the end at this scale, which determines how a rounded edge's shade counts.

        The end of a part lies in its shade, outside the steepest point.

        Parameters
        ----------
        px_per_mm : float
            0 for edges that are cut sharp.
        """
        from calibration.edges import hidden_px, outline_in_shade

        if not self.point.snapped or px_per_mm <= 0.0:
            return self.point
        shift_px, soft_px = 0.0, self.soft_px
        if self.fades_px[0] > 0.0:
            shift_px, soft_px = outline_in_shade(*self.fades_px, px_per_mm)
        x, y = self.point.used_px
        used = (x + shift_px * self.outward[0], y + shift_px * self.outward[1])
        std_px = hypot(self.point.std_px, soft_px, hidden_px(px_per_mm))
        return replace(self.point, used_px=used, std_px=std_px)


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

    Returns
    -------
    UsedPoint, UsedPoint
        The ends in the order given, each moved, or left where it is with the reason.
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
        off = NoAnswer.of(NoLengthCode.SNAPPING_OFF)
        one, other = (SeenEnd(UsedPoint(point, point, std, off), 0.0) for point, std in ends)
        return one, other
    back = (-direction[0], -direction[1])
    return _seen_end(photo, first, back, stds[0]), _seen_end(photo, second, direction, stds[1])


def _seen_end(photo: "Photo", point: Point, outward: Point, std_px: float) -> SeenEnd:
    from calibration.edges import fades_px, snap_to_edge

    reach_px = max(2.0, _REACH_STD * std_px)
    found = snap_to_edge(photo.pixels_bgr, point, outward, search_px=reach_px)
    if found.reason is not None:
        return SeenEnd(UsedPoint(point, point, std_px, found.reason), 0.0)
    used = UsedPoint(point, found.point_px, found.std_px, None)
    fading = _fading(photo, found.point_px, outward)
    if fading is None:
        return SeenEnd(used, 0.0)
    size = hypot(*outward)
    unit = (outward[0] / size, outward[1] / size)
    return SeenEnd(used, fading.std_px, fades_px(fading, outside_left=True), unit)


def _fading(photo: "Photo", point: Point, outward: Point) -> "Fading | None":
    """Measure how an edge fades, walking along it with its outside on the left."""
    import numpy as np

    from calibration.edges import fading, fit_edge

    side = np.array([-outward[1], outward[0]]) / hypot(*outward) * (_EDGE_PX / 2.0)
    at = np.array(point)
    # Only the direction is needed from this fit: few profiles suffice.
    fit = fit_edge(
        photo.pixels_bgr, at - side, at + side, search_px=0.0, margins=(0.0, 0.0), most_profiles=24
    )
    return None if fit is None else fading(photo.pixels_bgr, fit.start, fit.end)
