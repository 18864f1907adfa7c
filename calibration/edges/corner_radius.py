"""The radius of a rounded corner, as far as a photo can tell.

Two straight sides are found beside the corner. Between them the picture of a corner of radius r, blurred as
the sides are, is compared with the photo for many r; the shades of part and background, with a slope each,
are solved for at every r. The best r is the radius, and the range that the photo doesn't reject is its
uncertainty: for a sharp corner that range starts at zero and ends at what blur could hide.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from calibration.cautions import NoAnswer, NoAnswerCode
from calibration.edges.corner_patch import Patch, Sides, largest_radius, misfit, misfit_without, patch_of
from calibration.edges.straight import EdgeFit, fit_edge
from calibration.errors import GeometryError
from calibration.plane import Plane

Array = NDArray[np.float64]
Pixels = NDArray[np.uint8]

# Neighbouring pixels share noise and compression: a third of them count as independent (own simulations).
_CORRELATION = 3.0
# Least uncertainty of the sides, and the share by which the blur at the corner may differ from theirs.
_SIDE_FLOOR_PX = 0.06
_BLUR_DOUBT = 0.06
# Share of the variation about an even gradient that part and background must explain. Of simulated and
# rendered corners they explain four fifths and more, of mottled ground mostly under a third.
_LEAST_EXPLAINED = 0.5
_LIKELY = 3.84  # chi-squared, one degree of freedom, 95 %


@dataclass(frozen=True, slots=True)
class CornerRadius:
    """A corner's radius.

    Attributes
    ----------
    radius_mm : float
        The best value.
    low_mm, high_mm : float
        The 95 % interval from the picture alone.
    vertex_px : tuple of float
        Where the two sides, prolonged, meet.
    blur_px : float
        Standard deviation of the photo's blur there.
    """

    radius_mm: float
    low_mm: float
    high_mm: float
    vertex_px: tuple[float, float]
    blur_px: float


def find_corner_radius(
    pixels: Pixels, plane: Plane, clicks_px: Array, *, standoff_mm: float = 0.0
) -> CornerRadius | NoAnswer:
    """Find the radius of the rounding between two straight sides.

    Parameters
    ----------
    pixels : (H, W, 3) array
        The photo.
    plane : Plane
        Gives mm at the corner.
    clicks_px : (N, 2) array
        At least 4 points (x, y) in order around the corner: the first two on one straight side, the last two
        on the other; more between them if wished.
    standoff_mm : float
        Height of the corner above the plane.

    Returns
    -------
    CornerRadius or NoAnswer
        The radius in mm with its 95 % interval, or the reason why the photo doesn't show it.

    Raises
    ------
    GeometryError
        Fewer than four points, sides that make no corner, or points beyond the plane's horizon.
    """
    clicks = np.asarray(clicks_px, dtype=float).reshape(-1, 2)
    if len(clicks) < 4:
        raise GeometryError("a tip needs four points, in order: two on one straight side, two on the other")
    scale = plane.scale_mm_per_px(clicks.mean(axis=0), standoff_mm)
    fits = _fit_sides(pixels, clicks)
    if fits is None:
        return NoAnswer.of(NoAnswerCode.SIDES_UNCLEAR)
    sides = _sides(plane, fits, clicks, standoff_mm, scale)
    if sides is None:
        raise GeometryError("the two sides form no corner: mark two points on each, in order around the tip")
    patch = patch_of(pixels, plane, sides, standoff_mm, scale)
    if patch is None:
        return NoAnswer.of(NoAnswerCode.CORNER_AT_BORDER)
    return _search(patch, sides)


def _fit_sides(pixels: Pixels, clicks: Array) -> tuple[EdgeFit, EdgeFit] | None:
    search = 4.0
    one = fit_edge(pixels, clicks[0], clicks[1], search_px=search, margins=(0.0, 0.0))
    other = fit_edge(pixels, clicks[-1], clicks[-2], search_px=search, margins=(0.0, 0.0))
    if one is None or other is None or min(one.share, other.share) < 0.5:
        return None
    return one, other


def _sides(
    plane: Plane, fits: tuple[EdgeFit, EdgeFit], clicks: Array, height_mm: float, scale: float
) -> Sides | None:
    ends = plane.to_mm(np.concatenate([[fit.start, fit.end] for fit in fits]), height_mm)
    (a0, a1), (b0, b1) = ends[:2], ends[2:]
    matrix = np.stack([a1 - a0, b0 - b1], axis=1)
    if abs(float(np.linalg.det(matrix))) < 0.1 * float(np.linalg.norm(a1 - a0) * np.linalg.norm(b1 - b0)):
        return None
    vertex = a0 + np.linalg.solve(matrix, b0 - a0)[0] * (a1 - a0)
    along = np.stack([a0 - vertex, b0 - vertex])
    reach = np.linalg.norm(along, axis=1)
    along = along / reach[:, None]
    # The middle of each fitted stretch carries the side; prolonged to the corner its error grows.
    std = [
        scale * max(float(np.sqrt(_prolonged(fit, float(r) / scale))), _SIDE_FLOOR_PX)
        for fit, r in zip(fits, reach, strict=True)
    ]
    blur = float(np.mean([fit.blur_px for fit in fits]))
    return Sides(vertex, along, float(reach.min()), np.array(std), blur, plane.to_px([vertex], height_mm)[0])


def _prolonged(fit: EdgeFit, reach_px: float) -> float:
    length = float(np.linalg.norm(fit.end - fit.start))
    t = reach_px / max(length, 1e-9)
    weights = np.array([1.0 - t, t])
    return float(weights @ fit.offset_cov @ weights)


def _search(patch: Patch, sides: Sides) -> CornerRadius | NoAnswer:
    most = largest_radius(sides)
    # Finer near zero, where a corner's appearance changes with the square of its radius.
    radii = most * np.linspace(0.0, 1.0, 33) ** 1.5
    misfits = np.array([misfit(patch, sides, radius) for radius in radii])
    best, least = _minimum(radii, misfits)
    smooth = misfit_without(patch)
    if least > (1.0 - _LEAST_EXPLAINED) * smooth or smooth == 0.0:
        return NoAnswer.of(NoAnswerCode.NO_CORNER)
    if best > 0.93 * most:
        return NoAnswer.of(NoAnswerCode.ROUNDED_TOO_FAR)
    freedom = max(len(patch.values) / _CORRELATION - 9.0, 3.0)
    limit = least * (1.0 + _LIKELY / freedom)
    low, high = _range(radii, misfits, best, limit)
    doubts = _doubts(patch, sides, radii, best)
    vertex = (float(sides.vertex_px[0]), float(sides.vertex_px[1]))
    return CornerRadius(
        best,
        max(0.0, best - float(np.hypot(best - low, 1.96 * doubts))),
        best + float(np.hypot(high - best, 1.96 * doubts)),
        vertex,
        sides.blur_px,
    )


def _minimum(radii: Array, misfits: Array) -> tuple[float, float]:
    index = int(misfits.argmin())
    if index in (0, len(radii) - 1):
        return float(radii[index]), float(misfits[index])
    bend, slope, _ = np.polyfit(
        radii[index - 1 : index + 2] - radii[index], misfits[index - 1 : index + 2], 2
    )
    if bend <= 0.0:
        return float(radii[index]), float(misfits[index])
    step = -slope / (2.0 * bend)
    return float(radii[index] + step), float(misfits[index] - slope**2 / (4.0 * bend))


def _range(radii: Array, misfits: Array, best: float, limit: float) -> tuple[float, float]:
    inside = np.flatnonzero(misfits <= limit)
    if len(inside) == 0:
        nearest = int(np.abs(radii - best).argmin())
        inside = np.array([nearest])
    first, last = int(inside[0]), int(inside[-1])
    low, high = min(float(radii[first]), best), max(float(radii[last]), best)
    if first > 0:
        low = min(low, _crossing(radii, misfits, first - 1, limit))
    if last < len(radii) - 1:
        high = max(high, _crossing(radii, misfits, last, limit))
    return low, high


def _crossing(radii: Array, misfits: Array, index: int, limit: float) -> float:
    before, after = misfits[index], misfits[index + 1]
    share = float(np.clip((limit - before) / (after - before), 0.0, 1.0)) if after != before else 0.5
    return float(radii[index] + share * (radii[index + 1] - radii[index]))


def _doubts(patch: Patch, sides: Sides, radii: Array, best: float) -> float:
    """Return the standard uncertainty of the radius that the sides' places and the blur cause."""
    nearest = int(np.abs(radii - best).argmin())
    near = radii[max(nearest - 6, 0) : nearest + 7]

    def again(shift_mm: tuple[float, float], blur: float) -> float:
        misfits = np.array([misfit(patch, sides, radius, shift_mm=shift_mm, blur=blur) for radius in near])
        return _minimum(near, misfits)[0]

    one, other = sides.offset_std_mm
    pairs = (
        (((one, 0.0), 1.0), ((-one, 0.0), 1.0)),
        (((0.0, other), 1.0), ((0.0, -other), 1.0)),
        (((0.0, 0.0), 1.0 + _BLUR_DOUBT), ((0.0, 0.0), 1.0 - _BLUR_DOUBT)),
    )
    effects = [(again(*up) - again(*down)) / 2.0 for up, down in pairs]
    return float(np.linalg.norm(effects))
