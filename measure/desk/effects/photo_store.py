"""The opened photos: their pixels and tiles, by path; the state holds only how far each has come."""

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

from measure.desk.library import folders
from measure.desk.messages import AskError, workers
from measure.desk.photos import Darkroom, Picture, give_back, quick_look
from measure.desk.state import Standing
from measure.record import PhotoEntry
from measure.wording import Audience, all_worded

if TYPE_CHECKING:
    from calibration.image import Photo


class PhotoStore:
    """Photos by path.

    Parameters
    ----------
    post : callable
        Takes a message, from any thread.
    failed : callable
        Takes what was being done and what it raised, where that is a fault of the program.
    """

    def __init__(self, post: Callable[[object], None], failed: Callable[[str, Exception], str]) -> None:
        self._post = post
        self._failed = failed
        self._darkroom = Darkroom(self._changed, self._fault)

    def open(self, paths: tuple[str, ...]) -> workers.PicturesSeen:
        """Begin to open photos where that has not begun, and tell how far they are."""
        return workers.PicturesSeen({path: _standing(self._darkroom.picture(Path(path))) for path in paths})

    def photo(self, shot: PhotoEntry, record: Path | None) -> "Photo | None":
        """Return the pixels of a record's photo, or None while they are not there."""
        picture = self._picture(shot, record)
        return None if picture is None else picture.photo

    def needed(self, shot: PhotoEntry, record: Path | None) -> "Photo":
        """Return the pixels of a record's photo.

        Raises
        ------
        AskError
            They are not there yet.
        """
        photo = self.photo(shot, record)
        if photo is None:
            raise AskError("The photo is still being opened; try again in a moment.")
        return photo

    def rest(self, shot: PhotoEntry, record: Path | None) -> None:
        """Release what was needed only for examining a photo."""
        picture = self._picture(shot, record)
        if picture is not None:
            picture.rest()
        give_back()

    def _picture(self, shot: PhotoEntry, record: Path | None) -> Picture | None:
        return None if record is None else self._darkroom.picture(folders.resolve(shot.file, record))

    def at(self, path: str) -> Picture:
        """Return the picture of a file, beginning to open it if need be."""
        return self._darkroom.picture(Path(path))

    def by_handle(self, handle: str) -> Picture | None:
        """Return the picture that goes, or went, by this handle."""
        return self._darkroom.by_handle(handle)

    def later(self, task: Callable[[], None]) -> None:
        """Do something after the photos asked for so far."""
        self._darkroom.later(task)

    def expect_page(self, first_view_s: float) -> None:
        """Let a page show each photo's preview first, but wait no longer than this."""
        self._darkroom.first_view_s = first_view_s

    def close(self) -> None:
        """Stop all work."""
        self._darkroom.close()

    def _changed(self, picture: Picture) -> None:
        self._post(workers.PictureChanged(str(picture.path), _standing(picture)))

    def _fault(self, doing: str, error: Exception) -> None:
        failed = {str(one.path): _standing(one) for one in self._darkroom.failed()}
        self._post(workers.OpeningFailed(failed, self._failed(doing, error)))


def check_photo(name: str, data: bytes) -> None:
    """Refuse bytes that are no photo, or a damaged one so far as can be seen at once.

    Parameters
    ----------
    name : str
        The file's name as the page sends it.
    data : bytes
        The file.

    Raises
    ------
    PhotoError
        They are.
    """
    quick_look(data, folders.safe_name(name, "photo"))


def _standing(picture: Picture) -> Standing:
    photo = picture.photo
    facts: list[tuple[str, str]] = []
    if photo is not None:
        maker = " ".join(word for word in (photo.exif.make, photo.exif.model) if word)
        facts += [("Camera", maker)] if maker else []
        facts += [("Taken", photo.exif.taken)] if photo.exif.taken else []
    return Standing(
        handle=picture.handle,
        stage=picture.stage,
        trouble=picture.trouble,
        width_px=picture.width_px,
        height_px=picture.height_px,
        sha256=picture.sha256,
        cautions=all_worded(photo.cautions, Audience.PAGE) if photo is not None else (),
        facts=tuple(facts),
    )
