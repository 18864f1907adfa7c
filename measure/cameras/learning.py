"""Learning a camera profile from photo files."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from measure.cameras.store import CameraKey, key_of
from measure.errors import RecordError

if TYPE_CHECKING:
    from calibration.image import Photo
    from calibration.lens_profiles import BoardView, Profile


@dataclass(frozen=True, slots=True)
class Learnt:
    """A profile, its name, and why some photos were not used."""

    name: str
    profile: "Profile"
    unused: tuple[str, ...]


def learn_from_photos(
    paths: Sequence[str], chessboard: tuple[int, int] | None = None, name: str | None = None
) -> Learnt:
    """Learn a camera from photos of a board.

    Parameters
    ----------
    paths : sequence of str
        The photos.
    chessboard : pair of int, optional
        Inner corners of a chessboard; the printed target where not given.
    name : str, optional
        Name of the profile; the camera's own from Exif where not given.

    Returns
    -------
    Learnt
        With the photos that were not used, each with why.

    Raises
    ------
    RecordError
        The photos are of several cameras or sizes, or name none and no name is given.
    PhotoError
        A file is no photo.
    ProfileError
        The photos support no profile; the message says what to add.
    """
    from calibration.cautions import NoAnswer
    from calibration.image import read_photo
    from calibration.lens_profiles import as_stored, chessboard_view, learn_profile, target_view
    from measure.wording import Audience, worded

    keys: set[CameraKey | None] = set()
    sizes: set[tuple[int, int]] = set()
    views: list[BoardView] = []
    unused: list[str] = []
    for path in paths:
        photo = read_photo(path)
        keys.add(key_of(photo))
        if photo.cautions:  # a board that is partly shifted would teach a false lens
            unused.append(f"{photo.name}: {worded(photo.cautions[0], Audience.COMMAND)}")
            continue
        found = target_view(photo) if chessboard is None else chessboard_view(photo, *chessboard)
        if isinstance(found, NoAnswer):
            unused.append(worded(found, Audience.COMMAND))
            continue
        turn = photo.exif.orientation
        stored = as_stored(found.points_px, photo.width_px, photo.height_px, turn)
        views.append(replace(found, points_px=stored))
        sizes.add(_stored_size(photo, turn))
    known = _name(keys, name)
    if len(sizes) > 1:
        raise RecordError("the photos differ in size: learn each size, and each way of cropping, separately")
    size = sizes.pop() if sizes else (1, 1)
    return Learnt(known, learn_profile(views, *size), tuple(unused))


def _stored_size(photo: "Photo", orientation: int) -> tuple[int, int]:
    size = (photo.width_px, photo.height_px)
    return size[::-1] if orientation in (6, 8) else size


def _name(keys: "set[CameraKey | None]", name: str | None) -> str:
    if name:
        return name
    if len(keys) > 1:
        named = "; ".join(sorted(key.text if key else "no camera named" for key in keys))
        raise RecordError(
            f"the photos are of several cameras, lenses or zooms ({named}): learn each separately"
        )
    key = next(iter(keys))
    if key is None:
        raise RecordError("the photos' Exif names no camera: give the profile a name with --name")
    return key.text
