"""The verdict in plain English, never stronger than the verdict itself."""

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

from measure.verdict_words import unsettled_parts
from measure.writeup.gather.evidence import Evidence, tidy
from measure.writeup.gather.figures import percent

if TYPE_CHECKING:
    from calibration.objects import ReferenceObject
    from measure.kinds import Scale

CAUTION = "Measured from a photograph: evidence, not an authentication or an appraisal."
NO_VERDICT = "No release sheet was used, so this does not say which release it is."
NOT_JUDGED = "The findings were not judged against the release sheet."


def joined(names: Sequence[str], last: str = "and") -> str:
    """Return names as people list them: 'a, b and c'."""
    if len(names) < 2:
        return "".join(names)
    return f"{', '.join(names[:-1])} {last} {names[-1]}"


def headline(evidence: Evidence) -> str:
    """Return the result in a sentence or two."""
    verdict = evidence.verdict
    if verdict is None:
        return NO_VERDICT if evidence.sheet is None else NOT_JUDGED
    outcome, release = verdict.get("outcome"), verdict.get("release")
    if outcome == "release" and release:
        return _whole(evidence, verdict, release)
    if outcome == "mixed":
        return _mixed(evidence, verdict)
    if outcome == "recast":
        of = f" of the {_named(evidence, release)}" if release else ""
        return f"What was checked points to a later recast{of}.{recast_sentence(verdict)}"
    return f"What was checked does not settle which release it is.{_open(evidence, verdict)}"


def _whole(evidence: Evidence, verdict: Mapping[str, Any], release: str) -> str:
    """Say which release is named, and that all fits only where no part speaks against it."""
    named = f"{_named(evidence, release)}{_share(verdict, release)}"
    unsettled = [tidy(part) for part in unsettled_parts(verdict)]
    if unsettled:
        return f"What was checked points to the {named}. In doubt: {joined(unsettled)}."
    return f"What was checked fits the {named}."


def _open(evidence: Evidence, verdict: Mapping[str, Any]) -> str:
    """Say what keeps a release from being named, or which are still possible."""
    if verdict.get("doubts"):
        return "".join(f" {tidy(str(doubt.get('text') or ''))}" for doubt in verdict["doubts"])
    likely = likely_releases(evidence, verdict)
    among = f" Still possible: {joined(likely, 'or')}." if likely else ""
    return f"{among}{recast_sentence(verdict)}"


def _mixed(evidence: Evidence, verdict: Mapping[str, Any]) -> str:
    foreign, release = foreign_parts(verdict), verdict.get("release")
    text = "The parts checked are not all of one release"
    if foreign:
        verb = "does" if len(foreign) == 1 else "do"
        text += f": {joined(foreign)} {verb} not belong with the rest"
    if not release:
        return f"{text}."
    rest = {**verdict, "parts": [part for part in verdict.get("parts", ()) if not part.get("foreign")]}
    unsettled = [tidy(part) for part in unsettled_parts(rest)]
    if unsettled:
        return f"{text}. The rest points to the {_named(evidence, release)}. In doubt: {joined(unsettled)}."
    return f"{text}. The rest fits the {_named(evidence, release)}."


def _named(evidence: Evidence, release_id: str) -> str:
    name = evidence.release_name(release_id)
    return name[:1].lower() + name[1:] if "release" in name.lower() else name


def _share(verdict: Mapping[str, Any], release: str) -> str:
    share = (verdict.get("posterior") or {}).get(release)
    return "" if share is None else f" (probability {percent(float(share))}, given the release sheet)"


def likely_releases(evidence: Evidence, verdict: Mapping[str, Any]) -> tuple[str, ...]:
    """Name the releases that the findings leave open, likeliest first."""
    shares: Mapping[str, float] = verdict.get("posterior") or {}
    named = verdict.get("candidates") or [key for key, share in shares.items() if float(share) >= 0.05]
    ordered = sorted(named, key=lambda key: (-float(shares.get(key, 0.0)), key))
    return tuple(f"the {_named(evidence, key)} at {percent(float(shares.get(key, 0.0)))}" for key in ordered)


def recast_sentence(verdict: Mapping[str, Any]) -> str:
    """Return the sentence about a recast, if one is at least as likely as not."""
    recast = verdict.get("recast") or {}
    if float(recast.get("probability") or 0.0) < 0.5:
        return ""
    shrink = recast.get("shrink_percent")
    by = "" if shrink is None else f" by about {float(shrink):.1f} %"
    chance = percent(float(recast["probability"]))
    return f" The lengths are smaller throughout{by}, as in a later recast (probability {chance})."


def foreign_parts(verdict: Mapping[str, Any]) -> tuple[str, ...]:
    """Name the parts that don't belong with the rest."""
    return tuple(
        tidy(str(part.get("name") or part["part"]))
        for part in verdict.get("parts", ())
        if part.get("foreign")
    )


def part_outcome(evidence: Evidence, part: Mapping[str, Any]) -> str:
    """Return the verdict on one part."""
    names = joined([short_name(evidence, key) for key in part.get("releases", ())], "or")
    outcome = str(part.get("outcome", "cannot tell"))
    text = f"fits {names}" if outcome == "fits" and names else outcome
    return text + ("; does not belong with the rest" if part.get("foreign") else "")


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

    other = None if scale is None or len(scale.found) != 1 else identity_caution(scale.found[0])
    return f" {other}" if other else ""


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
