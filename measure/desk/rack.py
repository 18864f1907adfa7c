"""The photos of the specimen on the desk: opened, looked at for a card, and kept by the id of the record."""

import threading
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any, Protocol

from calibration.errors import CalibrationError, PhotoError
from calibration.objects import object_from_key
from measure.desk import actions, folders, looks
from measure.desk.actions import Ask, AskError
from measure.desk.looks import Look
from measure.desk.notices import Notices
from measure.desk.pictures import Darkroom, Picture, give_back, quick_look
from measure.specimen import PhotoEntry, Specimen

if TYPE_CHECKING:
    from calibration.photo import Photo
    from calibration.plane import Plane


class Desk(Protocol):
    """What the rack needs of the session that owns it."""

    lock: threading.RLock
    record: Path | None
    notices: Notices

    @property
    def specimen(self) -> Specimen:
        """The present state."""

    def commit(self, after: Specimen, title: str) -> None:
        """Make a new state."""

    def learn(self, change: Callable[[Specimen], Specimen]) -> None:
        """Change all states alike."""

    def refresh(self) -> None:
        """Measure again what could not be measured before."""

    def tell(self) -> None:
        """Tell the page."""

    def need_record(self, photo: Path | None = None) -> Path:
        """Return where the record lies."""

    def plane(self, shot: PhotoEntry) -> "Plane | None":
        """Return the plane of a photo's card."""


class Rack:
    """Photos by the record's ids.

    Parameters
    ----------
    desk : Desk
        The session.
    """

    def __init__(self, desk: Desk) -> None:
        self._desk = desk
        self._darkroom = Darkroom(self._changed)
        self._pending: dict[Path, Picture] = {}
        self._looks: dict[str, Look] = {}
        self._looking: set[str] = set()

    # ---- asked by others ----

    def picture(self, shot: PhotoEntry) -> Picture | None:
        """Return the picture of a photo of the record."""
        record = self._desk.record
        return None if record is None else self._darkroom.picture(folders.resolve(shot.file, record))

    def photo(self, photo_id: str) -> "Photo | None":
        """Return a photo's pixels, or None while they are not there."""
        for shot in self._desk.specimen.photos:
            if shot.id == photo_id:
                picture = self.picture(shot)
                return picture.photo if picture else None
        return None

    def by_handle(self, handle: str) -> Picture | None:
        """Return the picture that goes by this handle now."""
        return self._darkroom.by_handle(handle)

    def look_at(self, photo_id: str) -> Look | None:
        """Return what the last look at a photo brought."""
        return self._looks.get(photo_id)

    def looking(self, photo_id: str) -> bool:
        """Whether the card is being looked for."""
        return photo_id in self._looking

    def opening(self) -> list[str]:
        """Return the names of the photos that are being opened."""
        return [path.name for path in self._pending]

    def expect_page(self, first_view_s: float) -> None:
        """Let a page show each photo's preview first, but wait no longer than this."""
        self._darkroom.first_view_s = first_view_s

    def close(self) -> None:
        """Stop all work."""
        self._darkroom.close()

    # ---- opening ----

    def open_all(self) -> None:
        """Open every photo of the record."""
        for shot in self._desk.specimen.photos:
            self.picture(shot)

    def open_path(self, path: Path) -> None:
        """Open a photo by its path and add it to the record once its size is known."""
        with self._desk.lock:
            record = self._desk.need_record(path)
            if any(folders.resolve(one.file, record) == path for one in self._desk.specimen.photos):
                return
            self._pending[path] = self._darkroom.picture(path)
            if self._pending[path].width_px:
                self._add(self._pending[path])
        self._desk.tell()

    def take(self, name: str, data: bytes) -> dict[str, Any]:
        """Take in a photo's bytes: kept beside the record, then opened like any other.

        Raises
        ------
        PhotoError
            They are no photo.
        """
        if quick_look(data) is None:
            from calibration.photo import decode_photo

            decode_photo(data, folders.safe_name(name, "photo"))
            raise PhotoError(f"{name}: not a photo that can be read")
        record = self._desk.need_record()
        path = folders.put(record.parent, name, data, "photo.jpg")
        self.open_path(path)
        return {"name": path.name}

    def _add(self, picture: Picture) -> None:
        record = self._desk.need_record(picture.path)
        self._pending.pop(picture.path, None)
        shot_id = actions.new_id("photo-", {one.id for one in self._desk.specimen.photos})
        file = folders.relative(picture.path, record)
        entry = PhotoEntry(shot_id, file, picture.sha256, picture.width_px, picture.height_px)

        def add(state: Specimen) -> Specimen:
            name = state.name or picture.path.stem.replace("_", " ").replace("-", " ").capitalize()
            return actions.add_photo(replace(state, name=name), entry)

        self._desk.learn(add)
        if picture.stage == "ready":  # it was on the desk before
            self._developed(entry, picture)

    def _changed(self, picture: Picture) -> None:
        """Take up a picture's progress; called from the darkroom's threads."""
        with self._desk.lock:
            if picture.path in self._pending:
                if picture.stage == "failed":
                    self._pending.pop(picture.path)
                    self._desk.notices.add(picture.trouble or "The photo can't be opened.", wrong=True)
                elif picture.width_px:
                    self._add(picture)
            if picture.stage == "ready":
                for shot in self._desk.specimen.photos:
                    if self.picture(shot) is picture:
                        self._developed(shot, picture)
        self._desk.tell()

    def _developed(self, shot: PhotoEntry, picture: Picture) -> None:
        size = (picture.width_px, picture.height_px)
        if (shot.width_px, shot.height_px) != size and shot.reference is None:
            self._desk.learn(
                lambda state: _changed_photo(state, shot.id, width_px=size[0], height_px=size[1])
            )
        if shot.reference is None:
            self._search(shot.id, None, alone=True)
        else:
            self._darkroom.later(lambda: self._appraise(shot.id))
            self._desk.refresh()

    # ---- looking for the card ----

    def _search(self, photo_id: str, key: str | None, *, alone: bool) -> None:
        self._looking.add(photo_id)
        self._darkroom.later(lambda: self._search_now(photo_id, key, alone=alone))

    def _search_now(self, photo_id: str, key: str | None, *, alone: bool) -> None:
        """Look for the card; `alone` when the desk does so by itself, not at the user's wish."""
        photo = self.photo(photo_id)
        try:
            seen = Look(reason="The photo is not open.") if photo is None else looks.look(photo, key)
        except CalibrationError as error:
            seen = Look(reason=str(error))
        with self._desk.lock:
            self._looking.discard(photo_id)
            shot = next((one for one in self._desk.specimen.photos if one.id == photo_id), None)
            if shot is not None:
                self._take_up(shot, seen, key, alone=alone)
                self._rest(shot)
        self._desk.tell()

    def _take_up(self, shot: PhotoEntry, seen: Look, key: str | None, *, alone: bool) -> None:
        if alone and shot.reference is not None:
            return
        if seen.reference is None and shot.reference is not None and key is not None:
            self._refit(shot, key)
            return
        self._looks[shot.id] = seen
        if alone:
            self._desk.learn(lambda state: _with_look(state, shot.id, seen, only_if_none=True))
        elif seen.reference is not None:
            self._desk.commit(_with_look(self._desk.specimen, shot.id, seen), "card found again")
        else:
            self._desk.notices.add(seen.reason or "No card was found.", wrong=True)

    def _refit(self, shot: PhotoEntry, key: str) -> None:
        """Keep the outline and call it another kind, since none of that kind was found by itself."""
        photo = self.photo(shot.id)
        assert shot.reference is not None
        if photo is None or shot.reference.corners_px is None:
            return
        try:
            seen = looks.fitted(photo, shot.reference.corners_px, key)
        except CalibrationError as error:
            self._desk.notices.add(str(error), wrong=True)
            return
        self._looks[shot.id] = seen
        self._desk.commit(_with_look(self._desk.specimen, shot.id, seen), "kind of card")

    def _appraise(self, photo_id: str) -> None:
        photo = self.photo(photo_id)
        shot = next((one for one in self._desk.specimen.photos if one.id == photo_id), None)
        plane = None if shot is None else self._desk.plane(shot)
        if photo is None or shot is None or shot.reference is None or plane is None:
            return
        if shot.reference.corners_px is None:
            return
        seen = looks.appraised(photo, shot, plane)
        with self._desk.lock:
            self._looks[photo_id] = seen
            self._rest(shot)
        self._desk.tell()

    def appraise_later(self, photo_id: str) -> None:
        """Judge the outline anew, in the background."""
        self._darkroom.later(lambda: self._appraise(photo_id))

    def _rest(self, shot: PhotoEntry) -> None:
        picture = self.picture(shot)
        if picture is not None:
            picture.rest()
        give_back()

    # ---- the page's wishes ----

    def find(self, ask: Ask) -> dict[str, Any]:
        """Look for the card again."""
        shot = actions.photo_of(self._desk.specimen, ask)
        self._search(shot.id, None, alone=False)
        self._desk.tell()
        return {}

    def set_kind(self, ask: Ask) -> dict[str, Any]:
        """Take the card for another kind: look for one, else keep the outline."""
        shot = actions.photo_of(self._desk.specimen, ask)
        key = object_from_key(str(ask.get("kind", ""))).key
        self._search(shot.id, key, alone=False)
        self._desk.tell()
        return {}

    def fit(self, ask: Ask) -> dict[str, Any]:
        """Pull corners onto the card's edges where these are seen."""
        shot = actions.photo_of(self._desk.specimen, ask)
        photo = self.photo(shot.id)
        if photo is None:
            raise AskError("The photo is still being opened; try again in a moment.")
        if "corners_px" in ask:
            corners = actions.corners_of(shot, ask)
        elif shot.reference is not None and shot.reference.corners_px is not None:
            corners = tuple(shot.reference.corners_px)
        else:
            raise AskError("There is no outline yet: mark the four corners first.")
        key = str(ask.get("kind") or (shot.reference.kind if shot.reference else "id1"))
        seen = looks.fitted(photo, corners, key)
        self._looks[shot.id] = seen
        self._desk.commit(_with_look(self._desk.specimen, shot.id, seen), "card outline")
        return {"say": "Card outline set."}


def _changed_photo(state: Specimen, photo_id: str, **changes: Any) -> Specimen:
    photos = tuple(replace(one, **changes) if one.id == photo_id else one for one in state.photos)
    return replace(state, photos=photos)


def _with_look(state: Specimen, photo_id: str, seen: Look, *, only_if_none: bool = False) -> Specimen:
    photos = tuple(
        replace(one, reference=seen.reference, camera=seen.camera or one.camera)
        if one.id == photo_id and not (only_if_none and one.reference is not None)
        else one
        for one in state.photos
    )
    return replace(state, photos=photos)
