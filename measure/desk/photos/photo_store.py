"""The photos of the specimen on the desk: opened, and kept by the id of the record."""

import threading
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any, Protocol

from measure.desk.changes import Notices, actions
from measure.desk.library import folders
from measure.desk.photos.detection import CardSearch
from measure.desk.photos.pictures import Darkroom, Picture, give_back, quick_look
from measure.record import PhotoEntry, Specimen
from measure.texts import clean_text
from measure.wording import Audience, all_worded

if TYPE_CHECKING:
    from calibration.image import Photo
    from measure.kinds import Scale


class Desk(Protocol):
    """What the photo store needs of the session that owns it."""

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

    def failed(self, doing: str, error: Exception) -> str:
        """Report a fault of the program."""

    def scale(self, shot: PhotoEntry) -> "Scale | None":
        """Return what a photo is measured by."""


class PhotoStore:
    """Photos by the record's ids.

    Parameters
    ----------
    desk : Desk
        The session.
    """

    def __init__(self, desk: Desk) -> None:
        self._desk = desk
        self._darkroom = Darkroom(self._changed, self._failed)
        self._pending: dict[Path, Picture] = {}
        self.cards = CardSearch(desk, self)

    # ---- for other modules ----

    def picture(self, shot: PhotoEntry) -> Picture | None:
        """Return the picture of a photo of the record.

        Parameters
        ----------
        shot : PhotoEntry
            One of the record's photos, which begins to open if it is new.

        Returns
        -------
        Picture or None
            None while there is no record.
        """
        record = self._desk.record
        return None if record is None else self._darkroom.picture(folders.resolve(shot.file, record))

    def photo(self, photo_id: str) -> "Photo | None":
        """Return a photo of the record.

        Parameters
        ----------
        photo_id : str
            Its id there.

        Returns
        -------
        Photo or None
            None while its pixels are not there.
        """
        for shot in self._desk.specimen.photos:
            if shot.id == photo_id:
                picture = self.picture(shot)
                return picture.photo if picture else None
        return None

    def by_handle(self, handle: str) -> Picture | None:
        """Return the picture that goes, or went, by this handle.

        Parameters
        ----------
        handle : str
            As in a tile's address.

        Returns
        -------
        Picture or None
        """
        return self._darkroom.by_handle(handle)

    def only(self) -> Picture | None:
        """Return the picture on the desk, or being opened, if there is just one."""
        pictures = [self.picture(shot) for shot in self._desk.specimen.photos]
        pictures += list(self._pending.values())
        return pictures[0] if len(pictures) == 1 else None

    def later(self, task: Callable[[], None]) -> None:
        """Do something in the background.

        Parameters
        ----------
        task : callable
            What it raises is told as a fault of the program.
        """
        self._darkroom.later(task)

    def rest(self, shot: PhotoEntry) -> None:
        """Release what was needed only for examining a photo.

        Parameters
        ----------
        shot : PhotoEntry
            One of the record's photos.
        """
        picture = self.picture(shot)
        if picture is not None:
            picture.rest()
        give_back()

    def opening(self) -> list[str]:
        """Return the names of the photos that are being opened."""
        return [path.name for path in self._pending]

    def expect_page(self, first_view_s: float) -> None:
        """Let a page show each photo's preview first.

        Parameters
        ----------
        first_view_s : float
            For how many seconds decoding waits for that.
        """
        self._darkroom.first_view_s = first_view_s

    def open_ahead(self, path: Path) -> None:
        """Begin to open a photo that is about to join the record; nothing is recorded yet.

        Parameters
        ----------
        path : Path
            The photo.
        """
        self._darkroom.picture(path)

    def close(self) -> None:
        """Stop all work."""
        self._darkroom.close()

    # ---- opening ----

    def open_all(self) -> None:
        """Open every photo of the record."""
        for shot in self._desk.specimen.photos:
            self.picture(shot)

    def open_path(self, path: Path) -> None:
        """Open a photo by its path and add it to the record once its size is known.

        Parameters
        ----------
        path : Path
            The photo; one that the record has already is left as it is.
        """
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

        Parameters
        ----------
        name : str
            The file's name as the page sends it, made harmless here.
        data : bytes
            The file.

        Returns
        -------
        dict
            "name", under which it is kept.

        Raises
        ------
        PhotoError
            They are no photo, or a damaged one so far as can be seen at once.
        """
        quick_look(data, folders.safe_name(name, "photo"))
        # No other record may come on the desk between the file and its photo.
        with self._desk.lock:
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
            stem = clean_text(picture.path.stem)
            name = state.name or stem.replace("_", " ").replace("-", " ").capitalize()
            return actions.add_photo(replace(state, name=name), entry)

        self._desk.learn(add)
        if picture.stage == "ready":  # it was on the desk before
            self._developed(entry, picture)

    def _changed(self, picture: Picture) -> None:
        """Handle a picture's progress; called from the darkroom's threads."""
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
                picture.taken_up = True
        self._desk.tell()

    def _failed(self, doing: str, error: Exception) -> None:
        """Tell of a fault of the program, and wait no longer for the photo that it met."""
        with self._desk.lock:
            for path in [path for path, one in self._pending.items() if one.stage == "failed"]:
                self._pending.pop(path)
            self._desk.failed(doing, error)

    def _developed(self, shot: PhotoEntry, picture: Picture) -> None:
        size = (picture.width_px, picture.height_px)
        if (shot.width_px, shot.height_px) != size and shot.reference is None:
            self._desk.learn(
                lambda state: _changed_photo(state, shot.id, width_px=size[0], height_px=size[1])
            )
        told = picture.photo.cautions if picture.photo is not None else ()
        for text in all_worded(told, Audience.PAGE):
            self._desk.notices.add(f"{picture.path.name}: {text}", wrong=True)
        known = shot.has_scale
        self.cards.begin(shot)
        if known:
            self._desk.refresh()


def _changed_photo(state: Specimen, photo_id: str, **changes: Any) -> Specimen:
    photos = tuple(replace(one, **changes) if one.id == photo_id else one for one in state.photos)
    return replace(state, photos=photos)
