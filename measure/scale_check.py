"""Whether a further source of scale in a photo agrees with the plane that the others give."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from calibration.coins import DIAMETER_STD_MM
from calibration.lens import Array
from calibration.markers import FoundTarget
from calibration.rims import Rim
from measure.kind_planes import Scale
from measure.kind_round import measure_round
from measure.length import Contribution, Length
from measure.span import measure_span
from measure.specimen import SourceEntry
from measure.undecided import over_family
from measure.units import format_mm

if TYPE_CHECKING:
    from calibration.plane import Plane
    from calibration.sources import SourcePlane

# A larger disagreement happens once in a hundred photos by chance (normal distribution, two-sided).
_LIMIT_STD = 2.576
# How well one stroke of a rule is centred, at best.
_STROKE_STD_PX = 0.3


def disagreement(scale: Scale, told: "SourcePlane", source: SourceEntry) -> str | None:
    """Measure a source of scale by the others, and say so where it isn't what it should be.

    Parameters
    ----------
    scale : Scale
        By the others.
    told : SourcePlane
        The one to compare.
    source : SourceEntry
        How it is recorded.

    Returns
    -------
    str or None
        A caution, or nothing where they agree within their uncertainties.

    Raises
    ------
    SpanError, GeometryError
        Its marks can't be measured on the plane.
    """
    sized = _sized(told, source, scale.plane)
    found = sized.by(scale.plane) if scale.family is None else over_family(scale.family, sized.by)
    stated = Contribution("stated size", False, sized.stated_std_mm)
    both = Length(found.value_mm, {**found.contributions, "stated": stated})
    if abs(found.value_mm - sized.stated_mm) <= _LIMIT_STD * both.standard_uncertainty_mm:
        return None
    return (
        f"The references in the photo contradict each other: by the others, {sized.what} comes to"
        f" {format_mm(both)}, and it should be {sized.stated_mm:.1f} mm. One of them isn't what it is said to"
        " be, or lies at another height."
    )


@dataclass(frozen=True, slots=True)
class _Sized:
    """Something of known size, and how to measure it on a plane."""

    what: str
    by: Callable[["Plane"], Length]
    stated_mm: float
    stated_std_mm: float


def _sized(told: "SourcePlane", source: SourceEntry, plane: "Plane") -> _Sized:
    thing, seen = told.found.object, told.seen
    height_mm = thing.thickness_mm - (plane.object.thickness_mm if plane.object is not None else 0.0)
    if isinstance(seen, Rim):
        rim = seen

        def across(plane: "Plane") -> Length:
            return measure_round(
                plane, rim.points_px, point_std_px=rim.std_px, fitted=True, standoff_mm=height_mm
            )

        return _Sized(f"the {thing.name}", across, thing.width_mm, DIAMETER_STD_MM)
    if isinstance(seen, FoundTarget):
        diagonal = seen.corners_mm.sum(axis=1)
        far = [int(np.argmin(diagonal)), int(np.argmax(diagonal))]
        mm = seen.corners_mm[far]
        stated_mm = float(np.linalg.norm(mm[1] - mm[0]))
        std_mm = stated_mm * max(seen.scale.across_std, seen.scale.down_std)
        by = _span(seen.corners_px[far], seen.corner_std_px, height_mm)
        return _Sized(f"the stretch seen of the {thing.name}", by, stated_mm, std_mm)
    std_px = source.mark_std_px if seen is None else max(told.found.corner_std_px, _STROKE_STD_PX)
    by = _span(told.plane.corners_px[[0, -1]], std_px, 0.0)
    return _Sized(f"the {thing.name}", by, thing.width_mm, thing.width_std_mm)


def _span(ends_px: Array, std_px: float, height_mm: float) -> Callable[["Plane"], Length]:
    return lambda plane: measure_span(plane, ends_px, click_std_px=std_px, standoff_mm=height_mm)
