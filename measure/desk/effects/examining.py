"""Finding the card, moving outlines onto edges, and making sure that a photo's state gives a scale."""

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from calibration.errors import CalibrationError
from calibration.objects import object_from_key
from measure.desk.effects.instrument import Instrument
from measure.desk.messages import tasks, workers
from measure.desk.photos import inspection
from measure.desk.state import Examination
from measure.errors import MeasureError
from measure.record import PhotoEntry, ReferenceEntry

if TYPE_CHECKING:
    from calibration.camera import Camera
    from calibration.image import Photo


def searched(photo: "Photo | None", shot: PhotoEntry, key: str | None) -> Examination:
    """Look for the card, or say why there is none."""
    if photo is None:
        return Examination(reason="The photo is not open.")
    try:
        return inspection.examine(photo, shot, key)
    except (CalibrationError, MeasureError) as error:
        return Examination(reason=str(error))


def outline_fitted(task: tasks.FitOutline, photo: "Photo") -> object:
    """Move corners onto the card's edges."""
    try:
        seen = inspection.fitted(photo, task.shot, task.corners_px, task.kind, said=task.said)
    except CalibrationError as error:
        if not task.soft:
            raise
        return workers.NotFitted(str(error))
    return workers.Fitted(task.shot.id, seen, task.title)


def scale_made(shot: PhotoEntry, title: str, photo: "Photo", instrument: Instrument) -> workers.ScaleMade:
    """Look at what gives a photo's scale, and make sure that the core can make one of it."""
    from measure.scale import looked_at

    seen = looked_at(shot, photo)
    if seen.has_scale:
        instrument.scale(seen, photo)
    return workers.ScaleMade(seen, title)


def with_card(task: tasks.RefineCard, photo: "Photo") -> tuple[PhotoEntry, str]:
    """Return a photo's state with a further card moved onto its edges, and what the step is called."""
    from calibration.cards import refine_corners
    from measure.scale import camera_for, reference_entry

    shot = task.shot
    camera, _ = camera_for(shot, photo, search=True)
    card = refine_corners(photo, task.corners_px, object_from_key(task.kind), camera=camera)
    entry = replace(reference_entry(card, "by hand"), confidence=None, said=True)
    if shot.reference is None:
        return replace(shot, reference=entry), "card outline"
    return replace(shot, also=(*shot.also, entry)), "second card"


def with_camera(task: tasks.ChangeCamera, photo: "Photo") -> PhotoEntry:
    """Return a photo's state with another camera."""
    from measure.cameras import camera_of

    camera, profile = camera_of(photo, task.profile)
    kept = replace(task.shot, camera=camera, profile=profile)
    # An outline follows its edges as the lens bends them.
    if kept.reference is not None:
        kept = replace(kept, reference=_refitted(photo, kept.reference, camera))
    return replace(kept, also=tuple(_refitted(photo, one, camera) for one in kept.also))


def _refitted(photo: "Photo", reference: ReferenceEntry, camera: "Camera") -> ReferenceEntry:
    from calibration.cards import refine_corners
    from measure.scale import object_of, reference_entry

    if reference.corners_px is None:
        return reference
    card = refine_corners(photo, np.array(reference.corners_px), object_of(reference), camera=camera)
    fitted = reference_entry(card, reference.source)
    return replace(fitted, confidence=reference.confidence, said=reference.said, radii=reference.radii)
