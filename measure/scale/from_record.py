"""The scale of a photo: from a record's description of its references to the plane they give."""

from collections.abc import Mapping
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from measure.cautions import LengthCautionCode
from measure.errors import RecordError
from measure.record import PhotoEntry, SourceEntry, camera_from_entry
from measure.scale.reference_entries import (
    found_of,
    marks_of,
    observation_of,
    seen_entry,
    source_key,
)

if TYPE_CHECKING:
    from calibration.camera import Camera
    from calibration.cards import FoundCard
    from calibration.image import Photo
    from calibration.plane import Plane, PlumbLine
    from calibration.sources import SourcePlane
    from measure.kinds import Scale


def scale_of(entry: PhotoEntry, photo: "Photo | None" = None, *, fitted: "Plane | None" = None) -> "Scale":
    """Return the plane, or the planes, that a photo's recorded references give.

    Parameters
    ----------
    entry : PhotoEntry
        Its cards and sheets, other sources, straight edges and camera. All are combined in one fit, and
        disagreement is told.
    photo : Photo, optional
        The photo itself, needed if the record keeps no camera, or nothing of what was seen at the marks.
    fitted : Plane, optional
        The plane of the lone card or sheet, where it was just fitted to the same corners and edges.

    Returns
    -------
    Scale
        What `measure.kinds.on_planes.measure_by` measures on, with the references' outlines and cautions.

    Raises
    ------
    RecordError
        Nothing of known size is recorded, or the photo is needed and not given.
    CalibrationError
        The references describe no plane, or aren't found at their marks.
    """
    if not entry.has_scale:
        raise RecordError(
            f"photo {entry.id}: no reference with corners is recorded; find or mark the card first"
        )
    (camera, _), lines = camera_for(entry, photo), _lines(entry)
    cards = [] if entry.reference is None or entry.reference.corners_px is None else _cards(entry)
    told = [_by_source(entry, source, camera, photo) for source in entry.sources]
    scale = _scale_by(camera, cards, told, lines, fitted)
    return replace(scale, cautions=tuple(dict.fromkeys(scale.cautions)))


def looked_at(entry: PhotoEntry, photo: "Photo") -> PhotoEntry:
    """Return the entry with its camera and with what the photo shows at the marks of its sources.

    What is already recorded is kept. `scale_of` then no longer needs the photo.

    Parameters
    ----------
    entry : PhotoEntry
        A photo's entry, with or without a camera.
    photo : Photo
        The photo itself.

    Returns
    -------
    PhotoEntry

    Raises
    ------
    RecordError
        A camera profile that isn't there.
    CalibrationError
        A source isn't found at its marks.
    """
    return replace(
        entry,
        camera=entry.camera or camera_for(entry, photo)[0],
        sources=tuple(_with_seen(entry, source, photo) for source in entry.sources),
    )


def camera_for(
    entry: PhotoEntry, photo: "Photo | None", *, search: bool = False
) -> "tuple[Camera, str | None]":
    """Return the camera of a record's photo, and the name of its profile.

    Parameters
    ----------
    entry : PhotoEntry
        Its camera counts where one is recorded, else its profile.
    photo : Photo or None
        Its pixels and Exif, needed where no camera is recorded.
    search : bool
        Where neither is recorded, take the profile that Exif calls for, rather than Exif alone.

    Returns
    -------
    Camera, str or None
        As for `measure.cameras.camera_of`.

    Raises
    ------
    RecordError, ProfileError
        The recorded camera or the profile can't be used, or the photo is needed and not given.
    """
    from measure.cameras import camera_of

    if isinstance(entry.camera, Mapping):
        return camera_from_entry(entry.camera, f"photo {entry.id}: camera"), entry.profile
    if entry.camera is not None:
        return entry.camera, entry.profile
    if photo is None:
        raise RecordError(f"photo {entry.id}: no camera is recorded; keep {entry.file} beside the record")
    return camera_of(photo, entry.profile, search=search)


def _lines(entry: PhotoEntry) -> "list[PlumbLine]":
    from calibration.plane import PlumbLine

    return [PlumbLine(np.array(points, dtype=float)) for points in entry.straight_px]


def _cards(entry: PhotoEntry) -> "list[FoundCard]":
    assert entry.reference is not None
    return [found_of(one) for one in (entry.reference, *entry.also)]


def _scale_by(
    camera: "Camera",
    cards: "list[FoundCard]",
    told: "list[SourcePlane]",
    lines: "list[PlumbLine]",
    fitted: "Plane | None",
) -> "Scale":
    from calibration.cautions import Caution
    from calibration.combine import combine
    from calibration.plane import fit_plane
    from measure.kinds import Scale

    found = (*cards, *(one.found for one in told))
    unused = (Caution.of(LengthCautionCode.STRAIGHT_UNUSED),) if lines and not cards else ()
    if len(found) > 1:
        both = combine(camera, cards, told, lines=lines if cards else ())
        scale = Scale(both.plane, both.family, found, (*both.cautions, *unused))
        # Cards of one kind may all be of another; of several kinds they check each other.
        alike = bool(cards) and len({one.object for one in found}) == 1
        return _with_identity(camera, scale, cards) if alike else scale
    if told:
        return Scale(told[0].plane, told[0].family, found, (*told[0].cautions, *unused))
    card = cards[0]
    plane = fitted or fit_plane(camera, card.object, card.corners_px, card.corners_cov_px2, lines=lines)
    return _with_identity(camera, Scale(plane, None, found, plane.cautions), cards)


def _with_identity(camera: "Camera", scale: "Scale", cards: "list[FoundCard]") -> "Scale":
    """Add what else the first card may be."""
    from calibration.cards import identified, identity_caution

    card = identified(camera, cards[0], scale.plane)
    other = identity_caution(card)
    told = () if other is None else (other,)
    return replace(scale, found=(card, *scale.found[1:]), cautions=(*told, *scale.cautions))


def _with_seen(entry: PhotoEntry, source: SourceEntry, photo: "Photo | None") -> SourceEntry:
    """Look for a source at its marks, if that isn't recorded."""
    from calibration.cautions import NoAnswer
    from calibration.errors import GeometryError
    from calibration.sources import observe
    from measure.wording import Audience, worded

    if source.seen is not None or source.kind in ("length", "feature"):
        return source
    if photo is None:
        raise RecordError(
            f"photo {entry.id}: what its {source.kind} shows isn't recorded;"
            f" keep {entry.file} beside the record"
        )
    seen = observe(photo, source_key(source), marks_of(source))
    if isinstance(seen, NoAnswer):
        raise GeometryError(worded(seen, Audience.COMMAND))
    return replace(source, seen=seen_entry(seen))


def _by_source(
    entry: PhotoEntry, source: SourceEntry, camera: "Camera", photo: "Photo | None"
) -> "SourcePlane":
    from calibration.sources import plane_from, plane_of_length

    source = _with_seen(entry, source, photo)
    if source.kind in ("length", "feature"):
        assert source.length_mm is not None
        told = plane_of_length(camera, source.length_mm, source.length_std_mm, marks_of(source))
        if source.kind == "feature":
            name = f"{source.part}, {source.feature}: {source.length_mm:.2f} mm in all releases"
            thing = replace(
                told.found.object, key="feature", name=name, source=f"release sheet {source.sheet or ''}"
            )
            told = replace(told, found=replace(told.found, object=thing))
        return told
    return plane_from(camera, source_key(source), observation_of(source), marks_of(source))
