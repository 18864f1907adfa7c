"""What size each of several references would have if the others are right."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from calibration.camera import Array
from calibration.cards import FoundCard
from calibration.cautions import Caution, CautionCode
from calibration.combine.fit_terms import Reference, height_between, object_of
from calibration.combine.joint_fit import Joint
from calibration.edges import Rim
from calibration.objects import ReferenceObject
from calibration.plane import Plane
from calibration.printed_target import FoundTarget
from calibration.sources import DIAMETER_STD_MM, condensed

_COVERAGE_FACTOR = 1.96


@dataclass(frozen=True, slots=True, eq=False)
class _Sized:
    """Pairs of pixels (P, 2, 2) with a stated mean distance; each pixel is uncertain.

    `stretch` is what of the reference they span: its "diagonal", the "stretch" seen of it, or its "width".
    """

    stretch: str
    pairs_px: Array
    std_px: float
    stated_mm: float
    stated_std_mm: float


def what_others_say(
    references: Sequence[Reference], fitted: Callable[[Sequence[Reference]], Joint]
) -> tuple[Caution, ...]:
    """Measure each reference by the others.

    Parameters
    ----------
    references : sequence of FoundCard or SourcePlane
        At least two.
    fitted : callable
        Fits a plane to some of them.

    Returns
    -------
    tuple of Caution
        For each the size found, and the size it should have.
    """
    return tuple(_by_others(references, index, fitted) for index in range(len(references)))


def _by_others(
    references: Sequence[Reference], index: int, fitted: Callable[[Sequence[Reference]], Joint]
) -> Caution:
    one = references[index]
    others = [other for place, other in enumerate(references) if place != index]
    sized = _sized(one)
    value_mm, std_mm = _measured(fitted(others), sized, height_between(others[0], one))
    u_mm = _COVERAGE_FACTOR * float(np.hypot(std_mm, sized.stated_std_mm))
    return Caution.of(
        CautionCode.SIZE_BY_OTHERS,
        stretch=sized.stretch,
        number=index + 1,
        name=object_of(one).name,
        value_mm=value_mm,
        expanded_mm=u_mm,
        stated_mm=sized.stated_mm,
    )


def _sized(reference: Reference) -> _Sized:
    kind = object_of(reference)
    if isinstance(reference, FoundCard):
        pairs = reference.corners_px[[[0, 2], [1, 3]]]
        std_px = reference.corner_std_px
        return _Sized("diagonal", pairs, std_px, kind.diagonal_mm, _diagonal_std(kind))
    seen = reference.seen
    if isinstance(seen, Rim):
        rim = condensed(seen)
        half = len(rim.points_px) // 2
        pairs = np.stack([rim.points_px[:half], rim.points_px[half : 2 * half]], axis=1)
        return _Sized("width", pairs, rim.std_px, kind.width_mm, DIAMETER_STD_MM)
    if isinstance(seen, FoundTarget):
        far = seen.corners_mm.sum(axis=1)
        ends = [int(np.argmin(far)), int(np.argmax(far))]
        stated = float(np.linalg.norm(np.diff(seen.corners_mm[ends], axis=0)))
        std = stated * max(seen.scale.across_std, seen.scale.down_std)
        return _Sized("stretch", seen.corners_px[ends][None], seen.corner_std_px, stated, std)
    ends_px = reference.plane.corners_px[[0, -1]]
    std_px = max(reference.found.corner_std_px, 0.3 if seen is not None else 0.0)
    return _Sized("width", ends_px[None], std_px, kind.width_mm, kind.width_std_mm)


def _measured(joint: Joint, sized: _Sized, height_mm: float) -> tuple[float, float]:
    """Return the mean distance of the pairs and its standard uncertainty, over all planes allowed."""
    planes = (joint.plane,) if joint.family is None else joint.family.planes
    weights = np.array((1.0,) if joint.family is None else joint.family.weights)
    found = np.array([_on(plane, sized, height_mm) for plane in planes])
    mean = float(weights @ found[:, 0])
    return mean, float(np.sqrt(weights @ (found[:, 1] ** 2 + (found[:, 0] - mean) ** 2)))


def _on(plane: Plane, sized: _Sized, height_mm: float) -> tuple[float, float]:
    size = len(plane.error_sources)
    inputs = np.concatenate([np.zeros((1, size)), np.eye(size), -np.eye(size)])
    spots = plane.to_mm_spread(inputs, sized.pairs_px.reshape(1, -1, 2), np.asarray(height_mm))
    ends = spots.reshape(len(inputs), -1, 2, 2)
    lengths = np.linalg.norm(ends[:, :, 1] - ends[:, :, 0], axis=2).mean(axis=1)
    effects = (lengths[1 : size + 1] - lengths[size + 1 :]) / 2.0
    middle = sized.pairs_px.reshape(-1, 2).mean(axis=0)
    noise = sized.std_px * plane.scale_mm_per_px(middle, height_mm) * (2.0 / len(sized.pairs_px)) ** 0.5
    return float(lengths[0]), float(np.hypot(np.linalg.norm(effects), noise))


def _diagonal_std(reference: ReferenceObject) -> float:
    w, h = reference.width_mm, reference.height_mm
    size = np.hypot(w * reference.width_std_mm, h * reference.height_std_mm) / np.hypot(w, h)
    # Of the mean of both diagonals.
    return float(np.hypot(size, reference.outline_std_mm))
