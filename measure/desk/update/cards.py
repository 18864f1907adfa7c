"""The card in a photo: found, set by hand, named."""

from dataclasses import replace

from calibration.objects import object_from_key
from measure.desk.messages import HAND_STD_PX, AskError, page, tasks, workers
from measure.desk.state import Desk, Examination
from measure.desk.update.common import Step, Tasks, committed, learned, on_photo, photo_of, with_photo
from measure.record import PhotoEntry, Point, ReferenceEntry, Specimen


def by_hand(photo: PhotoEntry, corners_px: tuple[Point, ...], kind: str) -> ReferenceEntry:
    """Return the reference object with corners given by hand, its size as it was.

    Parameters
    ----------
    photo : PhotoEntry
        The photo.
    corners_px : tuple of points
        The corners; they may lie a little outside the photo.
    kind : str
        What it is, where the photo has no reference object yet; empty for a bank card.

    Returns
    -------
    ReferenceEntry
    """
    corners = on_photo(corners_px, photo, margin=0.5)
    if photo.reference is not None:
        return replace(
            photo.reference,
            corners_px=corners,
            corners_cov_px2=None,
            corner_std_px=HAND_STD_PX,
            source="by hand",
            confidence=None,
        )
    known = object_from_key(kind or "id1")
    sides = (known.width_mm, known.height_mm)
    return ReferenceEntry(known.key, *sides, corners, None, HAND_STD_PX, "by hand", None, said=bool(kind))


def _outlined(
    desk: Desk, photo: PhotoEntry, reference: ReferenceEntry, title: str, at_s: float, *, join: str = ""
) -> Step:
    after = with_photo(desk.specimen, _called_alike(photo, reference))
    return committed(desk, after, title, at_s, join=join)


def _set_corners(desk: Desk, said: page.SetCorners, at_s: float) -> Step:
    """Take corners as they were marked."""
    photo = photo_of(desk, said.photo)
    reference = by_hand(photo, said.corners_px, said.kind)
    join = f"corners:{said.photo}" if said.join else ""
    desk, todo = _outlined(desk, photo, reference, "card outline", at_s, join=join)
    return desk, (*todo, tasks.Appraise(photo.id))


def _turn_card(desk: Desk, said: page.TurnCard, at_s: float) -> Step:
    """Let the card's first side be the next one."""
    photo = photo_of(desk, said.photo)
    old = photo.reference
    if old is None or old.corners_px is None:
        raise AskError("There is no card outline to rotate yet.")
    corners = (*old.corners_px[1:], old.corners_px[0])
    cov = old.corners_cov_px2
    if cov is not None:
        place = [(2 + index) % 8 for index in range(8)]
        cov = tuple(cov[8 * row + column] for row in place for column in place)
    turned = replace(old, corners_px=corners, corners_cov_px2=cov, source="by hand", confidence=None)
    desk, todo = _outlined(desk, photo, turned, "turned card", at_s)
    return desk, (*todo, tasks.Appraise(photo.id))


def _say_kind(desk: Desk, said: page.SayKind, at_s: float) -> Step:
    """Take up what the user says the outline is: what it was taken for, or another size of the same shape."""
    photo = photo_of(desk, said.photo)
    old = photo.reference
    if old is None or old.corners_px is None:
        raise AskError("There is no outline yet: mark the card first.")
    if not said.kind:
        raise AskError("kind: expected what the outline is")
    new = replace(old, said=True)
    if said.kind != old.kind:
        known = object_from_key(said.kind)
        new = _of_size(new, known.key, (known.width_mm, known.height_mm))
    return _outlined(desk, photo, new, "what the outline is", at_s)


def _of_size(one: ReferenceEntry, kind: str, sides_mm: tuple[float, float]) -> ReferenceEntry:
    """Return an outline as another kind of about its shape, the long side where it was."""
    width_mm, height_mm = sorted(sides_mm, reverse=one.width_mm > one.height_mm)
    return replace(one, kind=kind, width_mm=width_mm, height_mm=height_mm)


def _called_alike(photo: PhotoEntry, reference: ReferenceEntry) -> PhotoEntry:
    """Return the photo with its reference changed; cards found beside it as of its kind stay of its kind."""
    old = photo.reference
    also = tuple(
        replace(_of_size(one, reference.kind, (reference.width_mm, reference.height_mm)), said=reference.said)
        if old is not None and one.source == "found" and one.kind == old.kind
        else one
        for one in photo.also
    )
    return replace(photo, reference=reference, also=also)


def _fit_corners(desk: Desk, said: page.FitCorners, at_s: float) -> Step:
    """Move corners onto the card's edges where those are visible."""
    photo = photo_of(desk, said.photo)
    old = photo.reference
    if said.corners_px is not None:
        corners = on_photo(said.corners_px, photo, margin=0.5)
    elif old is not None and old.corners_px is not None:
        corners = tuple(old.corners_px)
    else:
        raise AskError("There is no outline yet: mark the four corners first.")
    kind = said.kind or (old.kind if old else "id1")
    named = bool(said.kind) or (old is not None and old.said)
    return desk, (tasks.FitOutline(photo, corners, kind, named, "card outline"),)


def _fitted(desk: Desk, said: workers.Fitted, at_s: float) -> Step:
    """Take up an outline that was moved onto a card's edges."""
    desk, todo = committed(desk, _with_seen(desk.specimen, said.photo, said.seen), said.title, at_s)
    say = tasks.Answer(say="Card outline set.") if said.title == "card outline" else tasks.Answer()
    return _noted(desk, said.photo, said.seen), (*todo, say)


def _not_fitted(desk: Desk, said: workers.NotFitted, at_s: float) -> Step:
    """Tell why no outline could be fitted."""
    return desk.noticed(said.why, wrong=True), ()


def _find_card(desk: Desk, said: page.FindCard, at_s: float) -> Step:
    """Look for the card again."""
    return searched(desk, photo_of(desk, said.photo).id, None, alone=False)


def _take_for_kind(desk: Desk, said: page.TakeForKind, at_s: float) -> Step:
    """Look for a card of another kind."""
    photo = photo_of(desk, said.photo)
    return searched(desk, photo.id, object_from_key(said.kind).key, alone=False)


def searched(desk: Desk, photo_id: str, key: str | None, *, alone: bool) -> Step:
    """Begin to look for the card.

    Parameters
    ----------
    desk : Desk
        What is on the desk.
    photo_id : str
        The photo.
    key : str or None
        Kind to look for; None for all known ones.
    alone : bool
        Whether the desk does so by itself, not on request.

    Returns
    -------
    Step
    """
    searching = desk.searching | {photo_id}
    return replace(desk, searching=searching), (tasks.Search(photo_id, key, alone),)


def _search_ended(desk: Desk, said: workers.SearchEnded, at_s: float) -> Step:
    """Note that a search is over."""
    if said.laid != desk.laid:
        return desk, ()
    return replace(desk, searching=desk.searching - {said.photo}), ()


def _examined(desk: Desk, said: workers.Examined, at_s: float) -> Step:
    """Take up what a search found."""
    # What was seen of another toy's photo must not get into this one's record.
    shot = next((one for one in desk.specimen.photos if one.id == said.photo), None)
    if said.laid == desk.laid:
        desk = replace(desk, searching=desk.searching - {said.photo})
    if shot is None or said.laid != desk.laid or (said.alone and shot.has_scale):
        return desk, ()
    found = said.seen.reference is not None or bool(said.seen.sources)
    old = shot.reference
    if not found and old is not None and said.key is not None:
        return desk, _called(shot, old, said.key)
    desk = _noted(desk, shot.id, said.seen)
    if said.alone:
        return learned(desk, lambda state: _with_seen(state, shot.id, said.seen, only_if_none=True))
    if found:
        return committed(desk, _with_seen(desk.specimen, shot.id, said.seen), "card found again", at_s)
    return desk.noticed(said.seen.reason or "No card was found.", wrong=True), ()


def _called(shot: PhotoEntry, old: ReferenceEntry, key: str) -> Tasks:
    """Let the outline stay and be called another kind, since none of that kind was found."""
    if old.corners_px is None:
        return ()
    return (tasks.FitOutline(shot, old.corners_px, key, said=True, title="kind of card", soft=True),)


def _appraised(desk: Desk, said: workers.Appraised, at_s: float) -> Step:
    """Take up how an outline was judged."""
    return (_noted(desk, said.photo, said.seen) if said.laid == desk.laid else desk), ()


def _noted(desk: Desk, photo_id: str, seen: Examination) -> Desk:
    return replace(desk, examinations={**desk.examinations, photo_id: seen})


def _with_seen(state: Specimen, photo_id: str, seen: Examination, *, only_if_none: bool = False) -> Specimen:
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
        reference = seen.reference
        if reference is not None and reference.source != "found":
            return replace(_called_alike(shot, reference), camera=camera, profile=profile)
        also = (*seen.also, *(one for one in shot.also if one.source != "found"))
        return replace(shot, reference=reference, also=also, camera=camera, profile=profile)
    # A found target is added to what else is marked, and replaces one found earlier.
    others = tuple(one for one in shot.sources if one.kind != "target")
    return replace(shot, sources=(*seen.sources, *others), camera=camera, profile=profile)


HANDLERS = {
    page.SetCorners: _set_corners,
    page.TurnCard: _turn_card,
    page.SayKind: _say_kind,
    page.FitCorners: _fit_corners,
    page.FindCard: _find_card,
    page.TakeForKind: _take_for_kind,
    workers.Fitted: _fitted,
    workers.NotFitted: _not_fitted,
    workers.SearchEnded: _search_ended,
    workers.Examined: _examined,
    workers.Appraised: _appraised,
}
