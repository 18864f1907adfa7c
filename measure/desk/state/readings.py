"""What the core says of each measurement."""

from dataclasses import dataclass

from measure.length import Length
from measure.record import MeasurementEntry, PhotoEntry, Point

Points = tuple[Point, ...]


@dataclass(frozen=True, slots=True)
class Reading:
    """A measurement with what the core says of it.

    Attributes
    ----------
    entry : MeasurementEntry
        With the points used and the result filled in.
    length : Length or None
        None where there is none.
    trouble : str or None
        Why there is none, for people.
    cautions : tuple of str
        In the page's words.
    curves_px : tuple of point tuples
        What to draw instead of joining the points, such as a circle as seen.
    snapped : bool
        Whether edges or a rim were found beside the points.
    """

    entry: MeasurementEntry
    length: Length | None = None
    trouble: str | None = None
    cautions: tuple[str, ...] = ()
    curves_px: tuple[Points, ...] = ()
    snapped: bool = False


@dataclass(frozen=True, slots=True)
class Settled:
    """A reading with what it was made from.

    Attributes
    ----------
    reading : Reading
        The reading.
    shot : PhotoEntry or None
        The photo's state; None for a length that was not measured on a photo.
    with_pixels : bool
        Whether the photo was open, where there is one.
    """

    reading: Reading
    shot: PhotoEntry | None
    with_pixels: bool


def same_scale(one: PhotoEntry, other: PhotoEntry) -> bool:
    """Tell whether two states of a photo have exactly the same references.

    Parameters
    ----------
    one, other : PhotoEntry
        The states.

    Returns
    -------
    bool
    """
    return (
        one.reference is other.reference
        and one.camera is other.camera
        and one.also == other.also
        and one.sources == other.sources
        and one.straight_px == other.straight_px
    )
