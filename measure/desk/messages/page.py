"""What a person can say on the page, one class for each; parsed, but not yet compared with the desk."""

from dataclasses import dataclass, field
from pathlib import PurePath

from measure.record import Point

Points = tuple[Point, ...]


@dataclass(frozen=True, slots=True)
class Changes:
    """The fields of a measurement that are sent; None stands for one that isn't.

    Attributes
    ----------
    clicks_px : tuple of points, or None
        What was clicked.
    name : str or None
        Its name; empty leaves it as it was.
    snap : bool or None
        Whether points may move to an edge.
    standoff_mm : tuple of float, or None
        Heights above the card.
    standoff_std_mm : float or None
        Their standard uncertainty.
    lean : tuple of (float or None), or None
        How far it may lean, in mm; holding None takes that back.
    """

    clicks_px: Points | None = None
    name: str | None = None
    snap: bool | None = None
    standoff_mm: tuple[float, ...] | None = None
    standoff_std_mm: float | None = None
    lean: tuple[float | None] | None = None


@dataclass(frozen=True, slots=True)
class Draft:
    """A new measurement; `of` names the two that a difference is made of."""

    kind: str
    photo: str
    part: str | None = None
    feature: str | None = None
    name: str = ""
    of: tuple[str, ...] | None = None
    same_standoff: bool = False
    changes: Changes = field(default_factory=Changes)


@dataclass(frozen=True, slots=True)
class TryDraft:
    """Measure something that is not recorded yet."""

    draft: Draft


@dataclass(frozen=True, slots=True)
class TryChange:
    """Measure something recorded as it would be with changes."""

    id: str
    changes: Changes


@dataclass(frozen=True, slots=True)
class Add:
    """Record a measurement."""

    draft: Draft
    join: bool = False


@dataclass(frozen=True, slots=True)
class Change:
    """Change a recorded measurement; `join` makes one step of quick repetitions."""

    id: str
    changes: Changes
    join: bool = False


@dataclass(frozen=True, slots=True)
class Delete:
    """Delete a measurement."""

    id: str


@dataclass(frozen=True, slots=True)
class TryCorners:
    """Show what lengths would be with other corners."""

    photo: str
    corners_px: Points
    kind: str = ""


@dataclass(frozen=True, slots=True)
class SetCorners:
    """Take corners as they were marked."""

    photo: str
    corners_px: Points
    kind: str = ""
    join: bool = False


@dataclass(frozen=True, slots=True)
class FitCorners:
    """Move corners onto the card's edges; those of the present outline where none are sent."""

    photo: str
    corners_px: Points | None = None
    kind: str = ""


@dataclass(frozen=True, slots=True)
class TurnCard:
    """Let the card's first side be the next one."""

    photo: str


@dataclass(frozen=True, slots=True)
class SayKind:
    """Say what the outline is."""

    photo: str
    kind: str


@dataclass(frozen=True, slots=True)
class FindCard:
    """Look for the card again."""

    photo: str


@dataclass(frozen=True, slots=True)
class TakeForKind:
    """Take the card for another kind: look for one, else keep the outline."""

    photo: str
    kind: str


@dataclass(frozen=True, slots=True)
class RemovePhoto:
    """Take a photo off the desk."""

    photo: str


@dataclass(frozen=True, slots=True)
class SourceWish:
    """A thing of known size, as described; its marks come beside it."""

    kind: str
    key: str = ""
    length_mm: float | None = None
    length_std_mm: float | None = None
    part: str = ""
    feature: str = ""


@dataclass(frozen=True, slots=True)
class AddSource:
    """Let something else of known size give the scale, alone or with what is there."""

    photo: str
    source: SourceWish
    marks_px: Points = ()


@dataclass(frozen=True, slots=True)
class PreferSource:
    """Measure heights from another of the sources."""

    photo: str
    number: int


@dataclass(frozen=True, slots=True)
class NearerSide:
    """Say which side of a coin is nearer to the camera."""

    photo: str
    number: int
    nearer_px: Point


@dataclass(frozen=True, slots=True)
class PrintedLengths:
    """State the measured lengths of the printed target's check rules; None takes them back."""

    photo: str
    lengths_mm: tuple[float, ...] | None


@dataclass(frozen=True, slots=True)
class SecondCard:
    """Add a further card or sheet by its corners."""

    photo: str
    kind: str
    corners_px: Points


@dataclass(frozen=True, slots=True)
class AddStraight:
    """Add an edge that is straight in reality."""

    photo: str
    points_px: Points


@dataclass(frozen=True, slots=True)
class UseCamera:
    """Use another camera profile, or none."""

    photo: str
    profile: str | None


@dataclass(frozen=True, slots=True)
class LeaveOut:
    """Leave out one of the things that give the scale ("card", "also", "source") or a "straight" edge."""

    photo: str
    what: str
    number: int = 0


@dataclass(frozen=True, slots=True)
class Observe:
    """Note a count, a trait, or that a part is missing; a `state` of "clear" takes the note back."""

    part: str
    feature: str | None
    value: int | str | None
    state: str


@dataclass(frozen=True, slots=True)
class Rename:
    """Name the specimen, or write a note on it; None leaves either as it is."""

    name: str | None = None
    note: str | None = None
    join: bool = False


@dataclass(frozen=True, slots=True)
class Undo:
    """Take the last step back."""


@dataclass(frozen=True, slots=True)
class Redo:
    """Bring the step back that was taken back."""


@dataclass(frozen=True, slots=True)
class ChooseSheet:
    """Compare with another of the sheets on offer, or with none."""

    sheet: str | None


@dataclass(frozen=True, slots=True)
class OpenSample:
    """Lay a sample on the desk."""

    handle: str


@dataclass(frozen=True, slots=True)
class OpenRecord:
    """Take up an earlier record."""

    handle: str


@dataclass(frozen=True, slots=True)
class WriteUp:
    """Write the record up."""


@dataclass(frozen=True, slots=True)
class UploadPhoto:
    """Take in a photo's bytes."""

    name: str
    data: bytes


@dataclass(frozen=True, slots=True)
class UploadSheet:
    """Take in a sheet's bytes."""

    name: str
    data: bytes


@dataclass(frozen=True, slots=True)
class OpenPhoto:
    """Open a photo by its path and add it to the record."""

    path: PurePath
