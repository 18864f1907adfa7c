"""Recomputing a record's numbers from its corners, clicks and stand-offs."""

from typing import TYPE_CHECKING

from measure.length import Length
from measure.record import BudgetEntry, PhotoEntry, ResultEntry
from measure.scale import camera_entry, camera_from_entry, object_of, photo_entry, reference_entry, scale_of

if TYPE_CHECKING:
    from calibration.image import Photo
    from calibration.plane import Plane

__all__ = [
    "camera_entry",
    "camera_from_entry",
    "length_of",
    "object_of",
    "photo_entry",
    "plane_of",
    "reference_entry",
    "result_entry",
]


def plane_of(entry: PhotoEntry, photo: "Photo | None" = None) -> "Plane":
    """Return the most likely plane of a photo; see `measure.scale.from_record.scale_of`."""
    return scale_of(entry, photo).plane


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

    What lengths of one photo share can't be seen from a budget alone, so differences of such lengths are less
    certain than those measured again; use `plane_of` where the photo's corners are recorded.
    """
    from measure.length import Contribution

    lines = result.budget or (BudgetEntry("stated", result.standard_uncertainty_mm),)
    parts = {
        f"{measurement_id}:{index}": Contribution(line.source, line.shared, line.u_mm)
        for index, line in enumerate(lines)
    }
    return Length(result.length_mm, parts, result.coverage_factor)
