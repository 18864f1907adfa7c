"""Examining a photo: where its card is and how well it can be measured, in plain words."""

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from calibration.cautions import CautionCode
from calibration.errors import CalibrationError
from measure.desk.state import Examination
from measure.record import PhotoEntry, Point, SourceEntry
from measure.wording import Audience, all_worded, reason_worded

if TYPE_CHECKING:
    from calibration.cautions import Caution
    from calibration.image import Photo
    from calibration.plane import Plane


def examine(photo: "Photo", shot: PhotoEntry, object_key: str | None) -> Examination:
    """Search for the card, or the printed target.

    Parameters
    ----------
    photo : Photo
        To look at.
    shot : PhotoEntry
        Its camera, where one is recorded, is kept.
    object_key : str or None
        Kind to look for; None for all known ones.
    """
    from calibration.cards import same_outline
    from calibration.locate import locate
    from calibration.printed_target import FoundTarget
    from measure.scale import camera_for, found_of, reference_entry, seen_entry

    camera, profile = camera_for(shot, photo, search=True)
    # The page asks what an outline is before it measures by it.
    location = locate(photo, object_key=object_key, camera=camera, even_if_open=True)
    found = location.found
    if found is None or location.plane is None:
        corners = None if found is None else tuple((float(x), float(y)) for x, y in found.corners_px)
        reason = reason_worded(location.reason, Audience.PAGE)
        return Examination(None, camera, _for_the_page(location.cautions), reason, corners, profile=profile)
    if isinstance(location.seen, FoundTarget):
        target = SourceEntry("target", seen=seen_entry(location.seen))
        return Examination(None, camera, (), sources=(target,), profile=profile)
    cautions = _for_the_page(location.cautions)
    named = [found_of(one) for one in shot.also if one.source != "found"]
    also = tuple(
        reference_entry(card, "found")
        for card in location.others
        if not any(same_outline(card, one) for one in named)
    )
    return Examination(reference_entry(found, "found"), camera, cautions, profile=profile, also=also)


def fitted(
    photo: "Photo", shot: PhotoEntry, corners_px: tuple[Point, ...], object_key: str, *, said: bool = True
) -> Examination:
    """Take corners by hand and pull them onto the card's edges where these are seen.

    `said` is whether the user chose the kind.
    """
    from calibration.locate import locate
    from measure.scale import camera_for, reference_entry

    known, profile = camera_for(shot, photo, search=True)
    location = locate(photo, object_key=object_key, corners_px=corners_px, camera=known)
    assert location.found is not None
    entry = replace(reference_entry(location.found, "by hand"), confidence=None, said=said)
    cautions = _for_the_page(location.cautions)
    return Examination(entry, known, cautions, profile=profile)


def appraised(photo: "Photo", shot: PhotoEntry, plane: "Plane") -> Examination:
    """Judge an outline that was set by hand or read from a record."""
    from calibration.cards import outline_cautions, refine_corners
    from measure.scale import object_of

    reference = shot.reference
    assert reference is not None
    assert reference.corners_px is not None
    corners = np.array(reference.corners_px)
    try:
        card = refine_corners(photo, corners, object_of(reference), camera=plane.camera)
    except CalibrationError as error:
        return Examination(reference, None, (str(error), *all_worded(plane.cautions, Audience.PAGE)))
    cautions = (*outline_cautions(photo, card), *plane.cautions)
    return Examination(reference, None, all_worded(cautions, Audience.PAGE))


def _for_the_page(cautions: "tuple[Caution, ...]") -> tuple[str, ...]:
    """Word what was seen, without what the scale itself tells: what else the outline may be."""
    return all_worded([one for one in cautions if one.code != CautionCode.IDENTITY], Audience.PAGE)
