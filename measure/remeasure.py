"""Redoing a record's numbers from what it holds: corners, clicks and stand-offs."""

import dataclasses
from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

import numpy as np

from measure.errors import RecordError
from measure.length import Length
from measure.specimen import BudgetEntry, PhotoEntry, ReferenceEntry, ResultEntry

if TYPE_CHECKING:
    from calibration.camera import Camera
    from calibration.objects import ReferenceObject
    from calibration.photo import Photo
    from calibration.plane import Plane
    from calibration.quads import FoundCard


def reference_entry(found: "FoundCard", source: str) -> ReferenceEntry:
    """Return a found or hand-marked reference as a record keeps it."""
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
    )


def photo_entry(
    photo: "Photo", photo_id: str, file: str, reference: ReferenceEntry | None, camera: "Camera"
) -> PhotoEntry:
    """Return a photo as a record keeps it, with the camera used, so that its numbers can be redone."""
    return PhotoEntry(
        photo_id, file, photo.sha256, photo.width_px, photo.height_px, reference, camera_entry(camera)
    )


def camera_entry(camera: "Camera") -> dict[str, Any]:
    """Return a camera's fields as JSON values."""
    return {
        field.name: list(value) if isinstance(value := getattr(camera, field.name), tuple) else value
        for field in dataclasses.fields(camera)
    }


def camera_from_entry(entry: Mapping[str, Any], where: str) -> "Camera":
    """Return the camera that a record holds.

    Raises
    ------
    RecordError
        A field is missing, unknown or not as expected.
    """
    from calibration.camera import Camera

    values: dict[str, Any] = {
        key: tuple(value) if isinstance(value, list) else value for key, value in entry.items()
    }
    try:
        return Camera(**values)
    except (TypeError, ValueError) as error:
        raise RecordError(
            f"{where}: not a camera ({error}); leave it null to use the photo's Exif"
        ) from error


def object_of(reference: ReferenceEntry) -> "ReferenceObject":
    """Return the reference object of an entry; its own size overrules the one of its kind.

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


def plane_of(entry: PhotoEntry, photo: "Photo | None" = None) -> "Plane":
    """Fit the plane of a photo from the corners that the record holds.

    Parameters
    ----------
    entry : PhotoEntry
        The record's entry.
    photo : Photo, optional
        The photo itself, needed where the record holds no camera.

    Raises
    ------
    RecordError
        The entry has no corners, or no camera and no photo.
    CalibrationError
        The corners describe no plane.
    """
    from calibration.camera import camera_from_photo
    from calibration.plane import fit_plane

    reference = entry.reference
    if reference is None or reference.corners_px is None:
        raise RecordError(
            f"photo {entry.id}: no reference with corners is recorded; find or mark the card first"
        )
    if entry.camera is not None:
        camera = camera_from_entry(entry.camera, f"photo {entry.id}: camera")
    elif photo is not None:
        camera = camera_from_photo(photo)
    else:
        raise RecordError(f"photo {entry.id}: no camera is recorded; keep {entry.file} beside the record")
    if reference.corners_cov_px2 is not None:
        cov = np.array(reference.corners_cov_px2).reshape(8, 8)
    else:
        cov = np.eye(8) * reference.corner_std_px**2
    return fit_plane(camera, object_of(reference), np.array(reference.corners_px), cov)


def result_entry(length: Length) -> ResultEntry:
    """Return a length as a record keeps it."""
    return ResultEntry(
        length_mm=length.value_mm,
        standard_uncertainty_mm=length.standard_uncertainty_mm,
        expanded_uncertainty_mm=length.expanded_uncertainty_mm,
        coverage_factor=length.coverage_factor,
        budget=tuple(BudgetEntry(line.source, line.u_mm, line.shared) for line in length.budget),
    )


def length_of(result: ResultEntry, measurement_id: str) -> Length:
    """Return a recorded result as a length, its budget lines as independent inputs of their own.

    What lengths of one photo share can't be told from a budget alone, so differences of such lengths are less
    certain than those measured anew; use `plane_of` where the photo's corners are recorded.
    """
    from measure.length import Contribution

    lines = result.budget or (BudgetEntry("stated", result.standard_uncertainty_mm),)
    parts = {
        f"{measurement_id}:{index}": Contribution(line.source, line.shared, line.u_mm)
        for index, line in enumerate(lines)
    }
    return Length(result.length_mm, parts, result.coverage_factor)
