"""From a photo to the metric plane of the reference object in it, or the reason why there is none."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import partial

from numpy.typing import ArrayLike

from calibration.camera import Camera, camera_from_photo
from calibration.cards import (
    HAND_STD_PX,
    FoundCard,
    LevelEdges,
    find_cards,
    identified,
    identity_caution,
    outline_cautions,
    radius_log_likelihoods,
    refine_corners,
    why_none,
)
from calibration.cautions import Caution, CautionCode, NoAnswer, NoAnswerCode
from calibration.errors import GeometryError
from calibration.image import Photo, Pyramid
from calibration.objects import CARD_OBJECTS, ID1, ReferenceObject, object_from_key
from calibration.parallel import run_in_parallel
from calibration.plane import Plane, PlaneFamily, PlumbLine, fit_plane
from calibration.sources import (
    TARGET_KEY,
    Marks,
    Observation,
    is_source,
    may_show_target,
    plane_by,
    shows_target,
)


@dataclass(frozen=True, slots=True, eq=False)
class Location:
    """Where the reference object lies in a photo.

    Attributes
    ----------
    camera : Camera
        As fitted, where a plane was; else as the photo describes it.
    found : FoundCard or None
        The object's outline; present without a plane where it is too doubtful to measure by.
    plane : Plane or None
        The reference's upper face.
    cautions : tuple of Caution
        What may spoil a measurement; what is damaged about the photo's file comes first.
    reason : NoAnswer or None
        Why there is no plane; None where there is one.
    family : PlaneFamily or None
        All planes that the reference allows, where it leaves the tilt open (coin, rule, known length);
        lengths are then measured on each.
    seen : Rim, Graduations, FoundTarget or None
        What the photo's pixels showed of a source other than a card.
    """

    camera: Camera
    found: FoundCard | None
    plane: Plane | None
    cautions: tuple[Caution, ...]
    reason: NoAnswer | None
    family: PlaneFamily | None = None
    seen: Observation = None


def locate(
    photo: Photo,
    *,
    object_key: str | None = None,
    corners_px: ArrayLike | None = None,
    corner_std_px: float = HAND_STD_PX,
    camera: Camera | None = None,
    marks: Marks | None = None,
    plumb_lines: Sequence[PlumbLine] = (),
) -> Location:
    """Find the reference object in a photo, or take its corners as given, and fit its plane.

    Parameters
    ----------
    photo : Photo
        Where to look.
    object_key : str, optional
        Kind of the object (see `objects.object_from_key`); all known kinds are tried where it is not given.
    corners_px : (4, 2) array, optional
        Corners by hand, (x, y) in order around the object; a bank card is assumed where no kind is given.
    corner_std_px : float
        Standard uncertainty of each coordinate of corners by hand.
    camera : Camera, optional
        A calibrated profile; taken from the photo's Exif where not given.
    marks : Marks, optional
        What the user adds for a printed target, a coin, a rule or a known length.
    plumb_lines : sequence of PlumbLine, optional
        Edges that are straight in the scene, marked by the user: how the photo bends them tells the lens.
        They serve beside a card or sheet.

    Returns
    -------
    Location
        The plane, or the reason why there is none.

    Raises
    ------
    ObjectError
        No such kind.
    MarksError
        A kind that has to be marked, and isn't.
    GeometryError
        The corners given can't be those of a rectangle in view, or nothing of the kind is at the marks.
    """
    camera = camera or camera_from_photo(photo)
    location = _located(
        photo,
        camera,
        object_key=object_key,
        corners_px=corners_px,
        corner_std_px=corner_std_px,
        marks=marks,
        plumb_lines=plumb_lines,
    )
    return replace(location, cautions=tuple(dict.fromkeys((*photo.cautions, *location.cautions))))


def _located(
    photo: Photo,
    camera: Camera,
    *,
    object_key: str | None,
    corners_px: ArrayLike | None,
    corner_std_px: float,
    marks: Marks | None,
    plumb_lines: Sequence[PlumbLine],
) -> Location:
    if corners_px is not None:
        return _by_hand(photo, camera, object_key, corners_px, corner_std_px, plumb_lines=plumb_lines)
    if object_key is not None and is_source(object_key):
        return _by_source(photo, camera, object_key, marks)
    return _by_looking(photo, camera, object_key, marks, plumb_lines)


def _by_looking(
    photo: Photo,
    camera: Camera,
    object_key: str | None,
    marks: Marks | None,
    plumb_lines: Sequence[PlumbLine],
) -> Location:
    """Find a printed target or a card; where no kind is named, a target goes first."""
    objects = CARD_OBJECTS if object_key is None else (object_from_key(object_key),)
    pyramid = Pyramid.of(photo.pixels_bgr)
    target_prescreen = partial(shows_target, pyramid) if object_key is None else bool
    # Usually there is no target, so edges and lines are sought in parallel.
    seen, is_target = run_in_parallel(partial(LevelEdges.of, pyramid), target_prescreen)
    if is_target:
        location = _by_source(photo, camera, TARGET_KEY, marks)
        if location.plane is not None:
            return location
    cards = find_cards(photo, camera, objects, seen=seen)
    best = cards[0] if cards else None
    if best is None or not best.accepted:
        if object_key is None and may_show_target(pyramid):  # too small or too far for the prescreening
            location = _by_source(photo, camera, TARGET_KEY, marks)
            if location.plane is not None:
                return location
        return Location(camera, best, None, camera.cautions, why_none(best, objects))
    best = replace(_with_corners_seen(pyramid, best), said=object_key is not None)
    try:
        plane = _plane_of(camera, best, plumb_lines)
    except GeometryError:
        return Location(camera, best, None, camera.cautions, NoAnswer.of(NoAnswerCode.NO_PLANE))
    return _with_plane(photo, camera, best, plane, ())


def _by_source(photo: Photo, camera: Camera, key: str, marks: Marks | None) -> Location:
    told = plane_by(photo, camera, key, marks)
    if isinstance(told, NoAnswer):
        return Location(camera, None, None, camera.cautions, told)
    return Location(told.plane.camera, told.found, told.plane, told.cautions, None, told.family, told.seen)


def _by_hand(
    photo: Photo,
    camera: Camera,
    object_key: str | None,
    corners_px: ArrayLike,
    corner_std_px: float,
    *,
    plumb_lines: Sequence[PlumbLine],
) -> Location:
    kind: ReferenceObject = ID1 if object_key is None else object_from_key(object_key)
    card = refine_corners(photo, corners_px, kind, camera=camera, corner_std_px=corner_std_px)
    card = replace(card, said=object_key is not None)
    taken = Caution.of(CautionCode.KIND_ASSUMED, name=ID1.name)
    card = _with_corners_seen(Pyramid.of(photo.pixels_bgr), card)
    plane = _plane_of(camera, card, plumb_lines)
    return _with_plane(photo, camera, card, plane, () if card.said else (taken,))


def _with_corners_seen(pyramid: Pyramid, card: FoundCard) -> FoundCard:
    return replace(card, radii=radius_log_likelihoods(pyramid, card.corners_px, card.object, card.blur_px))


def _plane_of(camera: Camera, card: FoundCard, plumb_lines: Sequence[PlumbLine]) -> Plane:
    return fit_plane(camera, card.object, card.corners_px, card.corners_cov_px2, lines=plumb_lines)


def _with_plane(
    photo: Photo, camera: Camera, card: FoundCard, plane: Plane, cautions: tuple[Caution, ...]
) -> Location:
    card = identified(camera, card, plane)
    other = identity_caution(card)
    first = () if other is None else (other,)
    every = (*first, *card.cautions, *cautions, *outline_cautions(photo, card), *plane.cautions)
    card = replace(card, cautions=tuple(dict.fromkeys(every)))
    return Location(plane.camera, card, plane, card.cautions, None)
