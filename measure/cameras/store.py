"""The user's camera profiles, one JSON file in the user's own folder, and which of them suits a photo."""

import dataclasses
import json
import os
from collections.abc import Mapping
from dataclasses import dataclass
from math import isfinite, isnan
from pathlib import Path
from typing import TYPE_CHECKING, Any

from measure.errors import RecordError
from measure.files import write_atomic
from measure.json_files import JsonError, read_json

if TYPE_CHECKING:
    from calibration.camera import Camera
    from calibration.image import Photo
    from calibration.lens_profiles import Profile

FORMAT = "cardspan-cameras/1"


@dataclass(frozen=True, slots=True)
class CameraKey:
    """What tells one camera setting from another.

    Attributes
    ----------
    make, model, lens : str
        As in the photo's Exif; the lens may be empty.
    focal_mm : float
        Focal length as written, 0 if it isn't: another zoom setting or another lens of a phone is another
        camera.
    long_px, short_px : int
        Size of the photos in either orientation.
    """

    make: str
    model: str
    lens: str
    focal_mm: float
    long_px: int
    short_px: int

    @property
    def text(self) -> str:
        """The key as one line, for display and as the store's key."""
        lens = f", {self.lens}" if self.lens else ""
        focal = f", {self.focal_mm:g} mm" if self.focal_mm else ""
        return f"{self.make} {self.model}{lens}{focal}, {self.long_px} x {self.short_px}"


def key_of(photo: "Photo") -> CameraKey | None:
    """Return the key of a photo's camera, or None if its Exif names none, or digital zoom was used."""
    exif = photo.exif
    if not exif.make or not exif.model or (exif.digital_zoom or 1.0) > 1.0:
        return None
    sides = sorted((photo.width_px, photo.height_px), reverse=True)
    return CameraKey(exif.make, exif.model, exif.lens or "", round(exif.focal_mm or 0.0, 2), *sides)


def store_path() -> Path:
    """Return where the profiles are kept; CARDSPAN_DATA names another folder.

    Returns
    -------
    Path
        A JSON file, which need not exist yet.
    """
    from platformdirs import user_data_path

    folder = os.environ.get("CARDSPAN_DATA")
    return (Path(folder) if folder else user_data_path("cardspan", appauthor=False)) / "cameras.json"


def stored_camera(photo: "Photo", *, name: str | None = None) -> "Camera | None":
    """Return the calibrated camera that suits a photo, or None if there is none.

    Parameters
    ----------
    photo : Photo
        The photo.
    name : str, optional
        Take the profile of this name, whatever the photo's Exif says; the size must fit.

    Raises
    ------
    RecordError
        The store can't be used, or holds no profile of this name and size.
    ProfileError
        The photo is mirrored.
    """
    if name is None and (key := key_of(photo)) is None:
        return None
    profiles = read_store(store_path())
    wanted = name if name is not None else key.text  # type: ignore[union-attr]
    profile = profiles.get(wanted)
    if profile is None:
        if name is None:
            return None
        known = ", ".join(profiles) or "none yet"
        raise RecordError(f"no camera profile '{name}'; known: {known}; learn it with cardspan camera learn")
    camera = profile.camera(photo.exif.orientation if photo.exif.orientation in (1, 3, 6, 8) else 1)
    if (camera.width_px, camera.height_px) != (photo.width_px, photo.height_px):
        camera = profile.camera(6 if photo.height_px > photo.width_px else 1)
    if (camera.width_px, camera.height_px) != (photo.width_px, photo.height_px):
        raise RecordError(
            f"{photo.name}: {photo.width_px} x {photo.height_px} pixels, but the camera profile '{wanted}' is"
            f" for {profile.width_px} x {profile.height_px}: use the uncropped photo"
        )
    return camera


def camera_of(
    photo: "Photo", profile: str | None = None, *, search: bool = False
) -> "tuple[Camera, str | None]":
    """Return the camera of a photo, and the name of its profile.

    Parameters
    ----------
    photo : Photo
        The photo.
    profile : str, optional
        Name of the profile to take.
    search : bool
        Where none is named, take the profile that the photo's Exif calls for.

    Returns
    -------
    Camera
        By the profile, else as Exif describes it.
    str or None
        The profile's name; None where Exif describes the camera.

    Raises
    ------
    RecordError, ProfileError
        As for `stored_camera`.
    """
    from calibration.lens_seen import camera_seen

    stored = stored_camera(photo, name=profile) if search or profile is not None else None
    if stored is None:
        return camera_seen(photo), None
    key = key_of(photo)
    return stored, profile or (None if key is None else key.text)


def read_store(path: Path) -> dict[str, "Profile"]:
    """Read all profiles; a missing store holds none.

    Parameters
    ----------
    path : Path
        The store's JSON file.

    Returns
    -------
    dict of str to Profile
        By name, in the file's order.

    Raises
    ------
    RecordError
        The file isn't such a store, or a field in it is not as expected.
    """
    if not path.exists():
        return {}
    try:
        data = read_json(path)
    except JsonError as error:
        raise RecordError(f"{error}; restore or delete it and learn again") from error
    if (
        not isinstance(data, dict)
        or data.get("format") != FORMAT
        or not isinstance(data.get("cameras"), dict)
    ):
        raise RecordError(f"{path}: format: expected '{FORMAT}'; restore or delete it and learn again")
    return {name: _profile(entry, f"{path}: cameras.{name}") for name, entry in data["cameras"].items()}


def _known(profiles: Mapping[str, object]) -> str:
    if not profiles:
        return "no camera has been learnt yet; see cardspan camera learn --help"
    return f"known are {', '.join(profiles)}"


def save_profile(name: str, profile: "Profile", *, path: Path | None = None) -> Path:
    """Add a profile to the store, or replace the one of the same name.

    Parameters
    ----------
    name : str
        By which photos or users ask for it.
    profile : Profile
        As learnt.
    path : Path, optional
        The store; the user's own where not given. The one before stays as ``.bak``.

    Returns
    -------
    Path
        The store's.

    Raises
    ------
    RecordError
        The present store can't be read.
    MeasureError
        It can't be written.
    """
    path = path or store_path()
    _write(path, {**read_store(path), name: profile})
    return path


def forget_profile(name: str) -> None:
    """Remove a profile.

    Parameters
    ----------
    name : str
        As `read_store` gives it.

    Raises
    ------
    RecordError
        No profile has this name.
    """
    path = store_path()
    profiles = read_store(path)
    if name not in profiles:
        raise RecordError(f"no camera profile '{name}': {_known(profiles)}")
    del profiles[name]
    _write(path, profiles)


def _write(path: Path, profiles: "dict[str, Profile]") -> None:
    cameras = {name: _entry(profile) for name, profile in profiles.items()}
    # In ASCII, since the photos that a profile names may be called what isn't UTF-8.
    text = json.dumps({"format": FORMAT, "cameras": cameras}, indent=1, allow_nan=False)
    write_atomic(path, text, backup=path.exists())


def _entry(profile: "Profile") -> dict[str, Any]:
    entry = dataclasses.asdict(profile)
    for view in entry["views"]:
        for field in ("rms_px", "tilt_deg"):
            if isnan(view[field]):
                view[field] = None
    return entry


def _profile(entry: Any, where: str) -> "Profile":
    from calibration.lens_profiles import Profile, ViewResidual

    if not isinstance(entry, dict):
        raise RecordError(f"{where}: expected an object")
    try:
        views = tuple(
            ViewResidual(str(v["name"]), _or_nan(v["rms_px"]), _or_nan(v["tilt_deg"]), bool(v["used"]))
            for v in entry["views"]
        )
        x, y = (float(value) for value in entry["principal_point_px"])
        numbers = {field: float(entry[field]) for field in _NUMBERS}
        distortion = tuple(float(value) for value in entry["distortion"])
        size = int(entry["width_px"]), int(entry["height_px"])
        model = str(entry["model"])
    except (KeyError, TypeError, ValueError) as error:
        raise RecordError(f"{where}: not a camera profile ({error!r}); delete it and learn again") from error
    if not all(isfinite(number) and number >= 0 for number in numbers.values()) or numbers["focal_px"] <= 0:
        raise RecordError(f"{where}: a number is out of range; delete it and learn again")
    if len(distortion) not in (5, 8) or not all(isfinite(value) for value in (*distortion, x, y)):
        raise RecordError(f"{where}.distortion: expected 5 or 8 finite numbers; delete it and learn again")
    return Profile(
        width_px=size[0],
        height_px=size[1],
        focal_px=numbers["focal_px"],
        focal_std_px=numbers["focal_std_px"],
        principal_point_px=(x, y),
        principal_point_std_px=numbers["principal_point_std_px"],
        distortion=distortion,
        k1_std=numbers["k1_std"],
        model=model,
        rms_px=numbers["rms_px"],
        held_out_rms_px=numbers["held_out_rms_px"],
        views=views,
    )


def _or_nan(value: Any) -> float:
    return float("nan") if value is None else float(value)


_NUMBERS = ("focal_px", "focal_std_px", "principal_point_std_px", "k1_std", "rms_px", "held_out_rms_px")
