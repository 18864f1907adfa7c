"""What is marked and seen of a source of scale other than a card, and what it gives."""

from dataclasses import dataclass

import numpy as np

from calibration.camera import Array
from calibration.cards import FoundCard
from calibration.cautions import Caution
from calibration.edges import Rim
from calibration.errors import MarksError
from calibration.objects import ReferenceObject
from calibration.plane import Plane, PlaneFamily
from calibration.printed_target import FoundTarget, PrintScale
from calibration.sources.graduations import Graduations

Observation = Rim | Graduations | FoundTarget | None


@dataclass(frozen=True, slots=True, eq=False)
class Marks:
    """What the user adds to a photo for a source that can't be found automatically.

    Attributes
    ----------
    points_px : (N, 2) array or None
        A coin: one point inside, or three on its rim. A rule: two points, the line between crosses the
        graduations. A known length: its two ends.
    nearer_px : (2,) array or None
        A point on the side that is nearer to the camera.
    print_scale : PrintScale or None
        The printed target's size as measured.
    tilt_std_deg : float or None
        How far from straight above the photo may have been taken, about each axis.
    mark_std_px : float
        Standard uncertainty of each coordinate of the ends of a known length.
    """

    points_px: Array | None = None
    nearer_px: Array | None = None
    print_scale: PrintScale | None = None
    tilt_std_deg: float | None = None
    mark_std_px: float = 1.0


@dataclass(frozen=True, slots=True, eq=False)
class SourcePlane:
    """What a source of scale gives.

    Attributes
    ----------
    found : FoundCard
        Its outline in the photo.
    plane : Plane
        The most likely plane.
    family : PlaneFamily or None
        All planes that it allows, where it leaves the tilt open.
    cautions : tuple of Caution
        What the user should know.
    seen : Rim, Graduations, FoundTarget or None
        What the photo's pixels showed; None for a known length.
    nearer_px : (2,) array or None
        A point on the side of a coin that the user says is nearer to the camera.
    beside : tuple of Caution
        Those cautions that also hold together with other references.
    tilt_std_deg : float or None
        How far from straight above the photo may have been taken, where the user states it.
    """

    found: FoundCard
    plane: Plane
    family: PlaneFamily | None
    cautions: tuple[Caution, ...]
    seen: Observation = None
    nearer_px: Array | None = None
    beside: tuple[Caution, ...] = ()
    tilt_std_deg: float | None = None


def needed(marks: Marks, what: str) -> Array:
    """Return the marked points, (N, 2) px, or ask for them.

    Raises
    ------
    MarksError
        There are none; `what` says what to mark.
    """
    if marks.points_px is None or len(marks.points_px) == 0:
        raise MarksError(f"{what}, which can't be found without its points")
    return np.asarray(marks.points_px, dtype=float).reshape(-1, 2)


def strip(length_mm: float) -> Array:
    """Return the outline, (4, 2) mm, by which something long is shown."""
    half = 0.05 * length_mm
    return np.array([[0.0, -half], [length_mm, -half], [length_mm, half], [0.0, half]])


def shown(
    family: PlaneFamily, reference: ReferenceObject, outline_mm: Array, std_px: float, seen: Observation
) -> SourcePlane:
    """Return a family of planes with the outline, (4, 2) mm, by which their source is shown."""
    plane = family.planes[0]
    found = FoundCard(
        reference,
        plane.to_px(outline_mm),
        np.eye(8) * std_px**2,
        confidence=0.9,
        accepted=True,
        cautions=family.cautions,
        tilt_deg=plane.tilt_deg,
        source="by hand",
    )
    return SourcePlane(found, plane, family, family.cautions, seen)
