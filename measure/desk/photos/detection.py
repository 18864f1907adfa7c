"""Finding what gives the scale: the card automatically, on request, and by corners set by hand."""

import threading
from collections.abc import Callable
from dataclasses import replace
from typing import TYPE_CHECKING, Any, Protocol

from calibration.errors import CalibrationError
from calibration.objects import object_from_key
from measure.desk.changes import Ask, AskError, Notices, actions
from measure.desk.photos import inspection
from measure.desk.photos.inspection import Examination
from measure.errors import MeasureError
from measure.record import PhotoEntry, Specimen

if TYPE_CHECKING:
    from calibration.image import Photo
    from measure.kinds import Scale


class Photos(Protocol):
    """Whoever holds the decoded photos."""

    def photo(self, photo_id: str) -> "Photo | None":
        """Return a photo's pixels, or None while they are not there."""

    def later(self, task: Callable[[], None]) -> None:
        """Do something in the background."""

    def rest(self, shot: PhotoEntry) -> None:
        """Release what was needed only for the search."""


class Desk(Protocol):
    """What is needed of the session."""

    lock: threading.RLock
    notices: Notices

    @property
    def specimen(self) -> Specimen:
        """The present state."""

    def commit(self, after: Specimen, title: str) -> None:
        """Make a new state."""

    def learn(self, change: Callable[[Specimen], Specimen]) -> None:
        """Change all states alike."""

    def tell(self) -> None:
        """Tell the page."""

    def scale(self, shot: PhotoEntry) -> "Scale | None":
        """Return what a photo is measured by."""


class CardSearch:
    """The results of searching the photos.

    Parameters
    ----------
    desk : Desk
        The session.
    photos : Photos
        Where the pixels are.
    """

    def __init__(self, desk: Desk, photos: Photos) -> None:
        self._desk = desk
        self._photos = photos
        self._examinations: dict[str, Examination] = {}
        self._searching: set[str] = set()
        self._turn = 0

    def forget(self) -> None:
        """Forget all examinations: in another record the same ids mean other photos."""
        self._examinations, self._searching = {}, set()
        self._turn += 1

    def examination_of(self, shot: PhotoEntry) -> Examination | None:
        """Return what still holds of the last search of this photo."""
        seen = self._examinations.get(shot.id)
        # A search result for a card no longer in use says nothing about the present one.
        return None if seen is None or (seen.reference is not None and shot.reference is None) else seen

    def searching(self, photo_id: str) -> bool:
        """Whether the card is being looked for."""
        return photo_id in self._searching

    def begin(self, shot: PhotoEntry) -> None:
        """Examine a photo just opened: search for a card, or judge the recorded one."""
        if shot.has_scale:
            self.appraise_later(shot.id)
        else:
            self._search(shot.id, None, alone=True)

    def appraise_later(self, photo_id: str) -> None:
        """Judge the outline again, in the background."""
        turn = self._turn
        self._photos.later(lambda: self._appraise(photo_id, turn))

    # ---- in the background ----

    def _search(self, photo_id: str, key: str | None, *, alone: bool) -> None:
        self._searching.add(photo_id)
        turn = self._turn
        self._photos.later(lambda: self._search_now(photo_id, key, turn, alone=alone))

    def _shot(self, photo_id: str) -> PhotoEntry | None:
        return next((one for one in self._desk.specimen.photos if one.id == photo_id), None)

    def _search_now(self, photo_id: str, key: str | None, turn: int, *, alone: bool) -> None:
        """Look for the card; `alone` if the desk does so automatically, not on request."""
        if turn != self._turn:
            return
        try:
            seen = self._examine(photo_id, key)
        finally:
            with self._desk.lock:
                if turn == self._turn:
                    self._searching.discard(photo_id)
        with self._desk.lock:
            shot = self._shot(photo_id)
            # What was seen of another toy's photo must not get into this one's record.
            if shot is not None and turn == self._turn:
                self._take_up(shot, seen, key, alone=alone)
                self._photos.rest(shot)
        self._desk.tell()

    def _examine(self, photo_id: str, key: str | None) -> Examination:
        photo, shot = self._photos.photo(photo_id), self._shot(photo_id)
        if photo is None or shot is None:
            return Examination(reason="The photo is not open.")
        try:
            return inspection.examine(photo, shot, key)
        except (CalibrationError, MeasureError) as error:
            return Examination(reason=str(error))

    def _take_up(self, shot: PhotoEntry, seen: Examination, key: str | None, *, alone: bool) -> None:
        if alone and shot.has_scale:
            return
        found = seen.reference is not None or bool(seen.sources)
        if not found and shot.reference is not None and key is not None:
            self._refit(shot, key)
            return
        self._examinations[shot.id] = seen
        if alone:
            self._desk.learn(lambda state: with_examination(state, shot.id, seen, only_if_none=True))
        elif found:
            self._desk.commit(with_examination(self._desk.specimen, shot.id, seen), "card found again")
        else:
            self._desk.notices.add(seen.reason or "No card was found.", wrong=True)

    def _refit(self, shot: PhotoEntry, key: str) -> None:
        """Keep the outline and call it another kind, since none of that kind was found automatically."""
        photo = self._photos.photo(shot.id)
        assert shot.reference is not None
        if photo is None or shot.reference.corners_px is None:
            return
        try:
            seen = inspection.fitted(photo, shot, shot.reference.corners_px, key)
        except CalibrationError as error:
            self._desk.notices.add(str(error), wrong=True)
            return
        self._examinations[shot.id] = seen
        self._desk.commit(with_examination(self._desk.specimen, shot.id, seen), "kind of card")

    def _appraise(self, photo_id: str, turn: int) -> None:
        photo, shot = self._photos.photo(photo_id), self._shot(photo_id)
        scale = None if shot is None else self._desk.scale(shot)
        if photo is None or shot is None or scale is None or shot.reference is None:
            return
        if shot.reference.corners_px is None:
            return
        seen = inspection.appraised(photo, shot, scale.plane)
        with self._desk.lock:
            if turn != self._turn:
                return
            self._examinations[photo_id] = seen
            self._photos.rest(shot)
        self._desk.tell()

    # ---- requests of the page ----

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
        """Move corners onto the card's edges where those are visible."""
        shot = actions.photo_of(self._desk.specimen, ask)
        photo = self._photos.photo(shot.id)
        if photo is None:
            raise AskError("The photo is still being opened; try again in a moment.")
        if "corners_px" in ask:
            corners = actions.corners_of(shot, ask)
        elif shot.reference is not None and shot.reference.corners_px is not None:
            corners = tuple(shot.reference.corners_px)
        else:
            raise AskError("There is no outline yet: mark the four corners first.")
        key = str(ask.get("kind") or (shot.reference.kind if shot.reference else "id1"))
        said = bool(ask.get("kind")) or (shot.reference is not None and shot.reference.said)
        seen = inspection.fitted(photo, shot, corners, key, said=said)
        self._examinations[shot.id] = seen
        self._desk.commit(with_examination(self._desk.specimen, shot.id, seen), "card outline")
        return {"say": "Card outline set."}


def with_examination(
    state: Specimen, photo_id: str, seen: Examination, *, only_if_none: bool = False
) -> Specimen:
    """Return the state with what a search found in a photo."""
    photos = tuple(
        _taken(one, seen) if one.id == photo_id and not (only_if_none and one.has_scale) else one
        for one in state.photos
    )
    return replace(state, photos=photos)


def _taken(shot: PhotoEntry, seen: Examination) -> PhotoEntry:
    camera = seen.camera or shot.camera
    profile = seen.profile if seen.camera else shot.profile
    if not seen.sources:
        return replace(shot, reference=seen.reference, camera=camera, profile=profile)
    # A found target is added to what else is marked, and replaces one found earlier.
    others = tuple(one for one in shot.sources if one.kind != "target")
    return replace(shot, sources=(*seen.sources, *others), camera=camera, profile=profile)
