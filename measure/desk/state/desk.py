"""The desk's whole state, as one frozen value."""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

from measure.desk.state.history import History
from measure.desk.state.photos import Examination, Standing
from measure.desk.state.places import resolved
from measure.desk.state.readings import Reading, Settled
from measure.record import PhotoEntry, Specimen

if TYPE_CHECKING:
    from measure.kinds import Scale
    from references.release_sheet import Sheet

_MOST_NOTICES = 20


@dataclass(frozen=True, slots=True)
class Notice:
    """A message for the page, numbered so that each page shows it once.

    Attributes
    ----------
    id : int
        Its number.
    text : str
        A sentence.
    wrong : bool
        Whether something did not work.
    """

    id: int
    text: str
    wrong: bool


@dataclass(frozen=True, slots=True)
class Desk:
    """What is on the desk.

    Attributes
    ----------
    history : History
        The specimen's states.
    folder : str or None
        The record's folder, from which it names its photos; None while there is no record.
    laid : int
        Counts the records that were on the desk; work that was begun for an earlier one counts for nothing.
    version : int
        Counts the changes, so that a page can wait for the state that goes with an answer.
    bare : Specimen or None
        The state with all photos taken off: what comes next begins a record of its own.
    whole : Specimen
        What the record still holds then.
    sheet : Sheet or None
        What is compared with.
    mark : str
        The name by which the record keeps it; changes with the sheet.
    verdict_trouble : str or None
        Why there is no verdict.
    pictures : mapping of str to Standing
        By the photo's path.
    pending : tuple of str
        Paths of the photos that are being opened and not yet in the record.
    examinations : mapping of str to Examination
        By the photo's id: the last search.
    searching : frozenset of str
        Ids of the photos that are being searched.
    readings : mapping of str to Settled
        By the measurement's id.
    scales : mapping of str to (Scale or None, str or None)
        By the photo's id: what it is measured by, or why by nothing.
    notices : tuple of Notice
        The last few, oldest first.
    notice_count : int
        How many there were.
    """

    history: History[Specimen] = field(default_factory=lambda: History((Specimen(name=""),)))
    folder: str | None = None
    laid: int = 0
    version: int = 0
    bare: Specimen | None = None
    whole: Specimen = field(default_factory=lambda: Specimen(name=""))
    sheet: "Sheet | None" = None
    mark: str = ""
    verdict_trouble: str | None = None
    pictures: Mapping[str, Standing] = field(default_factory=dict)
    pending: tuple[str, ...] = ()
    examinations: Mapping[str, Examination] = field(default_factory=dict)
    searching: frozenset[str] = frozenset()
    readings: Mapping[str, Settled] = field(default_factory=dict)
    scales: "Mapping[str, tuple[Scale | None, str | None]]" = field(default_factory=dict)
    notices: tuple[Notice, ...] = ()
    notice_count: int = 0

    @property
    def specimen(self) -> Specimen:
        """The present state of the record."""
        return self.history.present

    @property
    def is_bare(self) -> bool:
        """Whether all photos were taken off, so that what comes next begins a record of its own."""
        return self.bare is not None and self.history.present is self.bare

    @property
    def to_keep(self) -> Specimen:
        """What the record is to hold."""
        return self.whole if self.is_bare else self.history.present

    @property
    def worth_keeping(self) -> bool:
        """Whether there is anything worth a record."""
        one = self.to_keep
        return bool(one.photos or one.measurements or one.observations or one.name or one.note)

    def picture(self, shot: PhotoEntry) -> Standing | None:
        """Return how far the opening of a photo has come.

        Parameters
        ----------
        shot : PhotoEntry
            Of the present state.

        Returns
        -------
        Standing or None
            None where it has not begun.
        """
        return None if self.folder is None else self.pictures.get(resolved(shot.file, self.folder))

    def scale(self, photo_id: str) -> "Scale | None":
        """Return what a photo is measured by.

        Parameters
        ----------
        photo_id : str
            Its id in the record.

        Returns
        -------
        Scale or None
            None where there is nothing.
        """
        return self.scales.get(photo_id, (None, None))[0]

    def reading(self, measurement_id: str) -> Reading | None:
        """Return the present reading of a measurement.

        Parameters
        ----------
        measurement_id : str
            Its id in the record.

        Returns
        -------
        Reading or None
        """
        known = self.readings.get(measurement_id)
        return known.reading if known else None

    def examination_of(self, shot: PhotoEntry) -> Examination | None:
        """Return what still holds of the last search of a photo.

        Parameters
        ----------
        shot : PhotoEntry
            Of the present state.

        Returns
        -------
        Examination or None
        """
        seen = self.examinations.get(shot.id)
        # A search result for a card no longer in use says nothing about the present one.
        return None if seen is None or (seen.reference is not None and shot.reference is None) else seen

    def noticed(self, text: str, *, wrong: bool = False) -> "Desk":
        """Return the desk with one more message for the page.

        Parameters
        ----------
        text : str
            A sentence.
        wrong : bool
            Whether something did not work.

        Returns
        -------
        Desk
        """
        count = self.notice_count + 1
        notices = (*self.notices, Notice(count, text, wrong))[-_MOST_NOTICES:]
        return replace(self, notices=notices, notice_count=count)
