"""The release sheet: a subject, its releases, its parts and the value of each feature per release."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

from references.release_sheet.values import ABSENT, Normal, Range, Value

Kind = Literal["dimension", "count", "trait"]
MeasuredAs = Literal["span", "gap", "round", "rise", "tip"]

FORMAT = "cardspan-sheet/1"
KINDS: tuple[Kind, ...] = ("dimension", "count", "trait")
MEASURED_AS: tuple[MeasuredAs, ...] = ("span", "gap", "round", "rise", "tip")


@dataclass(frozen=True, slots=True)
class Release:
    """One production release of the subject.

    Attributes
    ----------
    id, name, made : str
        Short key, name, and years of production.
    prior : float
        Share of all specimens before anything is measured.
    note : str
        Anything worth knowing.
    """

    id: str
    name: str
    made: str
    prior: float
    note: str = ""


@dataclass(frozen=True, slots=True)
class Feature:
    """Something to check on a part.

    Attributes
    ----------
    id, name : str
        Short key within the part, and name.
    kind : str
        ``"dimension"``, ``"count"`` or ``"trait"``.
    how : str
        How to measure or look.
    by_release : mapping of str to Value
        The feature's value on each release; every release is listed.
    measured_as : str or None
        How a dimension is measured on a photo; None for counts and traits.
    standoff_mm, standoff_std_mm : float
        Height of the measured points above the card, toward the camera, and its standard uncertainty.
    alternatives : tuple of str
        The alternatives of a trait.
    part_off : bool
        The check needs the part taken off the toy.
    """

    id: str
    name: str
    kind: Kind
    how: str
    by_release: Mapping[str, Value]
    measured_as: MeasuredAs | None = None
    standoff_mm: float = 0.0
    standoff_std_mm: float = 1.0
    alternatives: tuple[str, ...] = ()
    part_off: bool = False

    def limits_mm(self, release: str) -> tuple[float, float] | None:
        """Return the limits of a dimension on a release.

        Parameters
        ----------
        release : str
            Key of one of the sheet's releases.

        Returns
        -------
        (float, float) or None
            Smallest and largest length that conform, mm: of a spread, its 95 % prediction interval. None for
            counts, traits, and where the value is absent or unknown.
        """
        value = self.by_release[release]
        return value.limits_mm if isinstance(value, Range | Normal) else None


@dataclass(frozen=True, slots=True)
class Part:
    """A piece of the subject.

    Attributes
    ----------
    id, name : str
        Short key and name.
    features : tuple of Feature
        What to check on it.
    handling : str
        Care to take.
    keep_in_place : bool
        The part must not be taken off the toy.
    """

    id: str
    name: str
    features: tuple[Feature, ...]
    handling: str = ""
    keep_in_place: bool = False

    def feature(self, feature_id: str) -> Feature | None:
        """Return the feature of a key.

        Parameters
        ----------
        feature_id : str
            The key, as the sheet writes it.

        Returns
        -------
        Feature or None
            None where the part has none of that key.
        """
        return next((feature for feature in self.features if feature.id == feature_id), None)

    def absent_from(self, release: str) -> bool:
        """Tell whether the release has no separate part of this kind.

        Parameters
        ----------
        release : str
            Key of one of the sheet's releases.

        Returns
        -------
        bool
            True where any feature says so; readers of sheets refuse features that disagree.
        """
        return any(feature.by_release[release] is ABSENT for feature in self.features)


@dataclass(frozen=True, slots=True)
class Sheet:
    """A release sheet.

    Attributes
    ----------
    key : str
        Name of the sheet: the file's name without its ending.
    subject, maker : str
        The toy and who made it.
    unit : str
        ``"mm"`` or ``"in"``: the unit of bare numbers in the file, and of lengths in sentences.
    swap_rate, missing_rate, recast_rate : float
        How often a part comes from another release, is lost, or is a slightly smaller later cast.
    releases : tuple of Release
    parts : tuple of Part
    """

    key: str
    subject: str
    maker: str
    unit: str
    swap_rate: float
    missing_rate: float
    recast_rate: float
    releases: tuple[Release, ...]
    parts: tuple[Part, ...]
    note: str = ""

    @property
    def release_ids(self) -> tuple[str, ...]:
        """The keys of the releases, in the sheet's order."""
        return tuple(release.id for release in self.releases)

    @property
    def release_names(self) -> dict[str, str]:
        """What people call each release, by its key."""
        return {release.id: release.name for release in self.releases}

    def release(self, release_id: str) -> Release | None:
        """Return the release of a key.

        Parameters
        ----------
        release_id : str
            The key, as the sheet writes it.

        Returns
        -------
        Release or None
            None where the sheet has none of that key.
        """
        return next((release for release in self.releases if release.id == release_id), None)

    def part(self, part_id: str) -> Part | None:
        """Return the part of a key.

        Parameters
        ----------
        part_id : str
            The key, as the sheet writes it.

        Returns
        -------
        Part or None
            None where the sheet has none of that key.
        """
        return next((part for part in self.parts if part.id == part_id), None)
