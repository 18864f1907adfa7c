"""Measurements: tried, added, changed, deleted, and brought up to date."""

from dataclasses import replace
from typing import Any

from measure.desk.messages import AskError, page, tasks, workers
from measure.desk.state import Desk, offer
from measure.desk.update.cards import by_hand
from measure.desk.update.common import Step, committed, followed, is_asked, new_id, on_photo, photo_of, saving
from measure.record import MeasurementEntry, Specimen


def _measurement_of(desk: Desk, measurement_id: str) -> MeasurementEntry:
    """Return the measurement that a message names."""
    for entry in desk.specimen.measurements:
        if entry.id == measurement_id:
            return entry
    raise AskError("This measurement is no longer on the desk.")


def _with_changes(desk: Desk, entry: MeasurementEntry, sent: page.Changes) -> MeasurementEntry:
    changes: dict[str, Any] = {}
    if sent.clicks_px is not None:
        changes["clicks_px"] = on_photo(sent.clicks_px, photo_of(desk, str(entry.photo)))
    if sent.snap is not None:
        changes["snap"] = sent.snap
    if sent.standoff_mm is not None:
        changes["standoff_mm"] = sent.standoff_mm
    if sent.lean is not None:
        changes["lean_std_mm"] = sent.lean[0]
    if sent.standoff_std_mm is not None:
        changes["standoff_std_mm"] = sent.standoff_std_mm
    if changes:
        # Results of the old inputs must not outlive them.
        changes.update(result=None, used_px=(), click_std_px=())
    if sent.name is not None:
        changes["name"] = sent.name or entry.name
    return replace(entry, **changes) if changes else entry


def _drafted(desk: Desk, draft: page.Draft) -> MeasurementEntry:
    specimen, photo = desk.specimen, photo_of(desk, draft.photo)
    entry = MeasurementEntry(
        id=new_id("m", {one.id for one in specimen.measurements}),
        kind=draft.kind,
        photo=photo.id,
        part=draft.part,
        feature=draft.feature,
        name=draft.name or _next_name(specimen, draft.kind),
        extra={} if draft.of is None else _pair(specimen, draft.of, draft.same_standoff),
    )
    return _with_changes(desk, entry, draft.changes)


def _next_name(specimen: Specimen, kind: str) -> str:
    noun = offer(kind).noun.capitalize()
    taken = {one.name for one in specimen.measurements}
    return noun if noun not in taken else new_id(f"{noun} ", taken | {f"{noun} 1"})


def _pair(specimen: Specimen, of: tuple[str, ...], same_standoff: bool) -> dict[str, Any]:
    """Return the two lengths of a difference, and whether both share one error of height."""
    heights = {
        (one.photo, one.standoff_mm, one.standoff_std_mm) for one in specimen.measurements if one.id in of
    }
    return {"of": list(of), "same_standoff": same_standoff and len(heights) == 1}


def _refuse_unsettled(desk: Desk, photo_id: str) -> None:
    """Refuse to measure by an outline of which it is asked what it is."""
    shot = photo_of(desk, photo_id)
    if is_asked(shot, desk.scale(shot.id)):
        raise AskError("Say first, under Scale, what the outline is: lengths depend on it.")


def _add(desk: Desk, said: page.Add, at_s: float) -> Step:
    """Record a new measurement."""
    _refuse_unsettled(desk, said.draft.photo)
    entry = _drafted(desk, said.draft)
    after = replace(desk.specimen, measurements=(*desk.specimen.measurements, entry))
    join = f"add:{said.draft.photo}" if said.join else ""
    desk, todo = committed(desk, after, "new measurement", at_s, join=join)
    return desk, (*todo, tasks.Answer(id=entry.id))


def _change(desk: Desk, said: page.Change, at_s: float) -> Step:
    """Change a recorded measurement."""
    old = _measurement_of(desk, said.id)
    new = _with_changes(desk, old, said.changes)
    measurements = tuple(new if one is old else one for one in desk.specimen.measurements)
    after = replace(desk.specimen, measurements=measurements)
    join = f"change:{said.id}" if said.join else ""
    desk, todo = committed(desk, after, "change of a measurement", at_s, join=join)
    return desk, (*todo, tasks.Answer(id=old.id))


def _delete(desk: Desk, said: page.Delete, at_s: float) -> Step:
    """Delete a measurement."""
    old = _measurement_of(desk, said.id)
    kept = tuple(one for one in desk.specimen.measurements if one is not old)
    return committed(desk, replace(desk.specimen, measurements=kept), "deleted measurement", at_s)


def _try_draft(desk: Desk, said: page.TryDraft, at_s: float) -> Step:
    """Measure what is not recorded yet."""
    _refuse_unsettled(desk, said.draft.photo)
    entry = _drafted(desk, said.draft)
    return desk, (tasks.TryMeasurement(photo_of(desk, said.draft.photo), entry),)


def _try_change(desk: Desk, said: page.TryChange, at_s: float) -> Step:
    """Measure what is recorded with changes."""
    entry = _with_changes(desk, _measurement_of(desk, said.id), said.changes)
    if entry.photo is None:
        raise AskError("This length was not measured on a photo.")
    return desk, (tasks.TryMeasurement(photo_of(desk, entry.photo), entry),)


def _tried(desk: Desk, said: workers.Tried, at_s: float) -> Step:
    """Answer with what was tried."""
    return desk, (tasks.Answer(reading=said.reading),)


def _try_corners(desk: Desk, said: page.TryCorners, at_s: float) -> Step:
    """Measure with other corners."""
    photo = photo_of(desk, said.photo)
    moved = replace(photo, reference=by_hand(photo, said.corners_px, said.kind))
    return desk, (tasks.TryCorners(desk.specimen, moved),)


def _corners_tried(desk: Desk, said: workers.CornersTried, at_s: float) -> Step:
    """Answer with what other corners give."""
    return desk, (tasks.Answer(tried=said),)


def _measured(desk: Desk, said: workers.Measured, at_s: float) -> Step:
    """Take the readings of the present state up."""
    history = desk.history.settle(said.specimen)
    desk = replace(desk, history=history, readings=said.readings, scales=said.scales)
    return (desk, saving(desk)) if said.quiet else followed(desk)


def _refresh(desk: Desk, said: workers.Refresh, at_s: float) -> Step:
    """Measure again what could not be measured before."""
    return desk, (tasks.Measure(desk.specimen, desk.readings, said.quiet),)


HANDLERS = {
    page.Add: _add,
    page.Change: _change,
    page.Delete: _delete,
    page.TryDraft: _try_draft,
    page.TryChange: _try_change,
    page.TryCorners: _try_corners,
    workers.Tried: _tried,
    workers.CornersTried: _corners_tried,
    workers.Measured: _measured,
    workers.Refresh: _refresh,
}
