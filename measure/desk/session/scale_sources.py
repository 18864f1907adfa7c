"""Other sources of scale that the page offers: coins, rules, known lengths, cards, cameras."""

from collections.abc import Mapping
from dataclasses import replace
from typing import TYPE_CHECKING, Any, Protocol

import numpy as np

from calibration.objects import object_from_key
from calibration.sources import COINS
from measure.desk.changes import Ask, AskError, actions
from measure.desk.photos import PhotoStore
from measure.desk.session.judgement import Judgement
from measure.desk.session.measures import Measures
from measure.desk.view import expected_words
from measure.errors import MeasureError
from measure.length import parse_length
from measure.record import PhotoEntry, Point, ReferenceEntry, SourceEntry, Specimen

if TYPE_CHECKING:
    from calibration.camera import Camera
    from calibration.image import Photo

COINS_JSON = [
    {"key": one.key, "name": one.name, "size": f"{one.diameter_mm:g} mm across"}
    for one in COINS.values()
    if one.round
]
RULES_JSON = [
    {"key": "rule-mm", "name": "millimetres"},
    {"key": "rule-cm", "name": "centimetres only"},
    {"key": "rule-in16", "name": "sixteenths of an inch"},
    {"key": "rule-in8", "name": "eighths of an inch"},
    {"key": "rule-in32", "name": "thirty-seconds of an inch"},
]


class Desk(Protocol):
    """What is needed of the session."""

    photo_store: PhotoStore
    judgement: Judgement
    measures: Measures

    @property
    def specimen(self) -> Specimen:
        """The present state."""

    def commit(self, after: Specimen, title: str) -> None:
        """Make a new state."""


class Sources:
    """Adds and removes what gives the scale.

    Parameters
    ----------
    desk : Desk
        The session.
    """

    def __init__(self, desk: Desk) -> None:
        self._desk = desk

    def add(self, ask: Ask) -> dict[str, Any]:
        """Add a coin, a rule, a known length, a feature or the printed target."""
        shot, photo = self._open(ask)
        source = self._described(ask.get("source"), actions.points(ask.get("marks_px", []), shot))
        return self._keep(replace(shot, sources=(*shot.sources, source)), photo, "what gives the scale")

    def prefer(self, ask: Ask) -> dict[str, Any]:
        """Measure heights from another of the sources."""
        shot, photo = self._open(ask)
        at = _number_of(ask, len(shot.sources))
        sources = (shot.sources[at], *_without(shot.sources, at))
        return self._keep(replace(shot, sources=sources), photo, "what gives the scale")

    def nearer(self, ask: Ask) -> dict[str, Any]:
        """Note which side of a coin is nearer to the camera."""
        shot, photo = self._open(ask)
        at = _number_of(ask, len(shot.sources))
        (point,) = actions.points([ask.get("nearer_px")], shot)
        sources = _changed(shot.sources, at, replace(shot.sources[at], nearer_px=point))
        return self._keep(replace(shot, sources=sources), photo, "nearer side of a coin")

    def printed(self, ask: Ask) -> dict[str, Any]:
        """Record the measured lengths of the printed target's check rules."""
        shot, photo = self._open(ask)
        at = next((n for n, one in enumerate(shot.sources) if one.kind == "target"), None)
        lengths = _printed(ask.get("printed"))
        target = SourceEntry("target") if at is None else shot.sources[at]
        others = shot.sources if at is None else (*shot.sources[:at], *shot.sources[at + 1 :])
        sources = (replace(target, printed_mm=lengths), *others)
        return self._keep(replace(shot, sources=sources), photo, "printed target")

    def second_card(self, ask: Ask) -> dict[str, Any]:
        """Add a further card or sheet by its corners, moved onto its edges."""
        from calibration.cards import refine_corners
        from measure.scale import camera_for, reference_entry

        shot, photo = self._open(ask)
        kind = object_from_key(str(ask.get("kind") or "id1"))
        camera, _ = camera_for(shot, photo, search=True)
        card = refine_corners(photo, actions.corners_of(shot, ask), kind, camera=camera)
        entry = replace(reference_entry(card, "by hand"), confidence=None, said=True)
        if shot.reference is None:
            return self._keep(replace(shot, reference=entry), photo, "card outline")
        return self._keep(replace(shot, also=(*shot.also, entry)), photo, "second card")

    def straight(self, ask: Ask) -> dict[str, Any]:
        """Add an edge that is straight in reality."""
        shot, photo = self._open(ask)
        line = actions.points(ask.get("points_px"), shot)
        if len(line) < 3:
            raise AskError("A straight edge needs three points: its ends and one between them.")
        kept = replace(shot, straight_px=(*shot.straight_px, line))
        return self._keep(kept, photo, "straight edge")

    def camera(self, ask: Ask) -> dict[str, Any]:
        """Use another camera profile, or none."""
        from measure.cameras import camera_of

        shot, photo = self._open(ask)
        name = ask.get("profile")
        if name is not None and not isinstance(name, str):
            raise AskError("profile: expected the name of a camera profile")
        camera, profile = camera_of(photo, name)
        kept = replace(shot, camera=camera, profile=profile)
        # An outline follows its edges as the lens bends them.
        if kept.reference is not None:
            kept = replace(kept, reference=_refitted(photo, kept.reference, camera))
        also = tuple(_refitted(photo, one, camera) for one in kept.also)
        return self._keep(replace(kept, also=also), photo, "camera")

    def remove(self, ask: Ask) -> dict[str, Any]:
        """Leave out one of the things that give the scale, or a straight edge."""
        shot = actions.photo_of(self._desk.specimen, ask)
        what = ask.get("what")
        if what == "card":
            # What was combined with the card now stands alone.
            kept = replace(shot, reference=shot.also[0] if shot.also else None, also=shot.also[1:])
        elif what == "also":
            kept = replace(shot, also=_without(shot.also, _number_of(ask, len(shot.also))))
        elif what == "source":
            kept = replace(shot, sources=_without(shot.sources, _number_of(ask, len(shot.sources))))
        elif what == "straight":
            at = _number_of(ask, len(shot.straight_px))
            kept = replace(shot, straight_px=_without(shot.straight_px, at))
        else:
            raise AskError("what: expected card, also, source or straight")
        self._desk.commit(actions.with_photo(self._desk.specimen, kept), "removal of what gave the scale")
        return {"say": "Left out. Undo brings it back."}

    # ---- inside ----

    def _open(self, ask: Ask) -> "tuple[PhotoEntry, Photo]":
        shot = actions.photo_of(self._desk.specimen, ask)
        photo = self._desk.photo_store.photo(shot.id)
        if photo is None:
            raise AskError("The photo is still being opened; try again in a moment.")
        return shot, photo

    def _keep(self, shot: PhotoEntry, photo: "Photo", title: str) -> dict[str, Any]:
        """Commit a photo's new state once the core can make a scale of it."""
        from measure.scale import looked_at

        seen = looked_at(shot, photo)
        if seen.has_scale:
            self._desk.measures.try_scale(seen)
        self._desk.commit(actions.with_photo(self._desk.specimen, seen), title)
        self._desk.photo_store.cards.appraise_later(shot.id)
        gives = self._desk.measures.scale(seen)
        words = None if gives is None else expected_words(gives)
        return {"say": f"Added. Now {words}." if words else "Added."}

    def _described(self, fields: Any, marks: tuple[Point, ...]) -> SourceEntry:
        if not isinstance(fields, Mapping):
            raise AskError("source: expected an object")
        kind, key = fields.get("kind"), str(fields.get("object", ""))
        if kind == "coin" and key in COINS and COINS[key].round:
            return SourceEntry("coin", key, marks)
        if kind == "rule" and any(one["key"] == key for one in RULES_JSON):
            return SourceEntry("rule", key, marks)
        if kind == "length":
            std_mm = _length(fields, "std") if str(fields.get("std") or "").strip() else None
            length_mm = _length(fields, "length")
            return SourceEntry("length", None, marks, length_mm=length_mm, length_std_mm=std_mm)
        if kind == "feature":
            return self._feature(str(fields.get("part", "")), str(fields.get("feature", "")), marks)
        if kind == "target":
            return SourceEntry("target")
        raise AskError("source: expected a coin, a rule, a known length, a feature or the target")

    def _feature(self, part: str, feature: str, marks: tuple[Point, ...]) -> SourceEntry:
        from measure.scale import common_length

        sheet = self._desk.judgement.sheet
        if sheet is None:
            raise AskError("Choose a release sheet under Measure, “Compare with”, first.")
        length_mm, std_mm = common_length(sheet, part, feature)
        return SourceEntry(
            "feature",
            marks_px=marks,
            length_mm=length_mm,
            length_std_mm=std_mm,
            sheet=self._desk.judgement.mark,
            part=part,
            feature=feature,
        )


def _refitted(photo: "Photo", reference: ReferenceEntry, camera: "Camera") -> ReferenceEntry:
    from calibration.cards import refine_corners
    from measure.scale import object_of, reference_entry

    if reference.corners_px is None:
        return reference
    card = refine_corners(photo, np.array(reference.corners_px), object_of(reference), camera=camera)
    fitted = reference_entry(card, reference.source)
    return replace(fitted, confidence=reference.confidence, said=reference.said, radii=reference.radii)


def camera_json(shot: PhotoEntry, photo: "Photo | None") -> dict[str, Any]:
    """Return where the lens data come from, and the camera profiles that fit this photo's size."""
    camera = shot.camera
    source = camera.get("source") if isinstance(camera, Mapping) else camera and camera.source
    return {
        "profile": shot.profile,
        "words": f"calibrated: {shot.profile}" if shot.profile else _camera_words(source),
        "profiles": [] if photo is None else _profiles(photo),
    }


def _camera_words(source: object) -> str:
    if source is None:
        return "not examined yet"
    if source == "assumed":
        return "unknown: a typical lens is assumed, with a wide uncertainty"
    return f"as the photo's file says ({source})"


def _profiles(photo: "Photo") -> list[str]:
    from measure.cameras import read_store, store_path

    try:
        known = read_store(store_path())
    except MeasureError:
        return []
    sides = sorted((photo.width_px, photo.height_px))
    return [name for name, one in known.items() if sorted((one.width_px, one.height_px)) == sides]


def _length(fields: Mapping[str, Any], key: str) -> float:
    return parse_length(str(fields.get(key) or ""))


def _printed(value: Any) -> tuple[float, ...] | None:
    """Return the printed lengths that the page sends as texts; None where both fields are empty."""
    if not isinstance(value, list) or len(value) != 2:
        raise AskError("printed: expected two lengths")
    texts = [str(one or "").strip() for one in value]
    if not texts[0] and not texts[1]:
        return None
    if not texts[0]:
        raise AskError("Enter the length of the rule across the sheet as well.")
    return tuple(parse_length(text) for text in texts if text)


def _number_of(ask: Ask, count: int) -> int:
    number = ask.get("number")
    if isinstance(number, bool) or not isinstance(number, int) or not 0 <= number < count:
        raise AskError("This is no longer on the desk.")
    return number


def _without(items: tuple[Any, ...], at: int) -> tuple[Any, ...]:
    return (*items[:at], *items[at + 1 :])


def _changed(items: tuple[Any, ...], at: int, one: Any) -> tuple[Any, ...]:
    return (*items[:at], one, *items[at + 1 :])
