"""Notes on the specimen: its name, what was counted and seen; and steps back and forth."""

from dataclasses import replace

from measure.desk.messages import page, tasks, workers
from measure.desk.state import Desk, resolved
from measure.desk.update.common import Step, Tasks, committed, record_first
from measure.record import ObservationEntry


def _observe(desk: Desk, said: page.Observe, at_s: float) -> Step:
    """Note a count, a trait, or that a part is missing."""
    if first := record_first(desk, said) if desk.is_bare else ():
        return desk, first
    specimen = desk.specimen
    noted = tuple(
        one for one in specimen.observations if (one.part, one.feature) != (said.part, said.feature)
    )
    if said.state != "clear" and not (said.state == "seen" and said.value is None):
        value = said.value if said.state == "seen" else None
        noted = (*noted, ObservationEntry(said.part, said.feature, value, said.state))
    return committed(desk, replace(specimen, observations=noted), "note", at_s)


def _rename(desk: Desk, said: page.Rename, at_s: float) -> Step:
    """Name the specimen, or write a note on it."""
    if first := record_first(desk, said) if desk.is_bare else ():
        return desk, first
    specimen = desk.specimen
    after = replace(
        specimen,
        name=said.name or specimen.name,
        note=specimen.note if said.note is None else said.note,
    )
    return committed(desk, after, "name", at_s, join="name" if said.join else "")


def _undo(desk: Desk, said: page.Undo, at_s: float) -> Step:
    """Take the last step back."""
    return _stepped(desk, replace(desk, history=desk.history.undo()))


def _redo(desk: Desk, said: page.Redo, at_s: float) -> Step:
    """Bring the step back that was taken back."""
    return _stepped(desk, replace(desk, history=desk.history.redo()))


def _stepped(before: Desk, after: Desk) -> Step:
    moved = before.history.place != after.history.place
    return after, laid_out(after) if moved else ()


def laid_out(desk: Desk) -> Tasks:
    """Return what opens the photos and the sheet of the present state, and measures it.

    Parameters
    ----------
    desk : Desk
        What is on the desk.

    Returns
    -------
    tuple of tasks
    """
    specimen = desk.specimen
    known = desk.sheet is not None and specimen.sheet == desk.mark
    sheet = () if known else (tasks.ReadSheet(specimen.sheet, "laid", specimen),)
    return opened(desk), *sheet, tasks.Hear(workers.Refresh())


def opened(desk: Desk) -> tasks.OpenPictures:
    """Return what opens the photos of the present state.

    Parameters
    ----------
    desk : Desk
        What is on the desk.

    Returns
    -------
    OpenPictures
    """
    folder = desk.folder
    photos = () if folder is None else desk.specimen.photos
    return tasks.OpenPictures(tuple(resolved(one.file, str(folder)) for one in photos))


HANDLERS = {page.Observe: _observe, page.Rename: _rename, page.Undo: _undo, page.Redo: _redo}
