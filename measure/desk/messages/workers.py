"""What the desk's workers can say: results of what the desk wanted done."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

from measure.desk.state import Examination, Reading, Settled, Standing
from measure.record import PhotoEntry, Specimen, VerdictEntry

if TYPE_CHECKING:
    from measure.kinds import Scale
    from references.release_sheet import Sheet


@dataclass(frozen=True, slots=True)
class Started:
    """The desk was set up on a record, or on none; `sheet` is one named on the command line."""

    found: Specimen | None
    folder: str | None
    sheet: str | None


@dataclass(frozen=True, slots=True)
class PictureChanged:
    """The opening of a photo has come further.

    Attributes
    ----------
    path : str
        The photo's path.
    standing : Standing
        How far it has come.
    """

    path: str
    standing: Standing


@dataclass(frozen=True, slots=True)
class PicturesSeen:
    """How far the photos of the record have come, by path."""

    standings: Mapping[str, Standing]


@dataclass(frozen=True, slots=True)
class Examined:
    """A photo was searched for `key`, or any kind; `alone` if the desk did so by itself, not on request."""

    photo: str
    laid: int
    seen: Examination
    key: str | None
    alone: bool


@dataclass(frozen=True, slots=True)
class SearchEnded:
    """A photo's search is over, whatever came of it."""

    photo: str
    laid: int


@dataclass(frozen=True, slots=True)
class Appraised:
    """The outline of a photo was judged."""

    photo: str
    laid: int
    seen: Examination


@dataclass(frozen=True, slots=True)
class Fitted:
    """An outline was moved onto the edges of a card."""

    photo: str
    seen: Examination
    title: str


@dataclass(frozen=True, slots=True)
class NotFitted:
    """No outline could be fitted."""

    why: str


@dataclass(frozen=True, slots=True)
class ScaleMade:
    """A photo's new state gives a scale."""

    shot: PhotoEntry
    title: str


@dataclass(frozen=True, slots=True)
class Measured:
    """Every measurement is up to date; `quiet` if nobody did anything that the verdict follows from."""

    specimen: Specimen
    readings: Mapping[str, Settled]
    scales: "Mapping[str, tuple[Scale | None, str | None]]"
    quiet: bool = False


@dataclass(frozen=True, slots=True)
class Refresh:
    """What could not be measured before may be measured now; `quiet` as in `Measured`."""

    quiet: bool = False


@dataclass(frozen=True, slots=True)
class Tried:
    """Something was measured without being recorded."""

    reading: Reading


@dataclass(frozen=True, slots=True)
class CornersTried:
    """The photo's lengths were measured with other corners; readings by the measurement's id."""

    shot: PhotoEntry
    scale: "Scale"
    readings: Mapping[str, Reading]


@dataclass(frozen=True, slots=True)
class SheetRead:
    """A sheet was read.

    Attributes
    ----------
    sheet : Sheet or None
        None where there is to be none.
    key : str or None
        The name by which the record keeps it.
    how : str
        "chosen" by the user, "learned" for all states, or "laid" with the record.
    showable : bool
        Whether the recorded verdict can be shown with it.
    """

    sheet: "Sheet | None"
    key: str | None
    how: str
    showable: bool = True


@dataclass(frozen=True, slots=True)
class SheetRefused:
    """The record's sheet can't be used."""

    why: str


@dataclass(frozen=True, slots=True)
class Judged:
    """A state was judged, or could not be."""

    specimen: Specimen
    verdict: VerdictEntry | None
    trouble: str | None


@dataclass(frozen=True, slots=True)
class JudgingFailed:
    """Judging failed by a fault of the program."""

    why: str


@dataclass(frozen=True, slots=True)
class RecordPlaced:
    """A place was chosen for a record that had none; `then` is the message that needed it, if any did."""

    folder: str
    then: object = None


@dataclass(frozen=True, slots=True)
class RecordBegun:
    """The record that was on the desk is left, complete, and another has begun.

    Attributes
    ----------
    folder : str
        Of the new one.
    sheet : str or None
        The name by which it keeps the sheet that stays on the desk.
    told : str or None
        What to say of it.
    then : object
        The message that needed it.
    """

    folder: str
    sheet: str | None
    told: str | None
    then: object


@dataclass(frozen=True, slots=True)
class Cleared:
    """The record is left with its photos; `sheet` is the name of the sheet that holds anywhere."""

    whole: Specimen
    sheet: str | None


@dataclass(frozen=True, slots=True)
class RecordOpened:
    """Another record was taken up."""

    specimen: Specimen
    folder: str


@dataclass(frozen=True, slots=True)
class SampleFetched:
    """A sample's name, sheet, and photos: name and bytes of each."""

    name: str
    sheet: str | None
    photos: tuple[tuple[str, bytes], ...]


@dataclass(frozen=True, slots=True)
class Told:
    """Something went wrong that the page must hear of."""

    text: str


@dataclass(frozen=True, slots=True)
class OpeningFailed:
    """A fault of the program was met while a photo was opened; `standings` are of those that failed."""

    standings: Mapping[str, Standing]
    text: str


@dataclass(frozen=True, slots=True)
class Learned:
    """The desk found something out that holds for all states: undo must not revert it."""

    change: Callable[[Specimen], Specimen]


@dataclass(frozen=True, slots=True)
class Moved:
    """The record lies elsewhere from now on."""

    folder: str | None
