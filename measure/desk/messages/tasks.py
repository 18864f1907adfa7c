"""What the desk wants done: anything that takes time, reads pixels or touches the disk."""

from collections.abc import Mapping
from dataclasses import dataclass, fields

from measure.desk.state import Desk, Reading, Settled
from measure.record import MeasurementEntry, PhotoEntry, Point, Specimen

Points = tuple[Point, ...]


class AtOnce:
    """A task done within the turn; the message that comes of it is handled in the same turn."""

    __slots__ = ()


class Later:
    """A task begun when the turn is over, on the state it ended with; what comes of it is another message."""

    __slots__ = ()


@dataclass(frozen=True, slots=True)
class Measure(AtOnce):
    """Bring every measurement of a state up to date."""

    specimen: Specimen
    known: Mapping[str, Settled]
    quiet: bool = False


@dataclass(frozen=True, slots=True)
class TryMeasurement(AtOnce):
    """Measure an entry that is not recorded."""

    shot: PhotoEntry
    entry: MeasurementEntry


@dataclass(frozen=True, slots=True)
class TryCorners(AtOnce):
    """Measure a photo's entries with other corners."""

    specimen: Specimen
    shot: PhotoEntry


@dataclass(frozen=True, slots=True)
class FitOutline(AtOnce):
    """Move corners onto the card's edges; with `soft`, failing is told instead of refused."""

    shot: PhotoEntry
    corners_px: Points
    kind: str
    said: bool
    title: str
    soft: bool = False


@dataclass(frozen=True, slots=True)
class MakeScale(AtOnce):
    """Look at what gives a photo's scale, and make sure that it gives one."""

    shot: PhotoEntry
    title: str


@dataclass(frozen=True, slots=True)
class RefineCard(AtOnce):
    """Move the corners of a further card onto its edges, and let it give the scale, too."""

    shot: PhotoEntry
    kind: str
    corners_px: Points


@dataclass(frozen=True, slots=True)
class ChangeCamera(AtOnce):
    """Use a camera profile on a photo; outlines follow their edges as the lens bends them."""

    shot: PhotoEntry
    profile: str | None


@dataclass(frozen=True, slots=True)
class Search(Later):
    """Look for the card, of one kind or of any."""

    photo: str
    key: str | None
    alone: bool


@dataclass(frozen=True, slots=True)
class Appraise(Later):
    """Judge the outline of a photo."""

    photo: str


@dataclass(frozen=True, slots=True)
class OpenPictures(AtOnce):
    """Begin to open the photos at these paths, where that has not begun."""

    paths: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class KeepPhoto(AtOnce):
    """Put a photo's bytes beside the record."""

    name: str
    data: bytes


@dataclass(frozen=True, slots=True)
class KeepSheet(AtOnce):
    """Check a sheet's bytes and put them beside the record."""

    name: str
    data: bytes


@dataclass(frozen=True, slots=True)
class ReadSheet(AtOnce):
    """Read a sheet.

    Attributes
    ----------
    key : str or None
        A shipped sheet's key or a path; None for none.
    how : str
        As in `SheetRead`; "offered" is "chosen" from those on offer, "given" is "learned" from the command
        line, "laid" that can't be used is told instead of refused, "first" is "laid" that is refused.
    specimen : Specimen
        Whose sheet it is.
    anywhere : bool
        Whether its name is one that holds for any record.
    """

    key: str | None
    how: str
    specimen: Specimen
    anywhere: bool = False


@dataclass(frozen=True, slots=True)
class BeginRecord(AtOnce):
    """Leave the record on the desk, complete, and begin another: beside a photo, if one is given."""

    desk: Desk
    then: object
    photo: str | None = None


@dataclass(frozen=True, slots=True)
class PlaceRecord(AtOnce):
    """Choose a place for a record that has none: beside a photo, if one is given."""

    photo: str | None = None
    then: object = None


@dataclass(frozen=True, slots=True)
class LeaveWhole(AtOnce):
    """Make sure that the record is kept as it was before its photos were taken off."""

    desk: Desk
    whole: Specimen


@dataclass(frozen=True, slots=True)
class TakeUp(AtOnce):
    """Leave the record on the desk and take up another of those on offer."""

    desk: Desk
    handle: str


@dataclass(frozen=True, slots=True)
class FetchSample(AtOnce):
    """Read a sample's photos."""

    handle: str


@dataclass(frozen=True, slots=True)
class Hear(AtOnce):
    """Handle a message after those that this turn has led to so far."""

    message: object


@dataclass(frozen=True, slots=True)
class Forget(AtOnce):
    """Forget what is known of a record that has gone: in the next the same ids mean others."""


@dataclass(frozen=True, slots=True)
class Save(Later):
    """Keep what is on the desk in its record."""


@dataclass(frozen=True, slots=True)
class Judge(Later):
    """Judge the specimen by the sheet on the desk."""


@dataclass(frozen=True, slots=True)
class DropJudging(Later):
    """Judge nothing that has not begun."""


@dataclass(frozen=True, slots=True)
class WriteUp(Later):
    """Write the record up, once what is on the desk is saved."""


@dataclass(frozen=True, slots=True)
class Say(Later):
    """Say something on the terminal."""

    text: str


@dataclass(frozen=True, slots=True)
class Answer(Later):
    """Answer who asked.

    Attributes
    ----------
    id : str or None
        The measurement that was added or changed, with its reading.
    reading : Reading or None
        Of something that is not recorded.
    say : str or None
        A sentence.
    given : str or None
        The photo that something was added to which gives its scale.
    tried : object
        `CornersTried`, or None.
    named : dict
        Further fields, as they are.
    """

    id: str | None = None
    reading: Reading | None = None
    say: str | None = None
    given: str | None = None
    tried: object = None
    named: tuple[tuple[str, str], ...] = ()


ANSWER_FIELDS = tuple(one.name for one in fields(Answer))
