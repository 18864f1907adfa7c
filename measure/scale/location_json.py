"""What a photo and its reference are, as the first fields of every command's JSON."""

from typing import TYPE_CHECKING, Any

from measure.scale.view_words import view_of

if TYPE_CHECKING:
    from calibration.cards import FoundCard
    from calibration.image import Photo
    from calibration.locate import Location


def location_json(photo: "Photo", location: "Location") -> dict[str, Any]:
    """Return the photo, the object found, its plane, the cautions and the reason for none, as JSON values.

    Parameters
    ----------
    photo : Photo
        The photo.
    location : Location
        What was found in it, or the reason for nothing.

    Returns
    -------
    dict
        Keys "photo", "object", "plane", "candidates", "cautions" and "reason"; object and plane are None
        without a scale. Candidates are all outlines that may be a reference, numbered from 1.
        Numbers have seven digits, and their units in their names; uncertainties are standard ones.
    """
    from measure.wording import Audience, all_worded, reason_worded

    return {
        "photo": {
            "name": photo.name,
            "width_px": photo.width_px,
            "height_px": photo.height_px,
            "focal_px": _rounded(location.camera.focal_px),
            "focal_relative_std": _rounded(location.camera.log_focal_std),
            "focal_source": location.camera.source,
            "sha256": photo.sha256,
        },
        "object": _found(location),
        "plane": _plane(location),
        "candidates": [_candidate(place, one) for place, one in enumerate(location.candidates, 1)],
        "cautions": list(all_worded(location.cautions, Audience.COMMAND)),
        "reason": reason_worded(location.reason, Audience.COMMAND),
    }


def _found(location: "Location") -> dict[str, Any] | None:
    found = location.found
    if found is None or location.plane is None:
        return None
    return {
        "kind": found.object.key,
        "name": found.object.name,
        "width_mm": found.object.width_mm,
        "height_mm": found.object.height_mm,
        "corners_px": [[_rounded(x), _rounded(y)] for x, y in found.corners_px.tolist()],
        "corner_std_px": _rounded(found.corner_std_px),
        "confidence": _rounded(found.confidence),
        "alternatives": [kind.key for kind in found.alternatives],
        "said": found.said,
        "rivals": _rivals(found),
    }


def _rivals(found: "FoundCard") -> list[dict[str, Any]]:
    return [
        {
            "kind": rival.kind.key,
            "name": rival.kind.name,
            "long_mm": rival.kind.long_mm,
            "short_mm": rival.kind.short_mm,
            "probability": _rounded(rival.probability),
            "scale_factor": _rounded(rival.scale_factor),
        }
        for rival in found.rivals
    ]


def _candidate(number: int, outline: "FoundCard") -> dict[str, Any]:
    return {
        "number": number,
        "kind": outline.object.key,
        "name": outline.object.name,
        "corners_px": [[_rounded(x), _rounded(y)] for x, y in outline.corners_px.tolist()],
        "confidence": _rounded(outline.confidence),
        "accepted": outline.accepted,
        "rivals": _rivals(outline),
    }


def _plane(location: "Location") -> dict[str, Any] | None:
    plane = location.plane
    if plane is None:
        return None
    view = view_of(plane, location.family)
    return {
        "tilt_deg": _rounded(plane.tilt_deg),
        "tilt_std_deg": _rounded(view.tilt_std_deg),
        "distance_mm": _rounded(plane.distance_mm),
        "distance_std_mm": _rounded(view.height_std_mm),
        "mm_per_px_at_object": _rounded(plane.mm_per_px_at_object),
        "mm_per_px_std": _rounded(view.mm_per_px_std),
        "focal_px_fitted": _rounded(plane.camera.focal_px),
    }


def _rounded(value: float) -> float:
    # Seven digits are beyond what any photo holds, and keep the output readable.
    return float(f"{float(value):.7g}")
