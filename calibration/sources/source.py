"""Sources of scale other than a card: which name means which, and what each gives from a photo and marks."""

import re
from dataclasses import dataclass, replace

import numpy as np

from calibration.camera import Array, Camera
from calibration.cards import FoundCard
from calibration.edges import Rim
from calibration.errors import GeometryError, ObjectError
from calibration.image import Photo
from calibration.objects import ReferenceObject
from calibration.plane import Plane, PlaneFamily
from calibration.printed_target import FoundTarget, PrintScale, TargetNotFound, find_target
from calibration.sources.coin import (
    COINS,
    coin_from_key,
    coin_object,
    condensed,
    counts_from,
    find_coin,
    fit_coin,
)
from calibration.sources.graduations import Graduations, find_graduations
from calibration.sources.known_length import fit_known_length
from calibration.sources.ruler import GRADUATIONS_MM, counted, fit_rule
from calibration.sources.target import outline_of_target, plane_of_target

TARGET_KEY = "target"
Seen = Rim | Graduations | FoundTarget | None
_LENGTH = re.compile(r"^length=(\d+(?:\.\d+)?)(?:(?:±|\+-)(\d+(?:\.\d+)?))?$")
# A length read off a good rule by the user: ±0.5 mm as rectangular limits, and a thousandth of it.
_READ_STD_MM, _READ_SHARE = 0.5 / 3.0**0.5, 0.001


@dataclass(frozen=True, slots=True, eq=False)
class Marks:
    """What the user adds to a photo for a source that can't be found automatically.

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
    mark_std_px : float
        Standard uncertainty of each coordinate of the ends of a known length.
    """

    points_px: Array | None = None
    nearer_px: Array | None = None
    print_scale: PrintScale | None = None
    tilt_std_deg: float | None = None
    mark_std_px: float = 1.0


@dataclass(frozen=True, slots=True, eq=False)
class SourcePlane:
    """What a source of scale gives.

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
    seen : Rim, Graduations, FoundTarget or None
        What the photo's pixels showed; None for a known length.
    nearer_px : (2,) array or None
        A point on the side of a coin that the user says is nearer to the camera.
    beside : tuple of str
        Those cautions that also hold together with other references.
    tilt_std_deg : float or None
        How far from straight above the photo may have been taken, where the user states it.
    """

    found: FoundCard
    plane: Plane
    family: PlaneFamily | None
    cautions: tuple[str, ...]
    seen: Seen = None
    nearer_px: Array | None = None
    beside: tuple[str, ...] = ()
    tilt_std_deg: float | None = None


@dataclass(frozen=True, slots=True)
class NoSource:
    """Why the photo doesn't show it."""

    reason: str


def is_source(key: str) -> bool:
    """Whether a name means one of these sources."""
    name = key.strip().lower()
    return name == TARGET_KEY or name in COINS or name in GRADUATIONS_MM or bool(_LENGTH.match(name))


def plane_by(photo: Photo, camera: Camera, key: str, marks: Marks | None = None) -> SourcePlane | NoSource:
    """Return the plane that a source of scale gives in a photo: `see`, then `plane_from`.

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
    marks = marks or Marks()
    seen = see(photo, key, marks)
    return seen if isinstance(seen, NoSource) else plane_from(camera, key, seen, marks)


def see(photo: Photo, key: str, marks: Marks) -> Seen | NoSource:
    """Look at a photo for a source of scale; the arguments and errors are those of `plane_by`.

    Returns
    -------
    Rim, Graduations, FoundTarget, None or NoSource
        What its pixels show; None for a known length, which is all in its marks.
    """
    name = key.strip().lower()
    if name == TARGET_KEY:
        found = find_target(photo, scale=marks.print_scale)
        return NoSource(found.reason) if isinstance(found, TargetNotFound) else found
    if name in COINS:
        coin = coin_from_key(name)
        points = _needed(marks, f"mark the {coin.name}, one point in its middle or three on its rim")
        return condensed(find_coin(photo.pixels_bgr, points))
    if name in GRADUATIONS_MM:
        points = _needed(marks, "mark two points far apart on the rule's graduations")
        if len(points) != 2:
            raise GeometryError(f"a rule needs two points; {len(points)} given")
        return find_graduations(photo.pixels_bgr, points)
    known_length(key)
    return None


def plane_from(camera: Camera, key: str, seen: Seen, marks: Marks) -> SourcePlane:
    """Return the plane that follows from what was seen of a source of scale.

    Parameters
    ----------
    camera : Camera
        The photo's.
    key : str
        As for `plane_by`.
    seen : Rim, Graduations, FoundTarget or None
        What `see` returned for it.
    marks : Marks
        What the user added.

    Raises
    ------
    ObjectError
        No such source, or something else was seen.
    GeometryError
        No plane fits it.
    """
    name = key.strip().lower()
    tilt = {} if marks.tilt_std_deg is None else {"tilt_std_deg": marks.tilt_std_deg}
    if isinstance(seen, FoundTarget) and name == TARGET_KEY:
        plane = plane_of_target(camera, seen)
        outline = outline_of_target(seen, plane)
        return SourcePlane(outline, plane, None, outline.cautions, seen, beside=seen.cautions)
    if isinstance(seen, Rim):
        coin = coin_from_key(name)
        family = fit_coin(camera, coin, seen, nearer_px=marks.nearer_px, **tilt)
        r = coin.diameter_mm / 2.0
        square = np.array([[-r, -r], [r, -r], [r, r], [-r, r]])
        told = _shown(family, coin_object(coin), square, seen.std_px, seen)
        beside = (counts_from(coin),)
        return replace(told, nearer_px=marks.nearer_px, beside=beside, tilt_std_deg=marks.tilt_std_deg)
    if isinstance(seen, Graduations):
        family = fit_rule(camera, seen, name, **tilt)
        reference = family.planes[0].object
        assert reference is not None
        told = _shown(family, reference, _strip(reference.width_mm), seen.std_px, seen)
        return replace(told, beside=(counted(seen, name),), tilt_std_deg=marks.tilt_std_deg)
    if seen is not None:
        raise ObjectError(f"what was seen in the photo is no '{key}'")
    length_mm, std_mm = known_length(key)
    return plane_of_length(camera, length_mm, std_mm, marks)


def plane_of_length(camera: Camera, length_mm: float, std_mm: float | None, marks: Marks) -> SourcePlane:
    """Return the plane of a known length.

    Parameters
    ----------
    camera : Camera
        The photo's.
    length_mm, std_mm : float
        The length, and its standard uncertainty; that of a reading on a good rule where None.
    marks : Marks
        Its two ends.

    Raises
    ------
    ObjectError, GeometryError
        Ends missing, coinciding, or the length is none.
    """
    points = _needed(marks, "mark the two ends of the known length")
    if std_mm is None:
        std_mm = float(np.hypot(_READ_STD_MM, _READ_SHARE * length_mm))
    tilt = {} if marks.tilt_std_deg is None else {"tilt_std_deg": marks.tilt_std_deg}
    std_px = marks.mark_std_px
    family = fit_known_length(camera, points, length_mm, length_std_mm=std_mm, click_std_px=std_px, **tilt)
    reference = family.planes[0].object
    assert reference is not None
    told = _shown(family, reference, _strip(length_mm), std_px, None)
    return replace(told, tilt_std_deg=marks.tilt_std_deg)


def known_length(key: str) -> tuple[float, float | None]:
    """Return length and standard uncertainty in mm, if stated, of ``length=MM`` or ``length=MM±STD``.

    Raises
    ------
    ObjectError
        It is neither.
    """
    match = _LENGTH.match(key.strip().lower())
    if match is None:
        raise ObjectError(f"no source of scale '{key}'")
    return float(match[1]), float(match[2]) if match[2] else None


def _needed(marks: Marks, what: str) -> Array:
    if marks.points_px is None or len(marks.points_px) == 0:
        raise ObjectError(f"{what}, which can't be found without its points: add --at")
    return np.asarray(marks.points_px, dtype=float).reshape(-1, 2)


def _strip(length_mm: float) -> Array:
    half = 0.05 * length_mm
    return np.array([[0.0, -half], [length_mm, -half], [length_mm, half], [0.0, half]])


def _shown(
    family: PlaneFamily, reference: ReferenceObject, outline_mm: Array, std_px: float, seen: Seen
) -> SourcePlane:
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
    return SourcePlane(found, plane, family, family.cautions, seen)
