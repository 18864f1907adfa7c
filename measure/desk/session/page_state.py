"""Everything the page shows, as one JSON value rebuilt after each change."""

from dataclasses import replace
from typing import TYPE_CHECKING, Any, Protocol

from calibration.objects import CARD_OBJECTS
from measure.desk.changes import OFFERS_JSON, SCALE_KINDS_JSON, History, Notices
from measure.desk.failures import sentence
from measure.desk.library import Library, folders
from measure.desk.photos import PhotoStore, cautions_on, grade
from measure.desk.session.in_hand import InHand
from measure.desk.session.judgement import Judgement
from measure.desk.session.measures import Measures
from measure.desk.session.scale_sources import COINS_JSON, RULES_JSON, camera_json
from measure.desk.session.writing import KeptFiles
from measure.desk.view import (
    ScaleViews,
    budget_json,
    card_words,
    plain_name,
    question,
    snap_text,
    texts,
    verdict_json,
)
from measure.kinds import LEAN_STD_MM
from measure.record import MeasurementEntry, PhotoEntry, Specimen

if TYPE_CHECKING:
    from pathlib import Path


class Shown(Protocol):
    """What is read from the session."""

    history: History[Specimen]
    measures: Measures
    photo_store: PhotoStore
    notices: Notices
    scale_views: ScaleViews
    library: Library
    kept: KeptFiles
    judgement: Judgement
    in_hand: InHand
    version: int

    @property
    def record(self) -> "Path | None":
        """Where the present state is kept."""

    def complain(self, text: str) -> None:
        """Say something on the terminal, once."""

    @property
    def specimen(self) -> Specimen:
        """The present state."""


def state_json(desk: Shown) -> dict[str, Any]:
    """Return the page's state."""
    specimen = desk.specimen
    judged, sheet = desk.judgement.verdict, desk.judgement.sheet
    verdict = None if judged is None or sheet is None else verdict_json(judged, specimen, sheet)
    return {
        "version": desk.version,
        "name": specimen.name,
        "note": specimen.note,
        "laid": desk.in_hand.laid,
        "record": str(desk.record) if desk.record else None,
        # A record that isn't there yet would be opened empty.
        "reopen": folders.reopening(desk.record) if desk.record and desk.record.exists() else None,
        "saved": _saved(desk),
        "moved": _moved(desk),
        "left": _left(desk),
        "undo": desk.history.undo_name,
        "redo": desk.history.redo_name,
        "sheet": specimen.sheet,
        "sheet_mark": desk.judgement.mark,
        "sheets": desk.library.sheets_json(desk.record, specimen.sheet),
        "kinds": OFFERS_JSON,
        "scale_kinds": SCALE_KINDS_JSON,
        "card_kinds": _card_kinds(),
        "coins": COINS_JSON,
        "rules": RULES_JSON,
        "opening": desk.photo_store.opening(),
        "photos": [_photo_or_trouble(desk, one) for one in specimen.photos],
        "measurements": [_measurement(desk, one) for one in specimen.measurements],
        "observations": [
            {"part": one.part, "feature": one.feature, "value": one.value, "state": one.state}
            for one in specimen.observations
        ],
        "verdict": verdict,
        "judging": desk.judgement.busy,
        "verdict_trouble": desk.judgement.trouble,
        "samples": desk.library.samples_json(),
        "records": desk.library.records_json(),
        "kept": [] if desk.in_hand.bare else desk.kept.to_json(),
        "kept_in": str(desk.kept.folder) if desk.kept.folder and not desk.in_hand.bare else None,
        "notices": desk.notices.to_json(),
    }


def _saved(desk: Shown) -> dict[str, str | None]:
    why = desk.in_hand.keeper.why()
    if why is not None:
        return {"mark": "wrong", "text": "Not saved", "why": why}
    if not desk.in_hand.anything:
        return {"mark": "none", "text": "Nothing to save yet", "why": None}
    if desk.in_hand.saved:
        return {"mark": "good", "text": "Saved", "why": None}
    return {"mark": "busy", "text": "Saving…", "why": None}


def _moved(desk: Shown) -> dict[str, str | None] | None:
    """Say that the record is another than the one opened; that one is offered unless another desk has it."""
    moved = desk.in_hand.keeper.moved
    if moved is None or desk.in_hand.bare:
        return None
    handle = None if moved.in_use else desk.library.handle(moved.opened)
    return {"text": moved.text, "name": moved.opened.name, "open": handle}


def _left(desk: Shown) -> dict[str, str] | None:
    left = desk.in_hand.left
    return None if left is None else {"name": left[0], "record": str(left[1])}


def _card_kinds() -> list[dict[str, str]]:
    return [
        {
            "key": one.key,
            "name": _capital(plain_name(one.name)),
            "size": f"{one.width_mm:g} × {one.height_mm:g} mm",
        }
        for one in CARD_OBJECTS
    ]


def _capital(name: str) -> str:
    return f"{name[:1].upper()}{name[1:]}"


def _photo_or_trouble(desk: Shown, shot: PhotoEntry) -> dict[str, Any]:
    """Return what the page shows of a photo; one that can't be shown leaves the others to be worked on."""
    try:
        return _photo(desk, shot)
    except Exception as error:  # a record may hold what no check thought of
        text = sentence(f"Showing {shot.file}", error)
        desk.complain(text)
        bare = replace(shot, reference=None, also=(), sources=(), straight_px=(), camera=None)
        return {**_photo(desk, bare), "stage": "failed", "trouble": text, "looking": False}


def _photo(desk: Shown, shot: PhotoEntry) -> dict[str, Any]:
    picture = desk.photo_store.picture(shot)
    seen = desk.photo_store.cards.examination_of(shot)
    scale, trouble = desk.measures.scale_or_reason(shot)
    photo = picture.photo if picture else None
    # Between the decoding and the beginning of the search nothing is known yet either.
    waiting = picture is None or (picture.stage != "failed" and not picture.taken_up)
    looking = desk.photo_store.cards.searching(shot.id)
    found = {
        "id": shot.id,
        "name": shot.file.rsplit("/", 1)[-1],
        "width": picture.width_px if picture and picture.width_px else shot.width_px,
        "height": picture.height_px if picture and picture.height_px else shot.height_px,
        "handle": picture.handle if picture else "",
        "stage": picture.stage if picture else "opening",
        "trouble": picture.trouble if picture else None,
        "changed": bool(picture and picture.sha256 and picture.sha256 != shot.sha256),
        "looking": looking or (waiting and not shot.has_scale),
        "card": None,
        "cautions": list(cautions_on(seen, scale, photo)) if scale is not None else [],
        **desk.scale_views.of(shot, scale, trouble),
        "camera": camera_json(shot, photo),
        "why": seen.reason if seen else None,
        "suggested_px": None,
        "grade": None if looking else grade(seen, scale, photo),
        "facts": _photo_facts(shot, photo),
    }
    if shot.reference is None:
        if seen is not None and seen.suggested_px is not None:
            found["suggested_px"] = [list(point) for point in seen.suggested_px]
        return found
    headline, facts = card_words(shot.reference, scale)
    corners = shot.reference.corners_px
    found["card"] = {
        "kind": shot.reference.kind,
        "width_mm": shot.reference.width_mm,
        "height_mm": shot.reference.height_mm,
        "corners_px": [list(point) for point in corners] if corners else None,
        "headline": headline,
        "facts": facts,
    }
    return found


def _photo_facts(shot: PhotoEntry, photo: Any) -> list[list[str]]:
    size = f"{shot.width_px} × {shot.height_px} pixels, {shot.width_px * shot.height_px / 1e6:.1f} megapixels"
    facts = [["Size", size]]
    if photo is not None:
        maker = " ".join(word for word in (photo.exif.make, photo.exif.model) if word)
        if maker:
            facts.append(["Camera", maker])
        if photo.exif.taken:
            facts.append(["Taken", photo.exif.taken])
    return facts


def _asked(desk: Shown, entry: MeasurementEntry) -> bool:
    """Tell whether it is still asked what the outline is by which this was measured."""
    shot = next((one for one in desk.specimen.photos if one.id == entry.photo), None)
    return shot is not None and question(shot, desk.measures.scale(shot)) is not None


def _measurement(desk: Shown, entry: MeasurementEntry) -> dict[str, Any]:
    reading = desk.measures.reading(entry.id)
    length = reading.length if reading else None
    cautions = list(reading.cautions) if reading else []
    if length is not None and _asked(desk, entry):
        cautions.insert(0, "Not settled: it is not said yet what the outline on this photo is. See Scale.")
    return {
        "id": entry.id,
        "kind": entry.kind,
        "photo": entry.photo,
        "part": entry.part,
        "feature": entry.feature,
        "name": entry.name,
        "clicks_px": [list(point) for point in entry.clicks_px],
        "used_px": [list(point) for point in entry.used_px],
        "curves_px": [[list(point) for point in curve] for curve in reading.curves_px] if reading else [],
        "snap": entry.snap,
        "snap_text": snap_text(entry, snapped=bool(reading and reading.snapped)),
        "standoff_mm": list(entry.standoff_mm),
        "standoff_std_mm": entry.standoff_std_mm,
        "lean_std_mm": entry.lean_std_mm if entry.lean_std_mm is not None else LEAN_STD_MM,
        "text": texts(length) if length else None,
        "trouble": reading.trouble if reading else None,
        "cautions": cautions,
        "budget": budget_json(entry.result.budget) if entry.result else [],
    }
