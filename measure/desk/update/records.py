"""Which record is on the desk, its sheet and its verdict: each toy has a record of its own."""

from dataclasses import replace

from measure.desk.messages import AskError, page, tasks, workers
from measure.desk.state import Desk, History
from measure.desk.update.common import Step, Tasks, committed, followed, judged_anew, record_first, saving
from measure.desk.update.note import laid_out, opened
from measure.desk.update.photos import REMOVED
from measure.record import Specimen

# ---- records ----


def _start(desk: Desk, said: workers.Started, at_s: float) -> Step:
    """Lay out the record that the desk was opened on."""
    history = desk.history if said.found is None else History((said.found,))
    desk = replace(desk, history=history, folder=said.folder)
    specimen = desk.specimen
    sheet: Tasks = ()
    if said.sheet is not None:
        sheet = (tasks.ReadSheet(said.sheet, "given", specimen),)
    elif specimen.sheet is not None:
        sheet = (tasks.ReadSheet(specimen.sheet, "first", specimen),)
    return desk, (*sheet, opened(desk), tasks.Hear(workers.Refresh(quiet=True)))


def _placed(desk: Desk, said: workers.RecordPlaced, at_s: float) -> Step:
    """Go on once there is a place for the record."""
    desk = replace(desk, folder=said.folder)
    return desk, saving(desk) if said.then is None else (tasks.Hear(said.then),)


def _moved(desk: Desk, said: workers.Moved, at_s: float) -> Step:
    """Let the record be at another place."""
    return replace(desk, folder=said.folder), ()


def _begun(desk: Desk, said: workers.RecordBegun, at_s: float) -> Step:
    """Go on with a new record."""
    desk = _laid(desk, Specimen("", sheet=said.sheet), said.folder)
    if said.sheet is not None:
        desk = replace(desk, mark=said.sheet)
    if said.told is not None:
        desk = desk.noticed(said.told)
    return desk, (tasks.Forget(), tasks.Hear(said.then))


def _cleared(desk: Desk, said: workers.Cleared, at_s: float) -> Step:
    """Show the desk without photos; their record stays as it was, and what comes next begins another."""
    bare = Specimen("", sheet=said.sheet)
    history = desk.history.push(bare, REMOVED)
    return followed(replace(desk, history=history, bare=bare, whole=said.whole, mark=said.sheet or ""))


def _open_record(desk: Desk, said: page.OpenRecord, at_s: float) -> Step:
    """Take up an earlier record."""
    return desk, (tasks.TakeUp(desk, said.handle),)


def _record_opened(desk: Desk, said: workers.RecordOpened, at_s: float) -> Step:
    """Lay another record on the desk."""
    desk = _laid(desk, said.specimen, said.folder)
    return desk, (tasks.Forget(), *laid_out(desk))


def _open_sample(desk: Desk, said: page.OpenSample, at_s: float) -> Step:
    """Fetch a sample."""
    return desk, (tasks.FetchSample(said.handle),)


def _sample_fetched(desk: Desk, said: workers.SampleFetched, at_s: float) -> Step:
    """Lay a sample on the desk: a toy of its own."""
    specimen = desk.specimen
    if desk.is_bare or specimen.photos or specimen.measurements or specimen.observations:
        return desk, (tasks.BeginRecord(desk, said),)
    sheet: Tasks = ()
    if specimen.sheet is None and said.sheet is not None:
        sheet = (tasks.ReadSheet(said.sheet, "learned", specimen),)
    if not specimen.name:
        desk = replace(desk, history=desk.history.amend(lambda state: replace(state, name=said.name)))
    photos = (tasks.Hear(page.UploadPhoto(name, data)) for name, data in said.photos)
    return desk, (*sheet, *saving(desk), *photos)


def _write_up(desk: Desk, said: page.WriteUp, at_s: float) -> Step:
    """Write the record up."""
    if desk.is_bare or desk.folder is None or not desk.specimen.photos:
        raise AskError("There is nothing to write up yet: open a photo and measure first.")
    return desk, (tasks.WriteUp(),)


def _laid(desk: Desk, specimen: Specimen, folder: str) -> Desk:
    """Put another record's state on the desk, and forget what was known of the one before."""
    return replace(
        desk,
        history=History((specimen,)),
        folder=folder,
        laid=desk.laid + 1,
        bare=None,
        examinations={},
        searching=frozenset(),
        readings={},
        scales={},
    )


# ---- its sheet ----


def _choose_sheet(desk: Desk, said: page.ChooseSheet, at_s: float) -> Step:
    """Use another sheet, from those on offer."""
    return desk, (tasks.ReadSheet(said.sheet, "offered", desk.specimen, anywhere=desk.is_bare),)


def _upload_sheet(desk: Desk, said: page.UploadSheet, at_s: float) -> Step:
    """Keep a sheet beside the record and use it."""
    return desk, record_first(desk, said) or (tasks.KeepSheet(said.name, said.data),)


def _sheet_read(desk: Desk, said: workers.SheetRead, at_s: float) -> Step:
    """Lay a sheet on the desk."""
    if said.how in ("chosen", "uploaded"):
        return _sheet_chosen(desk, said, at_s)
    desk = replace(desk, sheet=said.sheet, mark=said.key or "")
    if said.how == "learned":
        desk = replace(desk, history=desk.history.amend(lambda state: replace(state, sheet=said.key)))
    if said.showable:
        return desk, ()
    # A recorded verdict that can't be shown is recomputed.
    return judged_anew(replace(desk, history=desk.history.settle(replace(desk.specimen, verdict=None))))


def _sheet_chosen(desk: Desk, said: workers.SheetRead, at_s: float) -> Step:
    if desk.is_bare:
        return desk, record_first(desk, said)
    desk = replace(desk, sheet=said.sheet, mark=said.key or "")
    after = replace(desk.specimen, sheet=said.key, verdict=None)
    desk, todo = committed(desk, after, "choice of sheet", at_s)
    named = (("sheet", str(said.key)),) if said.how == "uploaded" else ()
    return desk, (*todo, tasks.Answer(named=named))


def _sheet_refused(desk: Desk, said: workers.SheetRefused, at_s: float) -> Step:
    """Go on without the record's sheet, which can't be used."""
    return replace(desk, sheet=None, mark="").noticed(said.why, wrong=True), ()


# ---- its verdict ----


def _judged(desk: Desk, said: workers.Judged, at_s: float) -> Step:
    """Take up a verdict, if it is on the present state."""
    if desk.specimen is not said.specimen:
        return desk, ()
    history = desk.history.settle(replace(desk.specimen, verdict=said.verdict))
    desk = replace(desk, history=history, verdict_trouble=said.trouble)
    return desk, saving(desk)


def _judging_failed(desk: Desk, said: workers.JudgingFailed, at_s: float) -> Step:
    """Tell that no verdict could be made."""
    desk = replace(desk, verdict_trouble=said.why)
    return desk.noticed(said.why, wrong=True), (tasks.Say(said.why),)


HANDLERS = {
    workers.Started: _start,
    workers.RecordPlaced: _placed,
    workers.Moved: _moved,
    workers.RecordBegun: _begun,
    workers.Cleared: _cleared,
    page.OpenRecord: _open_record,
    workers.RecordOpened: _record_opened,
    page.OpenSample: _open_sample,
    workers.SampleFetched: _sample_fetched,
    page.WriteUp: _write_up,
    page.ChooseSheet: _choose_sheet,
    page.UploadSheet: _upload_sheet,
    workers.SheetRead: _sheet_read,
    workers.SheetRefused: _sheet_refused,
    workers.Judged: _judged,
    workers.JudgingFailed: _judging_failed,
}
