"""Looking at a photo: where its card is, how good it is to measure on, and saying so in plain words."""

import re
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from calibration.errors import CalibrationError
from measure.errors import MeasureError
from measure.specimen import PhotoEntry, Point, ReferenceEntry

if TYPE_CHECKING:
    from calibration.photo import Photo
    from calibration.plane import Plane
    from calibration.quads import FoundCard

_YARDSTICK_MM = 100.0
# Releases of toys differ by millimetres; within 1 mm nearly all are told apart, beyond 3 mm few.
_GOOD_U_MM = 1.0
_FAIR_U_MM = 3.0


@dataclass(frozen=True, slots=True)
class Look:
    """What a look at a photo brought.

    Attributes
    ----------
    reference : ReferenceEntry or None
        The card, where it was found or set.
    camera : mapping or None
        The intrinsics that go with it.
    cautions : tuple of str
        What may spoil a measurement, and how to take the photo better.
    reason : str or None
        Why there is no card.
    suggested_px : tuple of points, or None
        A doubtful outline, for the user to confirm or correct.
    """

    reference: ReferenceEntry | None = None
    camera: dict[str, Any] | None = None
    cautions: tuple[str, ...] = ()
    reason: str | None = None
    suggested_px: tuple[Point, ...] | None = None


def look(photo: "Photo", object_key: str | None) -> Look:
    """Search for the card.

    Parameters
    ----------
    photo : Photo
        To look at.
    object_key : str or None
        Kind to look for; None for all known ones.
    """
    from calibration.locate import locate
    from measure.camera_store import camera_of
    from measure.remeasure import camera_entry, reference_entry

    known = camera_of(photo)
    location = locate(photo, object_key=object_key, camera=known)
    camera = camera_entry(known)
    found = location.found
    if found is None or location.plane is None:
        corners = None if found is None else tuple((float(x), float(y)) for x, y in found.corners_px)
        return Look(None, camera, location.cautions, _for_the_page(location.reason), corners)
    cautions = _worded(location.cautions, found)
    return Look(reference_entry(found, "found"), camera, cautions)


def fitted(photo: "Photo", corners_px: tuple[Point, ...], object_key: str) -> Look:
    """Take corners by hand and pull them onto the card's edges where these are seen."""
    from calibration.locate import locate
    from measure.camera_store import camera_of
    from measure.remeasure import camera_entry, reference_entry

    known = camera_of(photo)
    location = locate(photo, object_key=object_key, corners_px=corners_px, camera=known)
    assert location.found is not None
    entry = replace(reference_entry(location.found, "by hand"), confidence=None)
    return Look(entry, camera_entry(known), _worded(location.cautions, location.found))


def appraised(photo: "Photo", shot: PhotoEntry, plane: "Plane") -> Look:
    """Judge an outline that was set by hand or read from a record."""
    from calibration.quads_cautions import outline_cautions
    from calibration.quads_hand import refine_corners
    from measure.remeasure import object_of

    reference = shot.reference
    assert reference is not None
    assert reference.corners_px is not None
    corners = np.array(reference.corners_px)
    try:
        card = refine_corners(photo, corners, object_of(reference), camera=plane.camera)
    except CalibrationError as error:
        return Look(reference, None, (str(error), *plane.cautions))
    texts = (*outline_cautions(photo, card), *plane.cautions)
    return Look(reference, None, tuple(dict.fromkeys(texts)))


def _worded(cautions: tuple[str, ...], found: "FoundCard") -> tuple[str, ...]:
    """Put what is meant for the command line into the page's words."""
    texts = [text for text in cautions if "--object" not in text]
    if found.alternatives:
        others = " or a ".join(other.name for other in found.alternatives)
        texts.insert(
            0,
            f"Taken for a {found.object.name}; it could as well be a {others}. Choose which under Card.",
        )
    return tuple(texts)


def _for_the_page(reason: str | None) -> str | None:
    if reason is None:
        return None
    # Whoever reads this sees the outline itself.
    shown = re.sub(r" has its corners at [^a-z]*, but ", " is drawn under Card, but ", reason)
    return shown.replace("give its corners by hand", "mark its corners by hand")


def expected_u_mm(plane: "Plane") -> float | None:
    """Return the ± (95 %) that 100 mm beside the card would have on this photo, or None."""
    from measure.span import measure_span

    x_mm, y_mm = plane.centre_mm
    ends = [(x_mm - _YARDSTICK_MM / 2, y_mm), (x_mm + _YARDSTICK_MM / 2, y_mm)]
    try:
        return measure_span(plane, plane.to_px(ends)).expanded_uncertainty_mm
    except (CalibrationError, MeasureError):
        return None


def grade(found: Look | None, plane: "Plane | None") -> dict[str, Any] | None:
    """Return a plain verdict on the photo: mark, headline and what would make it better."""
    if found is None:
        return None
    if plane is None:
        reason = [found.reason] if found.reason else []
        return {"mark": "none", "headline": "No card to measure by yet", "lines": [*reason, *found.cautions]}
    u_mm = expected_u_mm(plane)
    if u_mm is None or u_mm > _FAIR_U_MM:
        mark, headline = "poor", "Only rough lengths can be had from this photo"
    elif u_mm > _GOOD_U_MM or found.cautions:
        mark, headline = "fair", "This photo will do; a better one would measure closer"
    else:
        mark, headline = "good", "This photo is good to measure on"
    lines = list(found.cautions)
    if u_mm is not None:
        lines.insert(0, f"A length of 100 mm beside the card comes out to about ± {u_mm:.2g} mm.")
    if mark == "poor":
        lines.append(
            "Take it again from straight above, closer, with the card beside the middle of the part."
        )
    return {"mark": mark, "headline": headline, "lines": lines}


def card_words(reference: ReferenceEntry, plane: "Plane | None") -> tuple[str, list[list[str]]]:
    """Return the headline and the facts of a card, each a name and a text."""
    from measure.remeasure import object_of

    name = object_of(reference).name
    facts = [["Size", f"{reference.width_mm:g} × {reference.height_mm:g} mm"]]
    if plane is not None:
        facts.append(["Seen from", _tilt_words(plane.tilt_deg)])
        facts.append(["Fineness", f"one pixel is {plane.mm_per_px_at_object:.3f} mm on the card"])
        facts.append(["Camera", f"about {plane.distance_mm / 10:.0f} cm above the card"])
    if reference.source != "found":
        facts.append(["Outline", "set by hand"])
        return f"{name[:1].upper()}{name[1:]}, outline set by hand", facts
    facts.append(["Sureness", _sure_words(reference.confidence)])
    return f"{name[:1].upper()}{name[1:]} found", facts


def _tilt_words(tilt_deg: float) -> str:
    if tilt_deg < 5.0:
        return f"straight above ({tilt_deg:.0f}°)"
    if tilt_deg < 20.0:
        return f"nearly straight above ({tilt_deg:.0f}° off)"
    return f"{'a slant' if tilt_deg < 45.0 else 'a steep slant'} ({tilt_deg:.0f}° off straight above)"


def _sure_words(confidence: float | None) -> str:
    if confidence is None:
        return "not stated"
    word = "practically certain" if confidence >= 0.98 else "likely: look whether it sits on the edges"
    return f"{word} ({100 * min(confidence, 0.999):.0f} in 100)"
