"""Examining a photo: where its card is and how well it can be measured, in plain words."""

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from calibration.cautions import CautionCode
from calibration.errors import CalibrationError
from measure.desk.view import expected, thing_name
from measure.record import PhotoEntry, Point, ReferenceEntry, SourceEntry
from measure.wording import Audience, all_worded, reason_worded

if TYPE_CHECKING:
    from calibration.camera import Camera
    from calibration.cautions import Caution
    from calibration.image import Photo
    from calibration.plane import Plane
    from measure.kinds import Scale

# Releases of toys differ by millimetres; ± 1 mm tells nearly all of them apart, ± 3 mm few.
_GOOD_U_MM = 1.0
_FAIR_U_MM = 3.0


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
    """

    reference: ReferenceEntry | None = None
    camera: "Camera | None" = None
    cautions: tuple[str, ...] = ()
    reason: str | None = None
    suggested_px: tuple[Point, ...] | None = None
    sources: tuple[SourceEntry, ...] = ()
    profile: str | None = None


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
    from calibration.locate import locate
    from calibration.printed_target import FoundTarget
    from measure.scale import camera_for, reference_entry, seen_entry

    camera, profile = camera_for(shot, photo, search=True)
    # The page asks what an outline is before it measures by it.
    location = locate(photo, object_key=object_key, camera=camera, only_one=True, even_if_open=True)
    found = location.found
    if found is None or location.plane is None:
        corners = None if found is None else tuple((float(x), float(y)) for x, y in found.corners_px)
        reason = reason_worded(location.reason, Audience.PAGE)
        return Examination(None, camera, _for_the_page(location.cautions), reason, corners, profile=profile)
    if isinstance(location.seen, FoundTarget):
        target = SourceEntry("target", seen=seen_entry(location.seen))
        return Examination(None, camera, (), sources=(target,), profile=profile)
    cautions = _for_the_page(location.cautions)
    return Examination(reference_entry(found, "found"), camera, cautions, profile=profile)


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


def grade(seen: Examination | None, scale: "Scale | None", photo: "Photo | None") -> dict[str, Any] | None:
    """Return a plain verdict on the photo.

    Parameters
    ----------
    seen : Examination or None
        What was seen of an outline; None before it was looked for.
    scale : Scale or None
        What it is measured by.
    photo : Photo or None
        The photo; None until it is open.

    Returns
    -------
    dict or None
        Its mark ("good", "fair", "poor" or "none"), a headline, and lines that say what would make it better.
        None while nothing is known.
    """
    cautions = cautions_on(seen, scale, photo)
    if scale is None:
        if seen is None:
            return None
        reason = [seen.reason] if seen.reason else []
        return {"mark": "none", "headline": "No card to measure by yet", "lines": [*reason, *cautions]}
    found = expected(scale)
    if found is None or found[1] > _FAIR_U_MM:
        mark, headline = "poor", "This photo gives only rough lengths"
    elif photo is not None and photo.cautions:
        mark, headline = "fair", "This photo's file is damaged"
    elif found[1] > _GOOD_U_MM or cautions:
        mark, headline = "fair", "This photo will do; a better one would be more exact"
    else:
        mark, headline = "good", "This photo is good to measure on"
    lines = list(cautions)
    if found is not None:
        lines.insert(
            0,
            f"A length of {found[0]:.0f} mm beside the {thing_name(scale)}"
            f" comes out to about ± {found[1]:.2g} mm.",
        )
    if mark == "poor":
        lines.append(
            "Take it again from straight above and closer, with the card beside the middle of the part."
        )
    return {"mark": mark, "headline": headline, "lines": lines}


def cautions_on(seen: Examination | None, scale: "Scale | None", photo: "Photo | None") -> tuple[str, ...]:
    """Return what to tell of a photo, in the page's words.

    Parameters
    ----------
    seen : Examination or None
        What was seen of an outline.
    scale : Scale or None
        What it is measured by.
    photo : Photo or None
        The photo; None until it is open.

    Returns
    -------
    tuple of str
        Of its file, of the outline, of the scale; each once.
    """
    of_file = all_worded(photo.cautions, Audience.PAGE) if photo is not None else ()
    of_outline = seen.cautions if seen is not None else ()
    of_scale = all_worded(scale.cautions, Audience.PAGE) if scale is not None else ()
    return tuple(dict.fromkeys((*of_file, *of_outline, *of_scale)))
