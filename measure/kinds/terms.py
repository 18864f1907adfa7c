"""The terms of a measurement of any kind: its input, its options and its result."""

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from calibration.cautions import Caution, NoAnswer

if TYPE_CHECKING:
    from measure.kinds.snapping import UsedPoint
    from measure.length import Length


@dataclass(frozen=True, slots=True)
class Kind:
    """One kind of measurement.

    Attributes
    ----------
    key : str
        Its name.
    clicks : str
        What to mark, for people.
    least, most : int
        How many points; `most` is 0 if there may be any number.
    gives : str
        What comes out, for people.
    """

    key: str
    clicks: str
    least: int
    most: int
    gives: str


# Those of `references.release_sheet.MEASURED_AS`, each in full.
KINDS: dict[str, Kind] = {
    kind.key: kind
    for kind in (
        Kind("span", "two points", 2, 2, "distance between two points"),
        Kind(
            "gap",
            "two points on each of two parallel edges, or one point on each",
            2,
            4,
            "distance between two parallel edges",
        ),
        Kind("round", "three or more points around a rim", 3, 0, "diameter from points on the rim"),
        Kind(
            "rise",
            "the foot, where the object meets the table, then the top right above it",
            2,
            2,
            "height above the card's plane",
        ),
        Kind(
            "tip",
            "around a corner in order: two points on one straight side, two on the other",
            4,
            0,
            "radius of a rounded corner",
        ),
    )
}


@dataclass(frozen=True, slots=True)
class Measured:
    """A measurement of any kind.

    Attributes
    ----------
    result : Length or NoAnswer
        The length, or why the photo doesn't give it.
    used_px : tuple of points
        The points used, after snapping.
    snapped : bool
        Whether edges or a rim were found in the photo.
    cautions : tuple of Caution
        What may be wrong and what to do.
    std_px : tuple of float
        Standard uncertainty of each used point's coordinates.
    ends : tuple of UsedPoint
        Of a span: how each end was moved, or why not.
    """

    result: "Length | NoAnswer"
    used_px: tuple[tuple[float, float], ...]
    snapped: bool
    cautions: tuple[Caution, ...] = ()
    std_px: tuple[float, ...] = ()
    ends: tuple["UsedPoint", ...] = ()


@dataclass(frozen=True, slots=True)
class Choices:
    """How a measurement is to be made.

    Attributes
    ----------
    snap : bool
        Whether to look for the edges beside the points.
    click_std_px : float or None
        Standard uncertainty of each coordinate of a point by hand, if stated; None takes it from the picture,
        and at the ends of a span from the blur of the edge.
    zoom_factor : float or None
        Screen pixels per pixel of the photo when the points were marked, if known.
    standoff_mm : float or pair of floats
        Height above the reference's face; a span may have one for each end, other kinds take the mean.
    standoff_std_mm : float or None
        Its standard uncertainty; None for the default.
    lean_std_mm : float or None
        For a rise: how far the top may be from straight above the foot.
    photo_id, span_id : str
        Name the inputs.
    """

    snap: bool = True
    click_std_px: float | None = None
    zoom_factor: float | None = None
    standoff_mm: float | tuple[float, ...] = 0.0
    standoff_std_mm: float | None = None
    lean_std_mm: float | None = None
    photo_id: str = "photo"
    span_id: str | None = None

    @property
    def height_mm(self) -> float:
        """One stand-off for all points."""
        return float(np.mean(self.standoff_mm))
