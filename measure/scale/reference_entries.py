"""A record's entries of a photo's references, from and to the values of `calibration`."""

import dataclasses
from collections.abc import Callable
from typing import TYPE_CHECKING, Any

import numpy as np

from measure.errors import RecordError
from measure.record import PhotoEntry, Point, ReferenceEntry, SeenEntry, SourceEntry

if TYPE_CHECKING:
    from calibration.camera import Camera
    from calibration.cards import FoundCard
    from calibration.edges import Rim
    from calibration.image import Photo
    from calibration.objects import ReferenceObject
    from calibration.printed_target import FoundTarget
    from calibration.sources import Graduations, Marks, Observation


def reference_entry(found: "FoundCard", source: str) -> ReferenceEntry:
    """Return a found or hand-marked reference as a record keeps it.

    Parameters
    ----------
    found : FoundCard
        Corners in px, side 0->1 along the object's width.
    source : str
        Who placed the corners: "found" or "by hand".

    Returns
    -------
    ReferenceEntry
        With the corners' covariance, (8, 8) in px², row by row.
    """
    corners = tuple((float(x), float(y)) for x, y in found.corners_px)
    return ReferenceEntry(
        kind=found.object.key,
        width_mm=found.object.width_mm,
        height_mm=found.object.height_mm,
        corners_px=corners,
        corners_cov_px2=tuple(float(value) for value in np.asarray(found.corners_cov_px2).ravel()),
        corner_std_px=float(found.corner_std_px),
        source=source,
        confidence=float(found.confidence),
        said=found.said,
        radii=found.radii,
    )


def photo_entry(
    photo: "Photo", photo_id: str, file: str, reference: ReferenceEntry | None, camera: "Camera"
) -> PhotoEntry:
    """Return a photo as a record keeps it, with the camera used, so that its numbers can be recomputed.

    Parameters
    ----------
    photo : Photo
        Gives the size in px and the hash of the file's bytes.
    photo_id : str
        Unique among the record's photos.
    file : str
        Path relative to the record.
    reference : ReferenceEntry or None
        The card or sheet that gives the scale; None where there is none yet.
    camera : Camera
        As used for the scale.

    Returns
    -------
    PhotoEntry
    """
    return PhotoEntry(photo_id, file, photo.sha256, photo.width_px, photo.height_px, reference, camera)


def object_of(reference: ReferenceEntry) -> "ReferenceObject":
    """Return the reference object of an entry; its own size overrules the one of its kind.

    Parameters
    ----------
    reference : ReferenceEntry
        A kind and the sides, mm.

    Returns
    -------
    ReferenceObject
        Of a known kind with sides swapped: the same, turned. Of no known kind: a rectangle of that size.

    Raises
    ------
    ObjectError
        Unknown kind or impossible size.
    """
    from calibration.errors import ObjectError
    from calibration.objects import object_from_key, rectangle

    try:
        known = object_from_key(reference.kind)
    except ObjectError:
        return rectangle(reference.width_mm, reference.height_mm, key=reference.kind)
    if {known.width_mm, known.height_mm} == {reference.width_mm, reference.height_mm}:
        swapped = known.width_mm != reference.width_mm
        return _turned(known) if swapped else known
    return dataclasses.replace(known, width_mm=reference.width_mm, height_mm=reference.height_mm)


def _turned(known: "ReferenceObject") -> "ReferenceObject":
    return dataclasses.replace(
        known,
        width_mm=known.height_mm,
        height_mm=known.width_mm,
        width_std_mm=known.height_std_mm,
        height_std_mm=known.width_std_mm,
    )


def found_of(reference: ReferenceEntry) -> "FoundCard":
    """Return a recorded card or sheet as the finder would.

    Parameters
    ----------
    reference : ReferenceEntry
        As a record keeps it.

    Returns
    -------
    FoundCard
        Its outline in px with its covariance.

    Raises
    ------
    RecordError
        It has no corners.
    ObjectError
        Unknown kind or impossible size.
    """
    from calibration.cards import FoundCard

    if reference.corners_px is None:
        raise RecordError("a reference without corners gives no scale; find or mark the card first")
    if reference.corners_cov_px2 is not None:
        cov = np.array(reference.corners_cov_px2).reshape(8, 8)
    else:
        cov = np.eye(8) * reference.corner_std_px**2
    return FoundCard(
        object_of(reference),
        np.array(reference.corners_px),
        cov,
        confidence=1.0 if reference.confidence is None else reference.confidence,
        accepted=True,
        source=reference.source,
        said=reference.said,
        radii=reference.radii,
    )


def source_entry(key: str, marks_px: tuple[Point, ...], nearer_px: Point | None = None) -> SourceEntry:
    """Return a source of scale as a record describes it, from its name and marks.

    Parameters
    ----------
    key : str
        As on the command line: ``us-quarter``, ``rule-mm``, ``length=120.5``, ``target``.
    marks_px : tuple of points
        Where it is.
    nearer_px : point, optional
        A point on the side nearer to the camera.

    Returns
    -------
    SourceEntry
        Without what the photo shows there; the printed target keeps no marks.

    Raises
    ------
    ObjectError
        No such source.
    """
    from calibration.sources import source_from_key

    source = source_from_key(key)
    if source.kind == "target":
        marks_px, nearer_px = (), None
    return SourceEntry(
        source.kind,
        source.key,
        marks_px,
        nearer_px=nearer_px,
        length_mm=source.length_mm,
        length_std_mm=source.length_std_mm,
    )


def source_key(source: SourceEntry) -> str:
    """Return the name by which `calibration.sources.source` knows a source that isn't a known length."""
    return "target" if source.kind == "target" else str(source.object)


def marks_of(source: SourceEntry) -> "Marks":
    """Return what the user marked for a source of scale.

    Raises
    ------
    ObjectError
        Printed lengths that are not those of the check rules.
    """
    from calibration.printed_target import print_scale
    from calibration.sources import Marks

    return Marks(
        np.array(source.marks_px, dtype=float) if source.marks_px else None,
        None if source.nearer_px is None else np.array(source.nearer_px, dtype=float),
        print_scale(*source.printed_mm) if source.printed_mm else None,
        source.tilt_std_deg,
        source.mark_std_px,
    )


def seen_entry(seen: "Observation") -> SeenEntry | None:
    """Return what a photo's pixels showed as a record keeps it.

    Parameters
    ----------
    seen : Rim, Graduations, FoundTarget or None
        As `calibration.sources.observe` returns it.

    Returns
    -------
    SeenEntry or None
        Points in px with their standard uncertainty; None for nothing seen.
    """
    return None if seen is None else _KEPT[type(seen).__name__](seen)


def observation_of(source: SourceEntry) -> "Observation":
    """Return what a record keeps of a photo's pixels as `calibration.sources.source` takes it.

    Raises
    ------
    RecordError
        It doesn't belong to this kind of source.
    """
    seen = source.seen
    if seen is None or source.kind in ("length", "feature"):
        return None
    if (source.kind == "coin") != (seen.ellipse_px is not None):
        raise RecordError(f"sources: seen: not what a {source.kind} shows; leave it out and keep the photo")
    return _SEEN[source.kind](source, seen)


def _rim_entry(rim: "Rim") -> SeenEntry:
    ellipse = rim.ellipse
    numbers = (*ellipse.centre_px, *ellipse.semi_axes_px, ellipse.angle_rad)
    return SeenEntry(ellipse_px=tuple(float(value) for value in numbers), std_px=float(rim.std_px))


def _graduations_entry(seen: "Graduations") -> SeenEntry:
    return SeenEntry(_points(seen.points_px), _counts(seen.numbers), std_px=float(seen.std_px))


def _target_entry(found: "FoundTarget") -> SeenEntry:
    return SeenEntry(_points(found.corners_px), _counts(found.corner_ids), std_px=float(found.corner_std_px))


def _rim(source: SourceEntry, seen: SeenEntry) -> "Observation":
    from calibration.edges import Ellipse, Rim
    from calibration.sources import PLACES

    assert seen.ellipse_px is not None
    x, y, a, b, turn = seen.ellipse_px
    ellipse = Ellipse((x, y), (a, b), turn)
    points, normals = ellipse.at(np.arange(PLACES) * 2.0 * np.pi / PLACES)
    return Rim(ellipse, points, normals, seen.std_px, 0.0, 1.0)


def _graduations(source: SourceEntry, seen: SeenEntry) -> "Observation":
    from calibration.sources import Graduations

    points, numbers = np.array(seen.points_px), np.array(seen.numbers, dtype=np.int64)
    if len(numbers) < 3 or numbers[0] != 0 or np.any(np.diff(numbers) <= 0):
        raise RecordError("sources: seen: numbers: expected graduations counted up from 0")
    return Graduations(numbers, points, seen.std_px)


def _target(source: SourceEntry, seen: SeenEntry) -> "Observation":
    from calibration.printed_target import TARGET, PrintScale, target_of_corners

    ids = np.array(seen.numbers, dtype=np.int64)
    if len(ids) < 4 or int(ids.max()) >= TARGET.corner_count:
        raise RecordError("sources: seen: numbers: expected at least four of the printed target's corners")
    return target_of_corners(
        ids, np.array(seen.points_px), seen.std_px, marks_of(source).print_scale or PrintScale()
    )


# By the names of what was seen, so that nothing of it is imported before it is used; and back, by the kind.
_KEPT: dict[str, Callable[[Any], SeenEntry]] = {
    "Rim": _rim_entry,
    "Graduations": _graduations_entry,
    "FoundTarget": _target_entry,
}
_SEEN: dict[str, Callable[[SourceEntry, SeenEntry], "Observation"]] = {
    "coin": _rim,
    "rule": _graduations,
    "target": _target,
}


def _points(points: Any) -> tuple[Point, ...]:
    return tuple((float(x), float(y)) for x, y in np.asarray(points))


def _counts(numbers: Any) -> tuple[int, ...]:
    return tuple(int(number) for number in numbers)
