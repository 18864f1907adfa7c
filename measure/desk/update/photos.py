"""Photos: taken in, opened, taken off."""

from dataclasses import replace

from measure.desk.messages import page, tasks, workers
from measure.desk.state import Desk, Standing, named, resolved, stem
from measure.desk.update.cards import searched
from measure.desk.update.common import Step, Tasks, committed, new_id, photo_of, record_first
from measure.record import PhotoEntry, Specimen
from measure.texts import clean_text

# The step by which photos are taken off.
REMOVED = "removed photo"


def _upload(desk: Desk, said: page.UploadPhoto, at_s: float) -> Step:
    """Keep a photo beside the record, then open it like any other."""
    first = record_first(desk, said)
    return desk, first or (tasks.KeepPhoto(said.name, said.data),)


def _open_photo(desk: Desk, said: page.OpenPhoto, at_s: float) -> Step:
    """Open a photo and wait for its size."""
    path = str(said.path)
    if first := record_first(desk, said, path):
        return desk, first
    answer = tasks.Answer(named=(("name", said.path.name),))
    if any(resolved(one.file, str(desk.folder)) == path for one in desk.specimen.photos):
        return desk, (answer,)
    pending = desk.pending if path in desk.pending else (*desk.pending, path)
    return replace(desk, pending=pending), (tasks.OpenPictures((path,)), answer)


def _remove(desk: Desk, said: page.RemovePhoto, at_s: float) -> Step:
    """Take a photo off the desk; with the last one the record is left as it was."""
    specimen, photo = desk.specimen, photo_of(desk, said.photo)
    photos = tuple(one for one in specimen.photos if one is not photo)
    if not photos and not desk.pending:
        return desk, (tasks.LeaveWhole(desk, desk.history.before(REMOVED)),)
    kept = tuple(one for one in specimen.measurements if one.photo != photo.id)
    return committed(desk, replace(specimen, photos=photos, measurements=kept), REMOVED, at_s)


def _seen(desk: Desk, said: workers.PicturesSeen, at_s: float) -> Step:
    """Take up how far photos have come that were asked for; that one is ready is told by `PictureChanged`."""
    todo: Tasks = ()
    for path, standing in said.standings.items():
        known = desk.pictures.get(path)
        if known is None:
            known = replace(standing, stage="preview") if standing.stage == "ready" else standing
            desk = replace(desk, pictures={**desk.pictures, path: known})
        if path in desk.pending:
            desk, more = _joined(desk, path, known)
            todo += more
            if known.stage == "ready" and more:  # it was on the desk before
                desk, more = _developed(desk, desk.specimen.photos[-1], path, known)
                todo += more
    return desk, _measured_once(desk, todo)


def _changed(desk: Desk, said: workers.PictureChanged, at_s: float) -> Step:
    """Take up that the opening of a photo has come further."""
    path, standing = said.path, said.standing
    fresh = path not in desk.pictures or desk.pictures[path].stage != "ready"
    desk = replace(desk, pictures={**desk.pictures, path: standing})
    todo: Tasks = ()
    if path in desk.pending:
        desk, todo = _joined(desk, path, standing)
    if standing.stage == "ready" and fresh and desk.folder is not None:
        for shot in desk.specimen.photos:
            if resolved(shot.file, desk.folder) == path:
                desk, more = _developed(desk, shot, path, standing)
                todo += more
    return desk, _measured_once(desk, todo)


def _opening_failed(desk: Desk, said: workers.OpeningFailed, at_s: float) -> Step:
    """Tell of a fault of the program, and wait no longer for the photo that it met."""
    pending = tuple(path for path in desk.pending if path not in said.standings)
    desk = replace(desk, pictures={**desk.pictures, **said.standings}, pending=pending)
    return desk.noticed(said.text, wrong=True), (tasks.Say(said.text),)


def _told(desk: Desk, said: workers.Told, at_s: float) -> Step:
    """Tell what went wrong."""
    return desk.noticed(said.text, wrong=True), (tasks.Say(said.text),)


def _learn(desk: Desk, said: workers.Learned, at_s: float) -> Step:
    """Change all states alike."""
    desk = replace(desk, history=desk.history.amend(said.change))
    return desk, (tasks.Hear(workers.Refresh()),)


def _joined(desk: Desk, path: str, standing: Standing) -> Step:
    """Let a photo that was waited for join the record once its size is known."""
    waiting = tuple(one for one in desk.pending if one != path)
    if standing.stage == "failed":
        text = standing.trouble or "The photo can't be opened."
        return replace(desk, pending=waiting).noticed(text, wrong=True), ()
    if not standing.width_px or desk.folder is None:
        return desk, ()
    shot_id = new_id("photo-", {one.id for one in desk.specimen.photos})
    file = named(path, desk.folder)
    entry = PhotoEntry(shot_id, file, standing.sha256, standing.width_px, standing.height_px)

    def add(state: Specimen) -> Specimen:
        words = clean_text(stem(path)).replace("_", " ").replace("-", " ")
        name = state.name or words.capitalize()
        return replace(state, name=name, photos=(*state.photos, entry))

    return replace(desk, pending=waiting, history=desk.history.amend(add)), (tasks.Hear(workers.Refresh()),)


def _developed(desk: Desk, shot: PhotoEntry, path: str, standing: Standing) -> Step:
    """Examine a photo just opened: search for a card, or judge the recorded one."""
    size = (standing.width_px, standing.height_px)
    refresh: Tasks = ()
    if (shot.width_px, shot.height_px) != size and shot.reference is None:
        sized = {"width_px": size[0], "height_px": size[1]}
        desk = replace(desk, history=desk.history.amend(lambda state: _resized(state, shot.id, sized)))
        refresh = (tasks.Hear(workers.Refresh()),)
    for text in standing.cautions:
        desk = desk.noticed(f"{clean_text(_file_name(path))}: {text}", wrong=True)
    if shot.has_scale:
        return desk, (tasks.Appraise(shot.id), tasks.Hear(workers.Refresh()))
    desk, search = searched(desk, shot.id, None, alone=True)
    return desk, (*search, *refresh)


def _file_name(path: str) -> str:
    return path.replace("\\", "/").rsplit("/", 1)[-1]


def _resized(state: Specimen, photo_id: str, size_px: dict[str, int]) -> Specimen:
    photos = tuple(
        replace(one, width_px=size_px["width_px"], height_px=size_px["height_px"])
        if one.id == photo_id
        else one
        for one in state.photos
    )
    return replace(state, photos=photos)


def _measured_once(desk: Desk, todo: Tasks) -> Tasks:
    """Return the tasks with at most one that measures, at the end."""
    again = tasks.Hear(workers.Refresh())
    return (*(one for one in todo if one != again), *((again,) if again in todo else ()))


HANDLERS = {
    page.UploadPhoto: _upload,
    page.OpenPhoto: _open_photo,
    page.RemovePhoto: _remove,
    workers.PicturesSeen: _seen,
    workers.PictureChanged: _changed,
    workers.OpeningFailed: _opening_failed,
    workers.Told: _told,
    workers.Learned: _learn,
}
