"""The content of a write-up, gathered from a record, its photos and its release sheet."""

import re
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING
from unicodedata import bidirectional

from measure.record import MeasurementEntry, PhotoEntry, ResultEntry, Specimen, VerdictEntry
from measure.writeup.gather.figures import Figures, figures
from references.release_sheet import Feature, Sheet

if TYPE_CHECKING:
    from calibration.cards import FoundCard
    from calibration.image import Photo
    from calibration.objects import ReferenceObject
    from calibration.plane import Plane
    from measure.kinds import Scale

LEFT_TO_RIGHT = "\u200e"
_DATE = re.compile(r"^(\d{4})[-:](\d{2})[-:](\d{2})")


@dataclass(frozen=True, slots=True, eq=False)
class PhotoEvidence:
    """One photo of the record.

    Attributes
    ----------
    number : int
        From 1, for captions.
    entry : PhotoEntry
        What the record says of it.
    photo : Photo or None
        The photo itself; None if it wasn't found or is another one.
    scale : Scale or None
        What gives its scale; None if the record holds nothing of known size.
    trouble : str
        Why something is missing, or nothing.
    """

    number: int
    entry: PhotoEntry
    photo: "Photo | None"
    scale: "Scale | None"
    trouble: str = ""

    @property
    def plane(self) -> "Plane | None":
        """The metric plane, the likeliest where the reference allows several."""
        return None if self.scale is None else self.scale.plane

    @property
    def thing(self) -> "ReferenceObject | None":
        """The reference that defines the plane."""
        return None if self.scale is None else self.scale.found[0].object

    @property
    def faces(self) -> "tuple[FoundCard, ...]":
        """Cards and sheets, whose faces may show private data; the defining one first."""
        if self.scale is None or self.entry.reference is None:
            return ()
        return self.scale.found[: 1 + len(self.entry.also)]


@dataclass(frozen=True, slots=True)
class Limits:
    """One release's limits of a dimension on the sheet; both None if the part is absent or unknown."""

    release: str
    low_mm: float | None
    high_mm: float | None
    source: str


@dataclass(frozen=True, slots=True)
class Item:
    """One measured length.

    Attributes
    ----------
    key : str
        Its number in pictures and tables.
    name : str
        Part and feature, or the user's words.
    part : str
        Measurements with the same word here are of the same part.
    entry : MeasurementEntry
        How it was measured.
    figures : Figures or None
        The result as text; None if there is no result.
    how : str
        The sheet's instruction, or nothing.
    limits : tuple of Limits
        The releases' limits; empty without a sheet.
    """

    key: str
    name: str
    part: str
    entry: MeasurementEntry
    figures: Figures | None
    how: str
    limits: tuple[Limits, ...]

    @property
    def result(self) -> ResultEntry | None:
        """The measured length."""
        return self.entry.result


@dataclass(frozen=True, slots=True)
class Noted:
    """A count or trait, or a part that is missing or out of sight."""

    name: str
    value: str
    expected: str


@dataclass(frozen=True, slots=True, eq=False)
class Evidence:
    """What the documents are written from.

    Attributes
    ----------
    specimen : Specimen
        The record.
    sheet : Sheet or None
        Its release sheet.
    verdict : VerdictEntry or None
        What its findings give now; without a sheet, what the record holds.
    items, noted : tuples
        Lengths, and counts, traits and states.
    photos : tuple of PhotoEvidence
    unchecked : tuple of str
        Features of the sheet without any finding.
    date : str
        ISO date, or nothing where none is recorded.
    program : str
        Program and version that writes.
    inches_first : bool
        Which unit leads.
    """

    specimen: Specimen
    sheet: Sheet | None
    verdict: VerdictEntry | None
    items: tuple[Item, ...]
    noted: tuple[Noted, ...]
    photos: tuple[PhotoEvidence, ...]
    unchecked: tuple[str, ...]
    date: str
    program: str
    inches_first: bool

    @property
    def title(self) -> str:
        """The specimen's name."""
        return tidy(self.specimen.name) or "Unnamed specimen"

    @property
    def subject(self) -> str:
        """The toy and its maker, as far as known."""
        if self.sheet is None:
            return ""
        maker = f" ({tidy(self.sheet.maker)})" if self.sheet.maker else ""
        return tidy(self.sheet.subject) + maker

    def release_name(self, release_id: str) -> str:
        """Return a release's name with its years, or its id without a sheet.

        Parameters
        ----------
        release_id : str
            The release's key.

        Returns
        -------
        str
        """
        release = self.sheet.release(release_id) if self.sheet else None
        if release is None:
            return release_id
        return f"{tidy(release.name)} ({tidy(release.made)})" if release.made else tidy(release.name)

    def items_of(self, photo_id: str) -> tuple[Item, ...]:
        """Return the lengths taken on one photo.

        Parameters
        ----------
        photo_id : str
            The photo's id in the record.

        Returns
        -------
        tuple of Item
            In the record's order.
        """
        return tuple(item for item in self.items if item.entry.photo == photo_id)


def bare_name(file: str) -> str:
    """Return a file's name without its folders, which may reveal the user's computer.

    Parameters
    ----------
    file : str
        A path with slashes or backslashes.

    Returns
    -------
    str
    """
    return Path(file.replace("\\", "/")).name


def tidy(text: str) -> str:
    """Return the user's text on one line, without control characters, fit for an English sentence.

    Parameters
    ----------
    text : str
        In any script.

    Returns
    -------
    str
        With marks of direction around it where it runs from right to left.
    """
    line = " ".join("".join(c if c.isprintable() else " " for c in text).split())
    if any(bidirectional(character) in ("R", "AL") for character in line):
        # Without these marks a Hebrew or Arabic name would reverse the figures beside it.
        return f"{LEFT_TO_RIGHT}{line}{LEFT_TO_RIGHT}"
    return line


def measured_items(specimen: Specimen, sheet: Sheet | None, *, inches_first: bool) -> tuple[Item, ...]:
    """Return the record's measurements, numbered, and named by the sheet."""
    items = []
    for number, entry in enumerate(specimen.measurements, 1):
        feature = feature_of(sheet, entry.part, entry.feature)
        text = figures(entry.result, inches_first=inches_first) if entry.result else None
        how = tidy(feature.how) if feature else ""
        part = entry.part or entry.id
        items.append(Item(str(number), _name(sheet, entry), part, entry, text, how, _limits(sheet, feature)))
    return tuple(items)


def feature_of(sheet: Sheet | None, part_id: str | None, feature_id: str | None) -> Feature | None:
    """Return the sheet's feature, or None."""
    part = sheet.part(part_id) if sheet and part_id else None
    return part.feature(feature_id) if part and feature_id else None


def _name(sheet: Sheet | None, entry: MeasurementEntry) -> str:
    if entry.name.strip():
        return tidy(entry.name)
    return feature_name(sheet, entry.part, entry.feature) or entry.id


def feature_name(sheet: Sheet | None, part_id: str | None, feature_id: str | None) -> str:
    """Return 'Bow plate, width', as far as part and feature are known.

    Parameters
    ----------
    sheet : Sheet or None
        Without one, keys stand for names.
    part_id, feature_id : str or None
        Keys.

    Returns
    -------
    str
        The empty text for neither.
    """
    part = sheet.part(part_id) if sheet and part_id else None
    feature = part.feature(feature_id) if part and feature_id else None
    first = tidy(part.name) if part else (part_id or "")
    second = tidy(feature.name) if feature else (feature_id or "")
    return ", ".join(word for word in (first, second[:1].lower() + second[1:]) if word)


def _limits(sheet: Sheet | None, feature: Feature | None) -> tuple[Limits, ...]:
    if sheet is None or feature is None or feature.kind != "dimension":
        return ()
    limits = []
    for release in sheet.releases:
        low_high = feature.limits_mm(release.id)
        value = feature.by_release[release.id]
        source = getattr(value, "source", "") or str(getattr(value, "value", ""))
        low_mm, high_mm = low_high or (None, None)
        limits.append(Limits(tidy(release.name), low_mm, high_mm, tidy(source)))
    return tuple(limits)


def recorded_date(specimen: Specimen, photos: tuple[PhotoEvidence, ...]) -> str:
    """Return the record's date, else that of its latest photo by the camera's clock, else nothing."""
    stated = specimen.extra.get("date")
    taken = [item.photo.exif.taken or "" for item in photos if item.photo is not None]
    for text in (str(stated or ""), max(taken, default="")):
        match = _DATE.match(text)
        if match:
            return "-".join(match.groups())
    return ""


def sheet_beside(specimen: Specimen, record: Path) -> tuple[Sheet | None, str]:
    """Read the record's sheet.

    Parameters
    ----------
    specimen : Specimen
        The record's values.
    record : Path
        Its file, from whose folder a relative path starts.

    Returns
    -------
    Sheet or None, str
        The sheet, and its text; nothing if the record names none.

    Raises
    ------
    SheetError
        The sheet is missing or faulty.
    """
    from references.release_sheet import named_sheet, named_text

    if not specimen.sheet:
        return None, ""
    return named_sheet(specimen.sheet, record.parent), named_text(specimen.sheet, record.parent)
