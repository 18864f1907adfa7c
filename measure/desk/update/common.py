"""What the topics of `update` share: finding things, making a new state, what follows from it."""

from collections.abc import Callable
from dataclasses import replace
from typing import TYPE_CHECKING

from measure.desk.messages import AskError, tasks, within
from measure.desk.state import Desk
from measure.record import PhotoEntry, Point, Specimen

if TYPE_CHECKING:
    from measure.kinds import Scale

Tasks = tuple[tasks.AtOnce | tasks.Later, ...]
Step = tuple[Desk, Tasks]


def photo_of(desk: Desk, photo_id: str) -> PhotoEntry:
    """Return the photo that a message names."""
    try:
        return desk.specimen.photo(photo_id)
    except KeyError as error:
        raise AskError("This photo is no longer on the desk.") from error


def on_photo(points: tuple[Point, ...], photo: PhotoEntry, *, margin: float = 0.0) -> tuple[Point, ...]:
    """Return points that lie on the photo, or within `margin` of its size beside it."""
    for x_px, y_px in points:
        within(x_px, "x", -0.5 - margin * photo.width_px, (1 + margin) * photo.width_px - 0.5)
        within(y_px, "y", -0.5 - margin * photo.height_px, (1 + margin) * photo.height_px - 0.5)
    return points


def with_photo(specimen: Specimen, photo: PhotoEntry) -> Specimen:
    """Return the specimen with the photo of this id replaced."""
    photos = tuple(photo if one.id == photo.id else one for one in specimen.photos)
    return replace(specimen, photos=photos)


def new_id(prefix: str, taken: set[str]) -> str:
    """Return the first of prefix1, prefix2, … that is free."""
    return next(name for number in range(1, 10**6) if (name := f"{prefix}{number}") not in taken)


def is_asked(shot: PhotoEntry, scale: "Scale | None") -> bool:
    """Tell whether it is still asked what the outline is that gives a photo's scale."""
    from calibration.cards import is_doubtful

    return (
        scale is not None
        and shot.reference is not None
        and not shot.reference.said
        and is_doubtful(scale.found[0])
    )


# ---- new states ----


def committed(desk: Desk, after: Specimen, title: str, at_s: float, *, join: str = "") -> Step:
    """Make a new state of the record: it is measured, judged and saved."""
    history = desk.history.push(after, title, join=join, at_s=at_s)
    return replace(desk, history=history), (tasks.Measure(after, desk.readings),)


def learned(desk: Desk, change: Callable[[Specimen], Specimen]) -> Step:
    """Change all states alike: for what the desk finds out itself, which undo must not revert."""
    desk = replace(desk, history=desk.history.amend(change))
    return desk, (tasks.Measure(desk.specimen, desk.readings),)


def followed(desk: Desk) -> Step:
    """Return what follows from a changed state: it is judged and saved."""
    desk, judging = judged_anew(replace(desk, version=desk.version + 1))
    return desk, (*judging, *saving(desk))


def judged_anew(desk: Desk) -> Step:
    """Judge the present state again; a verdict without findings goes."""
    specimen = desk.specimen
    if desk.sheet is not None and _anything_to_judge(specimen):
        return desk, (tasks.Judge(),)
    if specimen.verdict is not None:
        desk = replace(desk, history=desk.history.settle(replace(specimen, verdict=None)))
    return replace(desk, verdict_trouble=None), (tasks.DropJudging(),)


def _anything_to_judge(specimen: Specimen) -> bool:
    measured = any(one.part is not None and one.result is not None for one in specimen.measurements)
    return measured or bool(specimen.observations)


def saving(desk: Desk) -> Tasks:
    """Return what keeps the present state, if it is worth it."""
    if not desk.worth_keeping:
        return ()
    if desk.folder is None and not desk.is_bare:
        return (tasks.PlaceRecord(),)
    return (tasks.Save(),)


def record_first(desk: Desk, then: object, photo: str | None = None) -> Tasks:
    """Return what a message needs that goes into the record, where none is there for it; else nothing."""
    if desk.is_bare:
        return (tasks.BeginRecord(desk, then, photo),)
    return (tasks.PlaceRecord(photo, then),) if desk.folder is None else ()
