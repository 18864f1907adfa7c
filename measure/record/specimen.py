"""One toy with its photos, measurements and observations: the values that a specimen record holds."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from calibration.camera import Camera
from measure import __version__
from measure.record.verdict_entry import VerdictEntry
from references.release_sheet import MEASURED_AS

FORMAT = "cardspan-specimen/1"
# What a sheet's features may be measured as, and what is made of two such lengths.
KINDS = (*MEASURED_AS, "difference")
STATES = ("seen", "not present", "could not see")
SOURCE_KINDS = ("coin", "rule", "length", "feature", "target")

Point = tuple[float, float]


@dataclass(frozen=True, slots=True)
class ReferenceEntry:
    """The reference object as it lies in one photo.

    Attributes
    ----------
    kind : str
        Key of the object, or ``WIDTHxHEIGHT``.
    width_mm, height_mm : float
        Its size; the first side runs from corner 0 to corner 1.
    corners_px : tuple of 4 points, or None where the scale comes from elsewhere
        In order around the object, in pixels of the upright photo.
    corners_cov_px2 : tuple of 64 floats, or None
        Covariance of the corners, row by row, order x0, y0, x1, …; else `corner_std_px` for each coordinate.
    corner_std_px : float
        Standard uncertainty of one corner coordinate.
    source : str
        "found" or "by hand".
    confidence : float or None
        Of the finder, 0 to 1.
    said : bool
        Whether a person said what kind it is, or confirmed what the finder took it for.
    radii : tuple of (float, float)
        How well corners of each radius explain its own: the radius in short sides, and the logarithm of its
        likelihood. Empty where nobody looked.
    """

    kind: str
    width_mm: float
    height_mm: float
    corners_px: tuple[Point, ...] | None = None
    corners_cov_px2: tuple[float, ...] | None = None
    corner_std_px: float = 1.0
    source: str = "found"
    confidence: float | None = None
    said: bool = False
    radii: tuple[Point, ...] = ()
    extra: Mapping[str, Any] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class SeenEntry:
    """What the photo's pixels showed at the marks of a source of scale, so that it can be redone from here.

    Attributes
    ----------
    points_px : tuple of points
        A rule's graduations or a printed target's corners.
    numbers : tuple of int
        Which graduation, counted from the first, or which of the target's corners each point is.
    ellipse_px : tuple of 5 floats, or None
        A coin's rim: centre x and y, longer and shorter half axis, and the longer one's angle against x in
        radians.
    std_px : float
        Standard uncertainty of each point; of a rim, of each of 48 points on it.
    """

    points_px: tuple[Point, ...] = ()
    numbers: tuple[int, ...] = ()
    ellipse_px: tuple[float, ...] | None = None
    std_px: float = 1.0


@dataclass(frozen=True, slots=True)
class SourceEntry:
    """A source of scale in one photo other than a card or sheet.

    Attributes
    ----------
    kind : str
        One of `SOURCE_KINDS`.
    object : str or None
        Which coin (``us-quarter``) or graduations (``rule-mm``).
    marks_px : tuple of points
        A coin: one point inside it, or three or more on its rim. A rule: two on its graduations. A known
        length or a feature: its two ends. A printed target needs none.
    mark_std_px : float
        Standard uncertainty of each coordinate of the ends of a known length.
    nearer_px : point or None
        A point on the side of a coin that is nearer to the camera.
    length_mm, length_std_mm : float or None
        A known length and its standard uncertainty; of a feature, as its sheet gave them.
    sheet, part, feature : str or None
        Where the length of a feature is from: one that is the same in all releases.
    printed_mm : tuple of 1 or 2 floats, or None
        What the user measured on the printed target's check rules, across and down.
    tilt_std_deg : float or None
        How far from straight above the photo may have been taken, about each axis; None for the usual.
    seen : SeenEntry or None
        What was found at the marks; None where the photo still has to be looked at.
    """

    kind: str
    object: str | None = None
    marks_px: tuple[Point, ...] = ()
    mark_std_px: float = 1.0
    nearer_px: Point | None = None
    length_mm: float | None = None
    length_std_mm: float | None = None
    sheet: str | None = None
    part: str | None = None
    feature: str | None = None
    printed_mm: tuple[float, ...] | None = None
    tilt_std_deg: float | None = None
    seen: SeenEntry | None = None


@dataclass(frozen=True, slots=True)
class PhotoEntry:
    """One photo of the specimen.

    Attributes
    ----------
    id : str
        Name within the record.
    file : str
        Path relative to the record's folder.
    sha256 : str
        Digest of the file; a photo that no longer has it is reported.
    width_px, height_px : int
        Size of the upright photo.
    reference : ReferenceEntry or None
        The card or sheet that gives the scale; its plane is that of stand-off 0.
    camera : Camera, mapping or None
        The intrinsics used; their fields as the file has them, where these make no camera; None means the
        photo's Exif.
    also : tuple of ReferenceEntry
        Further cards or sheets on the same table, combined with the first in one fit.
    sources : tuple of SourceEntry
        Other sources of scale, combined with the cards and sheets, and with each other, in the same fit.
        Without a card, stand-off 0 is the plane of a printed target, or else of the first of them.
    straight_px : tuple of tuples of points
        Edges that are straight in the scene, each by three points or more: they tell the lens.
    profile : str or None
        Name of the user's camera profile that the intrinsics are from.
    """

    id: str
    file: str
    sha256: str
    width_px: int
    height_px: int
    reference: ReferenceEntry | None = None
    camera: Camera | Mapping[str, Any] | None = None
    also: tuple[ReferenceEntry, ...] = ()
    sources: tuple[SourceEntry, ...] = ()
    straight_px: tuple[tuple[Point, ...], ...] = ()
    profile: str | None = None
    extra: Mapping[str, Any] = field(default_factory=dict)

    @property
    def has_scale(self) -> bool:
        """Whether any object of known size is recorded for it."""
        return bool(self.sources) or (self.reference is not None and self.reference.corners_px is not None)


@dataclass(frozen=True, slots=True)
class BudgetEntry:
    """One line of an uncertainty budget; `shared` if all lengths of the photo have it in common."""

    source: str
    u_mm: float
    shared: bool = False


@dataclass(frozen=True, slots=True)
class ResultEntry:
    """A measured length as last computed."""

    length_mm: float
    standard_uncertainty_mm: float
    expanded_uncertainty_mm: float
    coverage_factor: float
    budget: tuple[BudgetEntry, ...] = ()
    extra: Mapping[str, Any] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class MeasurementEntry:
    """One measurement: what was clicked, how, and the result.

    Attributes
    ----------
    id : str
        Name within the record.
    kind : str
        One of `KINDS`.
    photo : str or None
        Id of the photo; None for a length taken on the toy itself, whose result is then given.
    part, feature : str or None
        What of the sheet it measures; None for a free measurement.
    name : str
        For people.
    clicks_px, used_px : tuple of points
        Where the user clicked, and the points used after snapping (the same where nothing snapped).
    click_std_px : tuple of floats
        Standard uncertainty of each used point's coordinates.
    snap : bool
        Whether clicks were to snap to edges.
    standoff_mm : tuple of floats
        One for all points, or one for each.
    standoff_std_mm : float
        Standard uncertainty of the stand-off.
    result : ResultEntry or None
        None until it has been computed.
    edge_fit : tuple of bool
        Which of the used points lie on a fitted edge; empty if none does, or if an older program wrote it.
    lean_std_mm : float or None
        Of a rise: how far its top may be from straight above its foot; None for the default.
    """

    id: str
    kind: str
    photo: str | None
    part: str | None
    feature: str | None
    name: str
    clicks_px: tuple[Point, ...] = ()
    used_px: tuple[Point, ...] = ()
    click_std_px: tuple[float, ...] = ()
    snap: bool = False
    standoff_mm: tuple[float, ...] = (0.0,)
    standoff_std_mm: float = 1.0
    result: ResultEntry | None = None
    edge_fit: tuple[bool, ...] = ()
    lean_std_mm: float | None = None
    extra: Mapping[str, Any] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class ObservationEntry:
    """A count or trait that the user noted, or a part that is missing or out of view.

    Attributes
    ----------
    part : str
        Part of the sheet.
    feature : str or None
        None where the state concerns the whole part.
    value : int, str or None
        Count or trait; None unless seen.
    state : str
        One of `STATES`.
    """

    part: str
    feature: str | None = None
    value: int | str | None = None
    state: str = "seen"
    extra: Mapping[str, Any] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Specimen:
    """One example of a subject with everything measured and noted on it.

    Attributes
    ----------
    name, note : str
        In the user's words.
    sheet : str or None
        Key of a shipped sheet, or a path relative to the record.
    photos, measurements, observations : tuples of entries
    verdict : VerdictEntry, mapping or None
        What the last judgement said; as the file has it, which `read_verdict` reads, until judged again.
    program : str
        Program and version that wrote the record.
    extra : mapping
        Keys of the file that this version doesn't know; they are written back.
    """

    name: str
    sheet: str | None = None
    note: str = ""
    photos: tuple[PhotoEntry, ...] = ()
    measurements: tuple[MeasurementEntry, ...] = ()
    observations: tuple[ObservationEntry, ...] = ()
    verdict: VerdictEntry | Mapping[str, Any] | None = None
    program: str = f"cardspan {__version__}"
    extra: Mapping[str, Any] = field(default_factory=dict)

    def photo(self, photo_id: str) -> PhotoEntry:
        """Return the photo of an id.

        Parameters
        ----------
        photo_id : str
            As measurements name it.

        Returns
        -------
        PhotoEntry

        Raises
        ------
        KeyError
            There is none.
        """
        for entry in self.photos:
            if entry.id == photo_id:
                return entry
        raise KeyError(photo_id)
