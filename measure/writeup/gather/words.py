"""The verdict in plain English, never stronger than the verdict itself."""

from functools import partial
from typing import TYPE_CHECKING

from measure.verdict_words import in_sentences, joined
from measure.writeup.gather.evidence import Evidence, tidy

if TYPE_CHECKING:
    from calibration.objects import ReferenceObject
    from measure.kinds import Scale
    from references.verdict import PartVerdict

CAUTION = "Measured from a photograph: evidence, not an authentication or an appraisal."
NO_VERDICT = "No release sheet was used, so this does not say which release it is."
NOT_JUDGED = "The findings were not judged against the release sheet."


def headline(evidence: Evidence) -> str:
    """Return the result in a sentence or two."""
    judged = evidence.verdict
    if judged is None:
        return NO_VERDICT if evidence.sheet is None else NOT_JUDGED
    return in_sentences(judged.verdict, judged.doubts_told, partial(_named, evidence), tidy)


def _named(evidence: Evidence, release_id: str) -> str:
    name = evidence.release_name(release_id)
    return name[:1].lower() + name[1:] if "release" in name.lower() else name


def part_outcome(evidence: Evidence, part: "PartVerdict") -> str:
    """Return the verdict on one part."""
    names = joined([short_name(evidence, key) for key in part.releases], "or")
    text = f"fits {names}" if part.outcome == "fits" and names else part.outcome
    return text + ("; does not belong with the rest" if part.foreign else "")


def short_name(evidence: Evidence, key: str) -> str:
    """Return a release's name without its years, or its id if no sheet has it."""
    release = evidence.sheet.release(key) if evidence.sheet else None
    return tidy(release.name) if release else key.replace("_", " ")


def unchecked_sentence(evidence: Evidence) -> str:
    """Name what was not checked."""
    if evidence.sheet is None:
        return ""
    if not evidence.unchecked:
        return "Every feature of the release sheet was checked."
    return f"Not checked: {'; '.join(evidence.unchecked)}."


def coverage_sentence(evidence: Evidence) -> str:
    """Say what ± means here."""
    factors = sorted({f"{item.result.coverage_factor:.2f}" for item in evidence.items if item.result})
    k = f", k = {joined(factors, 'or')}" if factors else ""
    return f"± is the expanded uncertainty U for about 95 % coverage{k}."


def thing_words(thing: "ReferenceObject") -> str:
    """Name the reference with its size, once."""
    if thing.key.startswith(("rule", "length", "feature")):
        return thing.name  # which holds its length
    if 2.0 * thing.corner_radius_mm >= thing.width_mm:
        return f"{thing.name}, {thing.width_mm:g} mm across"
    size = f"{thing.width_mm:g} × {thing.height_mm:g} mm"
    return (
        thing.name.replace(" x ", " × ")
        if size in thing.name.replace(" x ", " × ")
        else f"{thing.name}, {size}"
    )


def identity_words(scale: "Scale | None") -> str:
    """Say what else the reference may be, after a space; nothing where that is clear."""
    from calibration.cards import identity_caution
    from measure.wording import Audience, worded

    other = None if scale is None or len(scale.found) != 1 else identity_caution(scale.found[0])
    return f" {worded(other, Audience.BUYER)}" if other else ""


def measured_with(evidence: Evidence, photo_id: str) -> str:
    """Say in a line or two how the lengths of a photo were measured."""
    item = next(p for p in evidence.photos if p.entry.id == photo_id)
    if item.thing is None or item.plane is None or item.scale is None:
        return f"No reference of known size is recorded for this photo. {CAUTION}"
    heights = sorted({h for m in evidence.items_of(photo_id) for h in m.entry.standoff_mm})
    at = f" at {joined([f'{h:g}' for h in heights])} mm above its face" if heights else ""
    more = len(item.entry.also)
    beside = f" and {more} further reference{'s' if more > 1 else ''}" if more else ""
    tilt = (
        f"perspective removed (camera tilted {item.plane.tilt_deg:.0f}°)"
        if item.scale.family is None
        else "the camera's tilt is hardly known and is included in the uncertainty"
    )
    other = identity_words(item.scale)
    return (
        f"How: scale from the {thing_words(item.thing)}{beside}, lying in the photo; {tilt}; lengths{at}."
        f"{other} {coverage_sentence(evidence)} {evidence.program}. {CAUTION}"
    )
