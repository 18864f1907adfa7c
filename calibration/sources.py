"""Sources of scale other than a card: which name means which, and what each makes of a photo and marks."""

import re
from dataclasses import dataclass

import numpy as np

from calibration.camera import Camera
from calibration.coins import COINS, coin_from_key, coin_object, find_coin, fit_coin
from calibration.errors import GeometryError, ObjectError
from calibration.known_length import fit_known_length
from calibration.lens import Array
from calibration.markers import TargetNotFound, find_target
from calibration.metric_plane import Plane
from calibration.objects import ReferenceObject
from calibration.photo import Photo
from calibration.quads import FoundCard
from calibration.rule import GRADUATIONS_MM, find_graduations, fit_rule
from calibration.target_layout import PrintScale
from calibration.target_plane import outline_of_target, plane_of_target
from calibration.weak_plane import PlaneFamily

TARGET_KEY = "target"
_LENGTH = re.compile(r"^length=(\d+(?:\.\d+)?)(?:(?:±|\+-)(\d+(?:\.\d+)?))?$")
# A length read off a good rule by the user: ±0.5 mm as rectangular limits, and a thousandth of it.
_READ_STD_MM, _READ_SHARE = 0.5 / 3.0**0.5, 0.001


@dataclass(frozen=True, slots=True, eq=False)
class Marks:
    """What the user adds to a photo for a source that can't be found by itself.

    Attributes
    ----------
    points_px : (N, 2) array or None
        A coin: one point inside, or three on its rim. A rule: two points, the line between crosses the
        graduations. A known length: its two ends.
    nearer_px : (2,) array or None
        A point on the side that is nearer to the camera.
    print_scale : PrintScale or None
        The printed target's size as measured.
    tilt_std_deg : float or None
        How far from straight above the photo may have been taken, about each axis.
    """

    points_px: Array | None = None
    nearer_px: Array | None = None
    print_scale: PrintScale | None = None
    tilt_std_deg: float | None = None


@dataclass(frozen=True, slots=True, eq=False)
class SourcePlane:
    """What a source of scale tells.

    Attributes
    ----------
    found : FoundCard
        Its outline in the photo.
    plane : Plane
        The most likely plane.
    family : PlaneFamily or None
        All planes that it allows, where it leaves the tilt open.
    cautions : tuple of str
        What the user should know.
    """

    found: FoundCard
    plane: Plane
    family: PlaneFamily | None
    cautions: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class NoSource:
    """Why the photo doesn't show it."""

    reason: str


def is_source(key: str) -> bool:
    """Whether a name means one of these sources."""
    name = key.strip().lower()
    return name == TARGET_KEY or name in COINS or name in GRADUATIONS_MM or bool(_LENGTH.match(name))


def plane_by(photo: Photo, camera: Camera, key: str, marks: Marks | None = None) -> SourcePlane | NoSource:
    """Return the plane that a source of scale gives in a photo.

    Parameters
    ----------
    photo : Photo
        The photo.
    camera : Camera
        Its camera.
    key : str
        ``target``, a coin's key, one of the rules' (``rule-mm``...), or ``length=MM`` or ``length=MM±STD``.
    marks : Marks, optional
        Where it is; needed for all but the target.

    Raises
    ------
    ObjectError
        No such source, or one that can't serve, or marks missing.
    GeometryError
        Nothing of the kind at the marks.
    """
    name, marks = key.strip().lower(), marks or Marks()
    if name == TARGET_KEY:
        return _target(photo, camera, marks)
    if name in COINS:
        return _coin(photo, camera, name, marks)
    if name in GRADUATIONS_MM:
        return _rule(photo, camera, name, marks)
    match = _LENGTH.match(name)
    if match is None:
        raise ObjectError(f"no source of scale '{key}'")
    return _length(camera, float(match[1]), match[2], marks)


def _target(photo: Photo, camera: Camera, marks: Marks) -> SourcePlane | NoSource:
    found = find_target(photo, scale=marks.print_scale)
    if isinstance(found, TargetNotFound):
        return NoSource(found.reason)
    plane = plane_of_target(camera, found)
    outline = outline_of_target(found, plane)
    return SourcePlane(outline, plane, None, outline.cautions)


def _needed(marks: Marks, what: str) -> Array:
    if marks.points_px is None or len(marks.points_px) == 0:
        raise ObjectError(f"{what}, which can't be found without: add --at")
    return np.asarray(marks.points_px, dtype=float).reshape(-1, 2)


def _coin(photo: Photo, camera: Camera, name: str, marks: Marks) -> SourcePlane:
    coin = coin_from_key(name)
    points = _needed(marks, f"mark the {coin.name}, one point in its middle or three on its rim")
    rim = find_coin(photo.pixels_bgr, points)
    tilt = {} if marks.tilt_std_deg is None else {"tilt_std_deg": marks.tilt_std_deg}
    family = fit_coin(camera, coin, rim, nearer_px=marks.nearer_px, **tilt)
    r = coin.diameter_mm / 2.0
    square = np.array([[-r, -r], [r, -r], [r, r], [-r, r]])
    return _shown(family, coin_object(coin), square, rim.std_px)


def _rule(photo: Photo, camera: Camera, name: str, marks: Marks) -> SourcePlane:
    points = _needed(marks, "mark two points far apart on the rule's graduations")
    if len(points) != 2:
        raise GeometryError(f"a rule needs two points; {len(points)} given")
    seen = find_graduations(photo.pixels_bgr, points)
    tilt = {} if marks.tilt_std_deg is None else {"tilt_std_deg": marks.tilt_std_deg}
    family = fit_rule(camera, seen, name, **tilt)
    reference = family.planes[0].object
    assert reference is not None
    return _shown(family, reference, _strip(reference.width_mm), seen.std_px)


def _length(camera: Camera, length_mm: float, stated_std: str | None, marks: Marks) -> SourcePlane:
    points = _needed(marks, "mark the two ends of the known length")
    std_mm = float(stated_std) if stated_std else float(np.hypot(_READ_STD_MM, _READ_SHARE * length_mm))
    tilt = {} if marks.tilt_std_deg is None else {"tilt_std_deg": marks.tilt_std_deg}
    family = fit_known_length(camera, points, length_mm, length_std_mm=std_mm, **tilt)
    reference = family.planes[0].object
    assert reference is not None
    return _shown(family, reference, _strip(length_mm), 1.0)


def _strip(length_mm: float) -> Array:
    half = 0.05 * length_mm
    return np.array([[0.0, -half], [length_mm, -half], [length_mm, half], [0.0, half]])


def _shown(family: PlaneFamily, reference: ReferenceObject, outline_mm: Array, std_px: float) -> SourcePlane:
    plane = family.planes[0]
    found = FoundCard(
        reference,
        plane.to_px(outline_mm),
        np.eye(8) * std_px**2,
        confidence=0.9,
        accepted=True,
        cautions=family.cautions,
        tilt_deg=plane.tilt_deg,
        source="by hand",
    )
    return SourcePlane(found, plane, family, family.cautions)
