"""What the page may ask for: each action turns one state of the specimen into the next."""

from collections.abc import Callable, Mapping
from dataclasses import replace
from typing import Any

from calibration.objects import object_from_key
from measure.desk.changes.kinds import offer
from measure.errors import MeasureError
from measure.record import (
    KINDS,
    STATES,
    MeasurementEntry,
    ObservationEntry,
    PhotoEntry,
    Point,
    ReferenceEntry,
    Specimen,
)
from references.limits import LARGEST_COUNT, number_of

Ask = Mapping[str, Any]
MAX_POINTS = 64
_MAX_TEXT = 4000
_MAX_STANDOFF_MM = 5000.0
# Corners set by eye on a screen with a loupe.
HAND_STD_PX = 1.0


class AskError(MeasureError):
    """The page asked for something that can't be done; the message is for its user."""


def add_photo(specimen: Specimen, entry: PhotoEntry) -> Specimen:
    """Append a photo."""
    return replace(specimen, photos=(*specimen.photos, entry))


def new_id(prefix: str, taken: set[str]) -> str:
    """Return the first of prefix1, prefix2, … that is free."""
    return next(name for number in range(1, 10**6) if (name := f"{prefix}{number}") not in taken)


def _text(ask: Ask, key: str) -> str:
    value = ask.get(key)
    if value is None:
        return ""
    if not isinstance(value, str):
        raise AskError(f"{key}: expected text")
    return value.strip()[:_MAX_TEXT]


def _number(value: Any, key: str, low: float, high: float) -> float:
    number = number_of(value)
    if number is None:
        raise AskError(f"{key}: expected a number")
    if not low <= number <= high:
        raise AskError(f"{key}: {number:g} is not between {low:g} and {high:g}")
    return number


def points(
    value: Any, photo: PhotoEntry, *, most: int = MAX_POINTS, margin: float = 0.0
) -> tuple[Point, ...]:
    """Check points from the page: finite, and on the photo or within `margin` of its size beside it.

    Raises
    ------
    AskError
        Anything else.
    """
    if not isinstance(value, list) or len(value) > most:
        raise AskError(f"points: expected a list of at most {most}")
    checked = []
    for point in value:
        if not isinstance(point, list) or len(point) != 2:
            raise AskError("points: each is a pair of numbers")
        x_px = _number(point[0], "x", -0.5 - margin * photo.width_px, (1 + margin) * photo.width_px - 0.5)
        y_px = _number(point[1], "y", -0.5 - margin * photo.height_px, (1 + margin) * photo.height_px - 0.5)
        checked.append((x_px, y_px))
    return tuple(checked)


def photo_of(specimen: Specimen, ask: Ask) -> PhotoEntry:
    """Return the photo that the page names."""
    try:
        return specimen.photo(str(ask.get("photo")))
    except KeyError as error:
        raise AskError("This photo is no longer on the desk.") from error


def measurement_of(specimen: Specimen, ask: Ask) -> MeasurementEntry:
    """Return the measurement that the page names."""
    for entry in specimen.measurements:
        if entry.id == ask.get("id"):
            return entry
    raise AskError("This measurement is no longer on the desk.")


def with_measurement(entry: MeasurementEntry, specimen: Specimen, ask: Ask) -> MeasurementEntry:
    """Return the measurement with the fields that the page sends."""
    changes: dict[str, Any] = {}
    if "clicks_px" in ask:
        photo = photo_of(specimen, {"photo": entry.photo})
        changes["clicks_px"] = points(ask["clicks_px"], photo)
    if "name" in ask:
        changes["name"] = _text(ask, "name") or entry.name
    if "snap" in ask:
        changes["snap"] = bool(ask["snap"])
    if "standoff_mm" in ask:
        given = ask["standoff_mm"] if isinstance(ask["standoff_mm"], list) else [ask["standoff_mm"]]
        changes["standoff_mm"] = tuple(
            _number(one, "height above the card", -_MAX_STANDOFF_MM, _MAX_STANDOFF_MM)
            for one in given[:MAX_POINTS]
        ) or (0.0,)
    if "lean_std_mm" in ask:
        lean = ask["lean_std_mm"]
        changes["lean_std_mm"] = None if lean is None else _number(lean, "how far it may lean", 1e-3, 1000.0)
    if "standoff_std_mm" in ask:
        changes["standoff_std_mm"] = _number(ask["standoff_std_mm"], "its uncertainty", 0.0, _MAX_STANDOFF_MM)
    if changes.keys() - {"name"}:
        # Results of the old inputs must not outlive them.
        changes.update(result=None, used_px=(), click_std_px=())
    return replace(entry, **changes) if changes else entry


def _next_name(specimen: Specimen, kind: str) -> str:
    noun = offer(kind).noun.capitalize()
    taken = {one.name for one in specimen.measurements}
    return noun if noun not in taken else new_id(f"{noun} ", taken | {f"{noun} 1"})


def drafted(specimen: Specimen, ask: Ask) -> MeasurementEntry:
    """Return a new measurement as the page describes it."""
    kind = ask.get("kind", "span")
    if kind not in KINDS:
        raise AskError(f"kind: expected one of {', '.join(KINDS)}")
    photo = photo_of(specimen, ask)
    part, feature = (_text(ask, key) or None for key in ("part", "feature"))
    entry = MeasurementEntry(
        id=new_id("m", {one.id for one in specimen.measurements}),
        kind=kind,
        photo=photo.id,
        part=part,
        feature=feature,
        name=_text(ask, "name") or _next_name(specimen, kind),
        extra=_pair(specimen, ask) if isinstance(ask.get("of"), list) else {},
    )
    return with_measurement(entry, specimen, {k: v for k, v in ask.items() if k != "name"})


def _pair(specimen: Specimen, ask: Ask) -> dict[str, Any]:
    """Return the two lengths of a difference, and whether both share one error of height."""
    of = list(map(str, ask["of"]))[:2]
    heights = {
        (one.photo, one.standoff_mm, one.standoff_std_mm) for one in specimen.measurements if one.id in of
    }
    return {"of": of, "same_standoff": ask.get("same_standoff") is True and len(heights) == 1}


def _add(specimen: Specimen, ask: Ask) -> Specimen:
    return replace(specimen, measurements=(*specimen.measurements, drafted(specimen, ask)))


def _change(specimen: Specimen, ask: Ask) -> Specimen:
    old = measurement_of(specimen, ask)
    new = with_measurement(old, specimen, ask)
    return replace(specimen, measurements=tuple(new if one is old else one for one in specimen.measurements))


def _delete(specimen: Specimen, ask: Ask) -> Specimen:
    old = measurement_of(specimen, ask)
    return replace(specimen, measurements=tuple(one for one in specimen.measurements if one is not old))


def with_photo(specimen: Specimen, photo: PhotoEntry) -> Specimen:
    """Return the specimen with the photo of this id replaced."""
    photos = tuple(photo if one.id == photo.id else one for one in specimen.photos)
    return replace(specimen, photos=photos)


def with_reference(specimen: Specimen, photo_id: str, reference: ReferenceEntry | None) -> Specimen:
    """Return the specimen with a photo's reference object replaced; without that photo, as it is."""
    photos = tuple(
        replace(one, reference=reference) if one.id == photo_id else one for one in specimen.photos
    )
    return replace(specimen, photos=photos)


def corners_of(photo: PhotoEntry, ask: Ask) -> tuple[Point, ...]:
    """Return the four corners that the page sends; they may lie a little outside the photo."""
    corners = points(ask.get("corners_px"), photo, most=4, margin=0.5)
    if len(corners) != 4:
        raise AskError("A card has four corners: mark all four, going around it.")
    return corners


def by_hand(photo: PhotoEntry, ask: Ask) -> ReferenceEntry:
    """Return the reference object with corners given by hand, its size as it was."""
    corners = corners_of(photo, ask)
    if photo.reference is not None:
        return replace(
            photo.reference,
            corners_px=corners,
            corners_cov_px2=None,
            corner_std_px=HAND_STD_PX,
            source="by hand",
            confidence=None,
        )
    key = _text(ask, "kind")
    known = object_from_key(key or "id1")
    sides = (known.width_mm, known.height_mm)
    return ReferenceEntry(known.key, *sides, corners, None, HAND_STD_PX, "by hand", None, said=bool(key))


def _corners(specimen: Specimen, ask: Ask) -> Specimen:
    photo = photo_of(specimen, ask)
    return with_reference(specimen, photo.id, by_hand(photo, ask))


def _turn_card(specimen: Specimen, ask: Ask) -> Specimen:
    photo = photo_of(specimen, ask)
    old = photo.reference
    if old is None or old.corners_px is None:
        raise AskError("There is no card outline to rotate yet.")
    corners = (*old.corners_px[1:], old.corners_px[0])
    cov = old.corners_cov_px2
    if cov is not None:
        place = [(2 + index) % 8 for index in range(8)]
        cov = tuple(cov[8 * row + column] for row in place for column in place)
    turned = replace(old, corners_px=corners, corners_cov_px2=cov, source="by hand", confidence=None)
    return with_reference(specimen, photo.id, turned)


def _what_it_is(specimen: Specimen, ask: Ask) -> Specimen:
    """Take up what the user says the outline is: what it was taken for, or another size of the same shape."""
    photo = photo_of(specimen, ask)
    old = photo.reference
    if old is None or old.corners_px is None:
        raise AskError("There is no outline yet: mark the card first.")
    key = _text(ask, "kind")
    if not key:
        raise AskError("kind: expected what the outline is")
    said = replace(old, said=True)
    if key != old.kind:
        known = object_from_key(key)
        sides = sorted((known.width_mm, known.height_mm), reverse=old.width_mm > old.height_mm)
        said = replace(said, kind=known.key, width_mm=sides[0], height_mm=sides[1])
    return with_reference(specimen, photo.id, said)


def _remove_photo(specimen: Specimen, ask: Ask) -> Specimen:
    photo = photo_of(specimen, ask)
    return replace(
        specimen,
        photos=tuple(one for one in specimen.photos if one is not photo),
        measurements=tuple(one for one in specimen.measurements if one.photo != photo.id),
    )


def _observe(specimen: Specimen, ask: Ask) -> Specimen:
    part, feature = _text(ask, "part"), _text(ask, "feature") or None
    state, value = ask.get("state", "seen"), ask.get("value")
    if not part or state not in (*STATES, "clear"):
        raise AskError(f"note: expected a part and one of {', '.join(STATES)}")
    if value is not None and (isinstance(value, bool) or not isinstance(value, int | str)):
        raise AskError("note: expected a whole number or one of the listed words")
    if isinstance(value, int) and not 0 <= value <= LARGEST_COUNT:
        raise AskError(f"note: a count is a whole number from 0 to {LARGEST_COUNT}")
    others = tuple(one for one in specimen.observations if (one.part, one.feature) != (part, feature))
    if state == "clear" or (state == "seen" and value is None):
        return replace(specimen, observations=others)
    noted = ObservationEntry(part, feature, value if state == "seen" else None, str(state))
    return replace(specimen, observations=(*others, noted))


def _name(specimen: Specimen, ask: Ask) -> Specimen:
    return replace(
        specimen,
        name=(_text(ask, "name") or specimen.name) if "name" in ask else specimen.name,
        note=_text(ask, "note") if "note" in ask else specimen.note,
    )


ACTIONS: dict[str, tuple[str, Callable[[Specimen, Ask], Specimen]]] = {
    "add": ("new measurement", _add),
    "change": ("change of a measurement", _change),
    "delete": ("deleted measurement", _delete),
    "corners": ("card outline", _corners),
    "turn card": ("turned card", _turn_card),
    "what it is": ("what the outline is", _what_it_is),
    "remove photo": ("removed photo", _remove_photo),
    "observe": ("note", _observe),
    "name": ("name", _name),
}
