"""The rise: how far a point stands above the plane on which its foot rests."""

import numpy as np
from numpy.typing import ArrayLike

from calibration.camera import Array
from calibration.plane import Plane
from measure.errors import SpanError
from measure.kinds.span import CLICK_STD_PX
from measure.length import CLICK, Length, OwnInput, points_of, propagated

LEAN, FOOT = "top not above foot", "height of foot"
# How far a visible top may be from straight above the marked foot, in each direction; the user may state it.
LEAN_STD_MM = 1.0
# Horizontal shift per mm of height below which a view from above gives no height: 6° from vertical.
_LEAST_SHIFT = 0.1


def measure_rise(
    plane: Plane,
    foot_top_px: ArrayLike,
    *,
    foot_mm: float | None = None,
    foot_std_mm: float = 0.1,
    lean_std_mm: float = LEAN_STD_MM,
    click_std_px: float = CLICK_STD_PX,
    photo_id: str = "photo",
    span_id: str | None = None,
) -> Length:
    """Measure the height of an object that stands on the table beside a flat reference.

    Parameters
    ----------
    plane : Plane
        Of the reference, which lies on the same table.
    foot_top_px : (2, 2) array
        The foot, where the object meets the table, and the top straight above it.
    foot_mm : float, optional
        Height of the foot above the reference's face; by default minus the reference's thickness: the table.
    foot_std_mm : float
        Its standard uncertainty.
    lean_std_mm : float
        Standard uncertainty of the top's place, in each direction, relative to straight above the foot.
    click_std_px : float
        Standard uncertainty of each coordinate of the clicks.
    photo_id, span_id : str
        Name the inputs.

    Raises
    ------
    SpanError
        The camera looks straight down, the top lies below the foot, or far from above it.
    GeometryError
        A point lies beyond the plane's horizon.

    Notes
    -----
    Single-view height (Criminisi, Reid and Zisserman, Single view metrology, IJCV 40(2), 2000), with the
    camera's pose in place of the vanishing line. The ray of the top passes over the spot A + z D of the plane
    at height z; the rise is the z at which that spot, along D, is the foot's. The offset across D tells
    whether the top stands above the foot at all. But for errors it is zero, so it also corrects those that it
    shares with the rise (linear least squares under the constraint of no offset).
    """
    points = points_of(foot_top_px, 2, "a rise")
    if len(points) != 2:
        raise SpanError(f"a rise needs two points, foot and top; {len(points)} given")
    thickness_mm = plane.object.thickness_mm if plane.object else 0.0
    foot_height = -thickness_mm if foot_mm is None else foot_mm
    deviations = (foot_std_mm, lean_std_mm, click_std_px)

    def both(shared: Array, own: Array) -> tuple[Array, Array, Array]:
        return _rises(plane, points, foot_height, deviations, (shared, own))

    own = [OwnInput(f"click-{index}", CLICK) for index in range(1, 5)]
    own += [OwnInput("foot", FOOT), OwnInput("lean-1", LEAN), OwnInput("lean-2", LEAN)]
    zero = np.zeros((1, len(plane.error_sources))), np.zeros((1, len(own)))
    value, aside, shift = (float(found[0]) for found in both(*zero))
    name = span_id or "rise-{:.2f}-{:.2f}-{:.2f}-{:.2f}".format(*points.ravel())
    _refuse(value, shift)
    plain = propagated(plane, lambda s, o: both(s, o)[0], own, photo_id=photo_id, name=name)
    off = propagated(plane, lambda s, o: both(s, o)[1], own, photo_id=photo_id, name=name)
    if abs(aside) > 4.0 * off.standard_uncertainty_mm:
        raise SpanError(
            f"the top is {abs(aside):.0f} mm off from straight above the foot: mark the foot right below"
            " the top, or state how far it may lean"
        )
    share = _regression(plain, off)

    def best(shared: Array, own: Array) -> Array:
        rise, aside, _ = both(shared, own)
        return rise - share * aside

    return propagated(plane, best, own, photo_id=photo_id, name=name)


def _regression(rise: Length, aside: Length) -> float:
    """Return the regression coefficient of the rise on the lateral offset: covariance over variance."""
    common = sum(
        part.mm * aside.contributions[key].mm
        for key, part in rise.contributions.items()
        if key in aside.contributions
    )
    return common / aside.standard_uncertainty_mm**2


def _rises(
    plane: Plane,
    points: Array,
    foot_height: float,
    deviations: tuple[float, float, float],
    inputs: tuple[Array, Array],
) -> tuple[Array, Array, Array]:
    """Return the rise, the lateral offset and the shift per mm, each (B,)."""
    foot_std_mm, lean_std_mm, click_std_px = deviations
    shared, own = inputs
    moved = points + click_std_px * own[:, :4].reshape(-1, 2, 2)
    base_mm = foot_height + foot_std_mm * own[:, 4]
    probe_mm = 0.01 * plane.distance_mm
    foot = plane.to_mm_spread(shared, moved[:, :1], base_mm[:, None])[:, 0]
    lean = lean_std_mm * own[:, 5:7]
    low = plane.to_mm_spread(shared, moved[:, 1:], base_mm[:, None])[:, 0]
    high = plane.to_mm_spread(shared, moved[:, 1:], base_mm[:, None] + probe_mm)[:, 0]
    per_mm = (high - low) / probe_mm
    shift2 = np.sum(per_mm**2, axis=1)
    gap = foot + lean - low
    with np.errstate(divide="ignore", invalid="ignore"):
        rise = np.sum(gap * per_mm, axis=1) / shift2
        aside = (gap[:, 0] * per_mm[:, 1] - gap[:, 1] * per_mm[:, 0]) / np.sqrt(shift2)
    return rise, aside, np.sqrt(shift2)


def _refuse(value_mm: float, shift: float) -> None:
    if not shift >= _LEAST_SHIFT:
        raise SpanError(
            "the camera looks straight down on the top, so its height can't be told: take the photo from the"
            " side, 30° to 70° from straight above, with the card flat on the table"
        )
    if not value_mm > 0.0:
        raise SpanError("the top lies below the foot: mark the foot first, then the top")
