"""How far each photo has come: opened, searched, and what was found."""

from dataclasses import dataclass
from typing import TYPE_CHECKING

from measure.record import Point, ReferenceEntry, SourceEntry

if TYPE_CHECKING:
    from calibration.camera import Camera


@dataclass(frozen=True, slots=True)
class Standing:
    """How far the opening of a photo's file has come.

    Attributes
    ----------
    handle : str
        Name in tile addresses.
    stage : str
        "opening", "preview", "ready" or "failed".
    trouble : str or None
        Why it failed, in words.
    width_px, height_px : int
        Size of the upright photo; 0 until it is known.
    sha256 : str
        Digest of the file; empty until it is known.
    cautions : tuple of str
        What is wrong with the file, in the page's words.
    facts : tuple of (str, str)
        What the file tells of camera and time: name and text of each.
    """

    handle: str = ""
    stage: str = "opening"
    trouble: str | None = None
    width_px: int = 0
    height_px: int = 0
    sha256: str = ""
    cautions: tuple[str, ...] = ()
    facts: tuple[tuple[str, str], ...] = ()


@dataclass(frozen=True, slots=True)
class Examination:
    """The result of examining a photo.

    Attributes
    ----------
    reference : ReferenceEntry or None
        The card, where it was found or set.
    camera : Camera or None
        The intrinsics that go with it.
    cautions : tuple of str
        What may spoil a measurement, and how to take the photo better, in the page's words.
    reason : str or None
        Why there is no card.
    suggested_px : tuple of points, or None
        A doubtful outline, for the user to confirm or correct.
    sources : tuple of SourceEntry
        The printed target, where that was found instead of a card.
    profile : str or None
        Name of the camera profile that the intrinsics are from.
    also : tuple of ReferenceEntry
        Further cards of the kind that were found on its plane.
    """

    reference: ReferenceEntry | None = None
    camera: "Camera | None" = None
    cautions: tuple[str, ...] = ()
    reason: str | None = None
    suggested_px: tuple[Point, ...] | None = None
    sources: tuple[SourceEntry, ...] = ()
    profile: str | None = None
    also: tuple[ReferenceEntry, ...] = ()
