"""What else gives a photo's scale: coins, rules, known lengths, further cards, the target, cameras."""

from dataclasses import replace
from typing import TypeVar

from calibration.objects import object_from_key
from calibration.sources import COINS
from measure.desk.messages import AskError, page, tasks, workers
from measure.desk.state import RULES_JSON, Desk
from measure.desk.update.common import Step, committed, on_photo, photo_of, with_photo
from measure.record import PhotoEntry, Point, ReferenceEntry, SourceEntry

_T = TypeVar("_T")


def _add_source(desk: Desk, said: page.AddSource, at_s: float) -> Step:
    """Add a coin, a rule, a known length, a feature or the printed target."""
    shot = photo_of(desk, said.photo)
    source = _described(desk, said.source, on_photo(said.marks_px, shot))
    return _made(desk, replace(shot, sources=(*shot.sources, source)), "what gives the scale")


def _prefer(desk: Desk, said: page.PreferSource, at_s: float) -> Step:
    """Measure heights from another of the sources."""
    shot = photo_of(desk, said.photo)
    at = _place(said.number, shot.sources)
    sources = (shot.sources[at], *_without(shot.sources, at))
    return _made(desk, replace(shot, sources=sources), "what gives the scale")


def _nearer(desk: Desk, said: page.NearerSide, at_s: float) -> Step:
    """Note which side of a coin is nearer to the camera."""
    shot = photo_of(desk, said.photo)
    at = _place(said.number, shot.sources)
    (point,) = on_photo((said.nearer_px,), shot)
    told = replace(shot.sources[at], nearer_px=point)
    sources = (*shot.sources[:at], told, *shot.sources[at + 1 :])
    return _made(desk, replace(shot, sources=sources), "nearer side of a coin")


def _printed(desk: Desk, said: page.PrintedLengths, at_s: float) -> Step:
    """Record the measured lengths of the printed target's check rules."""
    shot = photo_of(desk, said.photo)
    at = next((n for n, one in enumerate(shot.sources) if one.kind == "target"), None)
    target = SourceEntry("target") if at is None else shot.sources[at]
    others = shot.sources if at is None else _without(shot.sources, at)
    sources = (replace(target, printed_mm=said.lengths_mm), *others)
    return _made(desk, replace(shot, sources=sources), "printed target")


def _second_card(desk: Desk, said: page.SecondCard, at_s: float) -> Step:
    """Add a further card or sheet by its corners."""
    shot = photo_of(desk, said.photo)
    corners = on_photo(said.corners_px, shot, margin=0.5)
    return desk, (tasks.RefineCard(shot, object_from_key(said.kind).key, corners),)


def _straight(desk: Desk, said: page.AddStraight, at_s: float) -> Step:
    """Add an edge that is straight in reality."""
    shot = photo_of(desk, said.photo)
    line = on_photo(said.points_px, shot)
    return _made(desk, replace(shot, straight_px=(*shot.straight_px, line)), "straight edge")


def _use_camera(desk: Desk, said: page.UseCamera, at_s: float) -> Step:
    """Use another camera profile, or none."""
    return desk, (tasks.ChangeCamera(photo_of(desk, said.photo), said.profile),)


def _leave_out(desk: Desk, said: page.LeaveOut, at_s: float) -> Step:
    """Leave out one of the things that give the scale, or a straight edge."""
    shot = photo_of(desk, said.photo)
    if said.what == "card":
        # What was combined with the card now stands alone.
        kept = replace(shot, reference=shot.also[0] if shot.also else None, also=shot.also[1:])
    elif said.what == "also":
        kept = replace(shot, also=_without(shot.also, _place(said.number, shot.also)))
    elif said.what == "source":
        kept = replace(shot, sources=_without(shot.sources, _place(said.number, shot.sources)))
    else:
        at = _place(said.number, shot.straight_px)
        kept = replace(shot, straight_px=_without(shot.straight_px, at))
    desk, todo = committed(desk, with_photo(desk.specimen, kept), "removal of what gave the scale", at_s)
    return desk, (*todo, tasks.Answer(say="Left out. Undo brings it back."))


def _scale_made(desk: Desk, said: workers.ScaleMade, at_s: float) -> Step:
    """Take up a photo's new state, which gives a scale."""
    desk, todo = committed(desk, with_photo(desk.specimen, said.shot), said.title, at_s)
    return desk, (*todo, tasks.Appraise(said.shot.id), tasks.Answer(given=said.shot.id))


def _made(desk: Desk, shot: PhotoEntry, title: str) -> Step:
    return desk, (tasks.MakeScale(shot, title),)


def _described(desk: Desk, wish: page.SourceWish, marks: tuple[Point, ...]) -> SourceEntry:
    kind, key = wish.kind, wish.key
    if kind == "coin" and key in COINS and COINS[key].round:
        return SourceEntry("coin", key, marks)
    if kind == "rule" and any(one["key"] == key for one in RULES_JSON):
        return SourceEntry("rule", key, marks)
    if kind == "length":
        return SourceEntry("length", None, marks, length_mm=wish.length_mm, length_std_mm=wish.length_std_mm)
    if kind == "feature":
        return _feature(desk, wish.part, wish.feature, marks)
    if kind == "target":
        return SourceEntry("target")
    raise AskError("source: expected a coin, a rule, a known length, a feature or the target")


def _feature(desk: Desk, part: str, feature: str, marks: tuple[Point, ...]) -> SourceEntry:
    from measure.scale import common_length

    if desk.sheet is None:
        raise AskError("Choose a release sheet under Measure, “Compare with”, first.")
    length_mm, std_mm = common_length(desk.sheet, part, feature)
    return SourceEntry(
        "feature",
        marks_px=marks,
        length_mm=length_mm,
        length_std_mm=std_mm,
        sheet=desk.mark,
        part=part,
        feature=feature,
    )


def _place(
    number: int, items: tuple[SourceEntry, ...] | tuple[ReferenceEntry, ...] | tuple[tuple[Point, ...], ...]
) -> int:
    if number >= len(items):
        raise AskError("This is no longer on the desk.")
    return number


def _without(items: tuple[_T, ...], at: int) -> tuple[_T, ...]:
    return (*items[:at], *items[at + 1 :])


HANDLERS = {
    page.AddSource: _add_source,
    page.PreferSource: _prefer,
    page.NearerSide: _nearer,
    page.PrintedLengths: _printed,
    page.SecondCard: _second_card,
    page.AddStraight: _straight,
    page.UseCamera: _use_camera,
    page.LeaveOut: _leave_out,
    workers.ScaleMade: _scale_made,
}
