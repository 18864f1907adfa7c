"""Everything the page shows, as one JSON value, derived anew from the state at hand."""

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from calibration.objects import CARD_OBJECTS
from measure.desk.failures import sentence
from measure.desk.state import (
    COINS_JSON,
    OFFERS_JSON,
    RULES_JSON,
    SCALE_KINDS_JSON,
    Desk,
    Standing,
    Surroundings,
)
from measure.desk.view.photos import cautions_on, grade
from measure.desk.view.readouts import budget_json, snap_text, texts
from measure.desk.view.scale import ScaleViews, card_words, plain_name, question
from measure.desk.view.verdict import verdict_json, verdict_of
from measure.kinds import LEAN_STD_MM
from measure.record import MeasurementEntry, PhotoEntry


def page_json(desk: Desk, around: Surroundings, views: ScaleViews) -> tuple[dict[str, Any], tuple[str, ...]]:
    """Return the page's state.

    Parameters
    ----------
    desk : Desk
        What is on the desk.
    around : Surroundings
        What lies around it.
    views : ScaleViews
        What was made of the photos' scales before.

    Returns
    -------
    dict, tuple of str
        JSON values; and what the terminal is to say of photos that can't be shown.
    """
    specimen, sheet = desk.specimen, desk.sheet
    judged = verdict_of(specimen)
    verdict = None if judged is None or sheet is None else verdict_json(judged, specimen, sheet)
    photos = [_photo_or_trouble(desk, one, around, views) for one in specimen.photos]
    return {
        "version": desk.version,
        "name": specimen.name,
        "note": specimen.note,
        "laid": desk.laid,
        "record": around.record,
        "reopen": around.reopen,
        "saved": _saved(desk, around),
        "moved": around.moved,
        "left": None if around.left is None else {"name": desk.whole.name, "record": around.left},
        "undo": desk.history.undo_name,
        "redo": desk.history.redo_name,
        "sheet": specimen.sheet,
        "sheet_mark": desk.mark,
        "sheets": list(around.sheets),
        **_offers(),
        "opening": [path.replace("\\", "/").rsplit("/", 1)[-1] for path in desk.pending],
        "photos": [shown for shown, _ in photos],
        "measurements": [_measurement(desk, one) for one in specimen.measurements],
        "observations": [
            {"part": one.part, "feature": one.feature, "value": one.value, "state": one.state}
            for one in specimen.observations
        ],
        "verdict": verdict,
        "judging": around.judging,
        "verdict_trouble": desk.verdict_trouble,
        "samples": list(around.samples),
        "records": list(around.records),
        "kept": list(around.kept),
        "kept_in": around.kept_in,
        "notices": [{"id": one.id, "text": one.text, "wrong": one.wrong} for one in desk.notices],
    }, tuple(fault for _, fault in photos if fault is not None)


def _offers() -> dict[str, Any]:
    return {
        "kinds": OFFERS_JSON,
        "scale_kinds": SCALE_KINDS_JSON,
        "card_kinds": _card_kinds(),
        "coins": COINS_JSON,
        "rules": RULES_JSON,
    }


def _saved(desk: Desk, around: Surroundings) -> dict[str, str | None]:
    if around.unsaved is not None:
        return {"mark": "wrong", "text": "Not saved", "why": around.unsaved}
    if not desk.worth_keeping:
        return {"mark": "none", "text": "Nothing to save yet", "why": None}
    if around.saved:
        return {"mark": "good", "text": "Saved", "why": None}
    return {"mark": "busy", "text": "Saving…", "why": None}


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


def _photo_or_trouble(
    desk: Desk, shot: PhotoEntry, around: Surroundings, views: ScaleViews
) -> tuple[dict[str, Any], str | None]:
    """Return what the page shows of a photo; one that can't be shown leaves the others to be worked on."""
    try:
        return _photo(desk, shot, around, views), None
    except Exception as error:  # a record may hold what no check thought of
        text = sentence(f"Showing {shot.file}", error)
        bare = replace(shot, reference=None, also=(), sources=(), straight_px=(), camera=None)
        shown = _photo(desk, bare, around, views)
        return {**shown, "stage": "failed", "trouble": text, "looking": False}, text


def _photo(desk: Desk, shot: PhotoEntry, around: Surroundings, views: ScaleViews) -> dict[str, Any]:
    picture, seen = desk.picture(shot), desk.examination_of(shot)
    scale, trouble = desk.scales.get(shot.id, (None, None))
    if not shot.has_scale:
        scale = trouble = None
    of_file = picture.cautions if picture else ()
    waiting = picture is None or picture.stage not in ("failed", "ready")
    looking = shot.id in desk.searching
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
        "cautions": list(cautions_on(seen, scale, of_file)) if scale is not None else [],
        **views.of(shot, scale, trouble),
        "camera": camera_json(shot, picture, around),
        "why": seen.reason if seen else None,
        "suggested_px": None,
        "grade": None if looking else grade(seen, scale, of_file),
        "facts": _photo_facts(shot, picture),
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


def _photo_facts(shot: PhotoEntry, picture: Standing | None) -> list[list[str]]:
    size = f"{shot.width_px} × {shot.height_px} pixels, {shot.width_px * shot.height_px / 1e6:.1f} megapixels"
    return [["Size", size], *(list(fact) for fact in (picture.facts if picture else ()))]


def camera_json(shot: PhotoEntry, picture: Standing | None, around: Surroundings) -> dict[str, Any]:
    """Return where the lens data come from, and the camera profiles that fit this photo's size.

    Parameters
    ----------
    shot : PhotoEntry
        The photo.
    picture : Standing or None
        How far its opening has come.
    around : Surroundings
        Has the profiles.

    Returns
    -------
    dict
        JSON values.
    """
    camera = shot.camera
    source = camera.get("source") if isinstance(camera, Mapping) else camera and camera.source
    profiles = []
    if picture is not None and picture.stage == "ready":
        sides = tuple(sorted((picture.width_px, picture.height_px)))
        profiles = [name for name, fit in around.profiles if fit == sides]
    return {
        "profile": shot.profile,
        "words": f"calibrated: {shot.profile}" if shot.profile else _camera_words(source),
        "profiles": profiles,
    }


def _camera_words(source: object) -> str:
    if source is None:
        return "not examined yet"
    if source == "assumed":
        return "unknown: a typical lens is assumed, with a wide uncertainty"
    return f"as the photo's file says ({source})"


def _asked(desk: Desk, entry: MeasurementEntry) -> bool:
    """Tell whether it is still asked what the outline is by which this was measured."""
    shot = next((one for one in desk.specimen.photos if one.id == entry.photo), None)
    return shot is not None and question(shot, desk.scale(shot.id)) is not None


def _measurement(desk: Desk, entry: MeasurementEntry) -> dict[str, Any]:
    reading = desk.reading(entry.id)
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
