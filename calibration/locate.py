"""From a photo to the metric plane of the reference object in it, or the reason why there is none."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import partial

from numpy.typing import ArrayLike

from calibration.camera import Camera
from calibration.cards import (
    HAND_STD_PX,
    FoundCard,
    LevelEdges,
    as_kind,
    companions,
    consensus,
    find_cards,
    fit_irregular,
    identified,
    identity_caution,
    likelier_kind,
    outline_cautions,
    radius_log_likelihoods,
    refine_corners,
    same_outline,
    what_it_is_open,
    why_none,
)
from calibration.cautions import Caution, CautionCode, NoAnswer, NoAnswerCode
from calibration.errors import GeometryError
from calibration.image import Photo, Pyramid
from calibration.lens_seen import camera_seen
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
    others : tuple of FoundCard
        Further cards of the kind that the plane was fitted to as well.
    candidates : tuple of FoundCard
        All outlines that may be a reference, in the order in which `locate` counts them; the one taken first,
        unless another was asked for.
    """

    camera: Camera
    found: FoundCard | None
    plane: Plane | None
    cautions: tuple[Caution, ...]
    reason: NoAnswer | None
    family: PlaneFamily | None = None
    seen: Observation = None
    others: tuple[FoundCard, ...] = ()
    candidates: tuple[FoundCard, ...] = ()


def locate(
    photo: Photo,
    *,
    object_key: str | None = None,
    corners_px: ArrayLike | None = None,
    corner_std_px: float = HAND_STD_PX,
    camera: Camera | None = None,
    marks: Marks | None = None,
    plumb_lines: Sequence[PlumbLine] = (),
    only_one: bool = False,
    pick: int | None = None,
    even_if_open: bool = False,
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
        A calibrated profile; taken from the photo's Exif and its straight edges where not given.
    marks : Marks, optional
        What the user adds for a printed target, a coin, a rule or a known length.
    plumb_lines : sequence of PlumbLine, optional
        Edges that are straight in the scene, marked by the user: how the photo bends them tells the lens.
        They serve beside a card or sheet.
    only_one : bool
        Measure by the outline taken alone; else further cards of its kind on the same plane join the fit, and
        count among the candidates.
    pick : int, optional
        Which of the outlines that may be a reference to take, from 1, in the order of `Location.candidates`
        of a call without it. The surest where it isn't given.
    even_if_open : bool
        Give a plane even where the outline is more likely something else than what it is taken for; for who
        asks before anything is measured by it.

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
        The corners given can't be those of a rectangle in view, nothing of the kind is at the marks, or there
        are fewer outlines than were picked from.
    """
    camera = camera or camera_seen(photo)
    location = _located(
        photo,
        camera,
        object_key=object_key,
        corners_px=corners_px,
        corner_std_px=corner_std_px,
        marks=marks,
        terms=_Terms(tuple(plumb_lines), only_one, pick, even_if_open),
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
    terms: "_Terms",
) -> Location:
    if corners_px is not None:
        return _by_hand(photo, camera, object_key, corners_px, corner_std_px, plumb_lines=terms.plumb_lines)
    if object_key is not None and is_source(object_key):
        return _by_source(photo, camera, object_key, marks)
    return _by_looking(photo, camera, object_key, marks, terms)


@dataclass(frozen=True, slots=True)
class _Terms:
    """Which of several outlines to measure by, and what else shows the lens; see `locate`."""

    plumb_lines: tuple[PlumbLine, ...] = ()
    only_one: bool = False
    pick: int | None = None
    even_if_open: bool = False


def _by_looking(
    photo: Photo,
    camera: Camera,
    object_key: str | None,
    marks: Marks | None,
    terms: _Terms,
) -> Location:
    """Find a printed target or a card; where no kind is named, a target goes first."""
    objects = CARD_OBJECTS if object_key is None else (object_from_key(object_key),)
    pyramid = Pyramid.of(photo.pixels_bgr)
    target_prescreen = partial(shows_target, pyramid) if object_key is None else bool
    # Usually there is no target, so edges and lines are sought in parallel.
    seen, is_target = run_in_parallel(partial(LevelEdges.of, pyramid), target_prescreen)
    if is_target and terms.pick is None:
        location = _by_source(photo, camera, TARGET_KEY, marks)
        if location.plane is not None:
            return location
    outlines = find_cards(photo, camera, objects, seen=seen)
    best = outlines[0] if outlines else None
    if (best is None or not best.accepted) and terms.pick is None:
        if object_key is None and may_show_target(pyramid):  # too small or too far for the prescreening
            location = _by_source(photo, camera, TARGET_KEY, marks)
            if location.plane is not None:
                return location
        none = why_none(best, objects)
        return Location(camera, best, None, camera.cautions, none, candidates=outlines)
    return _by_cards(photo, camera, outlines, seen, terms, said=object_key is not None)


@dataclass(frozen=True, slots=True, eq=False)
class _Fitted:
    """An outline, its plane, and what else of its kind lies on that; no plane where none fits."""

    card: FoundCard
    plane: Plane | None
    beside: tuple[FoundCard, ...] = ()


def _by_cards(
    photo: Photo,
    camera: Camera,
    outlines: Sequence[FoundCard],
    seen: LevelEdges,
    terms: _Terms,
    *,
    said: bool,
) -> Location:
    """Measure by the outline chosen and by those that lie on its plane and agree."""
    alone = terms.only_one and terms.pick is None
    surest = [_fitted(camera, replace(one, said=said), seen, terms, alone=alone) for one in outlines[:1]]
    beside = [card for one in surest for card in one.beside]
    new = (card for card in beside if not any(same_outline(card, other) for other in outlines))
    listed = (*outlines, *new)
    picked = 1 if terms.pick is None else terms.pick
    if not 1 <= picked <= len(listed):
        there = f"are outlines 1 to {len(listed)}" if listed else "is no outline of a card or sheet"
        raise GeometryError(f"number {picked} can't be picked: in {photo.name} there {there}")
    first = surest[0]
    if picked > 1:
        first = _fitted(camera, replace(listed[picked - 1], said=said), seen, terms, alone=terms.only_one)
    if first.plane is None:
        none = NoAnswer.of(NoAnswerCode.NO_PLANE)
        return Location(camera, first.card, None, camera.cautions, none, candidates=listed)
    card, others, plane, left_out = _together(camera, first, first.plane, terms)
    location = _with_plane(photo, camera, _with_corners_seen(seen.pyramid, card), plane, left_out)
    found = location.found
    assert found is not None
    known = tuple(found if same_outline(one, found) else one for one in listed)
    open_still = None if terms.even_if_open else what_it_is_open(found)
    if open_still is not None:
        return Location(camera, found, None, camera.cautions, open_still, candidates=known)
    return replace(location, others=others, candidates=known)


def _fitted(camera: Camera, card: FoundCard, seen: LevelEdges, terms: _Terms, *, alone: bool) -> _Fitted:
    """Fit an outline as the likeliest of the kinds looked for, or as what somebody said it is."""
    try:
        plane = _plane_of(camera, card, terms.plumb_lines)
        if not card.said:
            # How round the corners are tells kinds apart.
            seen_well = identified(camera, _with_corners_seen(seen.pyramid, card), plane)
            if (likelier := likelier_kind(seen_well, CARD_OBJECTS)) is not None:
                card = as_kind(card, likelier)
                plane = _plane_of(camera, card, terms.plumb_lines)
    except GeometryError:
        return _Fitted(card, None)
    return _Fitted(card, plane, () if alone else companions(seen, camera, card, plane))


def _together(
    camera: Camera, first: _Fitted, plane: Plane, terms: _Terms
) -> tuple[FoundCard, tuple[FoundCard, ...], Plane, tuple[Caution, ...]]:
    """Return the card that defines the frame, those that agree, their plane, and what is said of the rest."""
    if terms.only_one or not first.beside:
        return first.card, (), plane, ()
    agreed = consensus(camera, (first.card, *first.beside), terms.plumb_lines)
    card, *others = (replace(one, said=first.card.said) for one in agreed.agreeing)
    if others:
        plane, _ = fit_irregular(camera, (card, *others), terms.plumb_lines)
    elif agreed.agreeing[0] is not first.card:
        plane = _plane_of(camera, card, terms.plumb_lines)
    count = len(agreed.left_out)
    told = (Caution.of(CautionCode.LEFT_OUT, count=count, kept=len(others) + 1),) if count else ()
    return card, tuple(others), plane, told


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
