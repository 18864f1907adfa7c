"""Moving the ends of a span to the edges of the part beside them."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import hypot
from typing import TYPE_CHECKING

from calibration.cautions import NoAnswer
from measure.cautions import NoLengthCode
from measure.kinds.clicks import click_std_px as marked_std_px

if TYPE_CHECKING:
    from calibration.camera import Array
    from calibration.edges import Fading
    from calibration.image import Photo

Point = tuple[float, float]

# A click is trusted to lie within three of its own standard uncertainties of the edge that was meant.
_REACH_STD = 3.0
# Length of the edge examined beside a point.
_EDGE_PX = 24.0
# An edge seen along less of that tells no blur.
_LEAST_SHARE = 0.5


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
    click_std_px: float | Sequence[float] | None,
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
    photo: "Photo",
    p_px: Sequence[Point],
    *,
    snap: bool,
    click_std_px: float | Sequence[float] | None,
    zoom_factor: float | None = None,
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
    click_std_px : float, pair of floats or None
        Standard uncertainty of the given ends, for those that stay; None takes it from the picture and
        from the blur of the edge there.
    zoom_factor : float, optional
        Screen pixels per pixel of the photo when the ends were marked.
    """
    first, second = ((float(x), float(y)) for x, y in p_px)
    stds = _stated(click_std_px)
    direction = (second[0] - first[0], second[1] - first[1])
    back = (-direction[0], -direction[1])
    one = _seen_end(photo, _Mark(first, back, stds[0], zoom_factor), snap=snap)
    return one, _seen_end(photo, _Mark(second, direction, stds[1], zoom_factor), snap=snap)


def _stated(std_px: float | Sequence[float] | None) -> tuple[float | None, ...]:
    if std_px is None or isinstance(std_px, int | float):
        return (std_px, std_px)
    return tuple(std_px)


@dataclass(frozen=True, slots=True)
class _Mark:
    """An end as given: where, away from the other end, its uncertainty if stated, and the zoom if known."""

    point: Point
    outward: Point
    stated_std_px: float | None
    zoom_factor: float | None

    def std_px(self, photo: "Photo", blur_px: float = 0.0) -> float:
        """Return its standard uncertainty, as stated or by picture and blur."""
        if self.stated_std_px is not None:
            return self.stated_std_px
        height_px, width_px = photo.pixels_bgr.shape[:2]
        return marked_std_px((width_px, height_px), zoom_factor=self.zoom_factor, blur_px=blur_px)

    def reach_px(self, photo: "Photo") -> float:
        """Return how far from it the edge that was meant may lie."""
        return max(2.0, _REACH_STD * self.std_px(photo))


def _seen_end(photo: "Photo", mark: _Mark, *, snap: bool) -> SeenEnd:
    from calibration.edges import fades_px, snap_to_edge

    if not snap:
        return _left(photo, mark, NoAnswer.of(NoLengthCode.SNAPPING_OFF))
    point, outward = mark.point, mark.outward
    found = snap_to_edge(photo.pixels_bgr, point, outward, search_px=mark.reach_px(photo))
    if found.reason is not None:
        return _left(photo, mark, found.reason)
    used = UsedPoint(point, found.point_px, found.std_px, None)
    fading = _fading(photo, found.point_px, outward)
    if fading is None:
        return SeenEnd(used, 0.0)
    size = hypot(*outward)
    unit = (outward[0] / size, outward[1] / size)
    return SeenEnd(used, fading.std_px, fades_px(fading, outside_left=True), unit)


def _left(photo: "Photo", mark: _Mark, why: NoAnswer) -> SeenEnd:
    """Return an end as it was given; how closely it was marked depends on the blur of the edge there."""
    blur_px = _blur_px(photo, mark) if mark.stated_std_px is None else 0.0
    return SeenEnd(UsedPoint(mark.point, mark.point, mark.std_px(photo, blur_px), why), 0.0)


def _blur_px(photo: "Photo", mark: _Mark) -> float:
    """Return the blur of the edge beside an end; 0 where there is none."""
    from calibration.edges import fit_edge

    start, end = _across(mark.point, mark.outward)
    fit = fit_edge(photo.pixels_bgr, start, end, search_px=mark.reach_px(photo), margins=(0.0, 0.0))
    return 0.0 if fit is None or fit.share < _LEAST_SHARE else fit.blur_px


def _across(point: Point, outward: Point) -> tuple["Array", "Array"]:
    """Return the ends of the edge examined beside a point, walking with its outside on the left."""
    import numpy as np

    side = np.array([-outward[1], outward[0]]) / max(hypot(*outward), 1e-9) * (_EDGE_PX / 2.0)
    return np.array(point) - side, np.array(point) + side


def _fading(photo: "Photo", point: Point, outward: Point) -> "Fading | None":
    """Measure how an edge fades, walking along it with its outside on the left."""
    from calibration.edges import fading, fit_edge

    start, end = _across(point, outward)
    # Only the direction is needed from this fit: few profiles suffice.
    fit = fit_edge(photo.pixels_bgr, start, end, search_px=0.0, margins=(0.0, 0.0), most_profiles=24)
    return None if fit is None else fading(photo.pixels_bgr, fit.start, fit.end)
