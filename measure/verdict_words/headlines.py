"""The headline of a verdict: in a few words on the command line and the page, in sentences in documents."""

from collections.abc import Callable, Mapping
from typing import Any, Literal

from measure.verdict_words.doubts import doubt_in_short, joined, unsettled_parts

Verdict = Mapping[str, Any]
Case = Literal["release", "release in doubt", "mixed", "recast", "in doubt", "open"]
_STILL_POSSIBLE = 0.05


def _case(verdict: Verdict) -> Case:
    """Return what a headline says, which is the same in every shell."""
    outcome = verdict.get("outcome")
    if outcome == "release" and verdict.get("release"):
        return "release in doubt" if unsettled_parts(verdict) else "release"
    if outcome == "mixed":
        return "mixed"
    if outcome == "recast":
        return "recast"
    return "in doubt" if verdict.get("doubts") else "open"


def on_one_line(verdict: Verdict, names: Mapping[str, str]) -> str:
    """Return the headline for the command line.

    Parameters
    ----------
    verdict : mapping
        The verdict as JSON values.
    names : mapping of str to str
        The releases' names by id.

    Returns
    -------
    str
        One line without a full stop.
    """
    release = names.get(str(verdict.get("release")), verdict.get("release"))
    match _case(verdict):
        case "release":
            return str(release)
        case "release in doubt":
            return f"{release}; in doubt: {', '.join(unsettled_parts(verdict))}"
        case "mixed":
            return "mixed" + (f", its base {release}" if release else "")
        case "recast":
            return "a recast copy" + (f" of {release}" if release else "")
        case "in doubt":
            return f"cannot tell: {doubt_in_short(verdict['doubts'])}"
        case "open":
            return "cannot tell"


def on_the_page(verdict: Verdict, names: Mapping[str, str]) -> str:
    """Return the headline for the desk's page.

    Parameters
    ----------
    verdict : mapping
        The verdict as JSON values.
    names : mapping of str to str
        The releases' names by id.

    Returns
    -------
    str
        One line without a full stop.
    """
    name = names.get(str(verdict.get("release")), "")
    match _case(verdict):
        case "release":
            return f"{name}: everything checked fits together"
        case "release in doubt":
            return f"{name}, but in doubt: {', '.join(unsettled_parts(verdict))}"
        case "mixed":
            foreign = foreign_parts(verdict)
            base = f"{name} with parts that do not belong" if name else "Parts that do not belong together"
            return f"{base}: {', '.join(foreign)}" if foreign else base
        case "recast":
            return f"A recast copy of {name}" if name else "A recast copy"
        case "in doubt":
            return f"Cannot tell: {doubt_in_short(verdict['doubts'])}"
        case "open":
            return "Cannot tell yet"


def in_sentences(verdict: Verdict, named: Callable[[str], str], clean: Callable[[str], str]) -> str:
    """Return the headline for documents, never stronger than the verdict itself.

    Parameters
    ----------
    verdict : mapping
        The verdict as JSON values.
    named : callable
        Gives a release's name by its id, to stand after "the".
    clean : callable
        Makes a user's words fit for an English sentence.

    Returns
    -------
    str
        A sentence or more.
    """
    release = str(verdict.get("release") or "")
    unsettled = joined([clean(part) for part in unsettled_parts(verdict)])
    match _case(verdict):
        case "release":
            return f"What was checked fits the {named(release)}{_share(verdict, release)}."
        case "release in doubt":
            points = f"What was checked points to the {named(release)}{_share(verdict, release)}."
            return f"{points} In doubt: {unsettled}."
        case "mixed":
            return _mixed(verdict, named, clean)
        case "recast":
            of = f" of the {named(release)}" if release else ""
            return f"What was checked points to a later recast{of}.{_recast(verdict)}"
        case "in doubt":
            told = "".join(f" {clean(str(doubt.get('text') or ''))}" for doubt in verdict["doubts"])
        case "open":
            likely = _likely(verdict, named)
            told = (f" Still possible: {joined(likely, 'or')}." if likely else "") + _recast(verdict)
    return f"What was checked does not settle which release it is.{told}"


def _mixed(verdict: Verdict, named: Callable[[str], str], clean: Callable[[str], str]) -> str:
    foreign, release = foreign_parts(verdict, clean), verdict.get("release")
    text = "The parts checked are not all of one release"
    if foreign:
        verb = "does" if len(foreign) == 1 else "do"
        text += f": {joined(foreign)} {verb} not belong with the rest"
    if not release:
        return f"{text}."
    rest = {**verdict, "parts": [part for part in verdict.get("parts", ()) if not part.get("foreign")]}
    unsettled = [clean(part) for part in unsettled_parts(rest)]
    if unsettled:
        return f"{text}. The rest points to the {named(release)}. In doubt: {joined(unsettled)}."
    return f"{text}. The rest fits the {named(release)}."


def _share(verdict: Verdict, release: str) -> str:
    share = (verdict.get("posterior") or {}).get(release)
    return "" if share is None else f" (probability {percent(float(share))}, given the release sheet)"


def _likely(verdict: Verdict, named: Callable[[str], str]) -> list[str]:
    """Name the releases that the findings leave open, likeliest first."""
    shares: Mapping[str, float] = verdict.get("posterior") or {}
    possible = [key for key, share in shares.items() if float(share) >= _STILL_POSSIBLE]
    ordered = sorted(verdict.get("candidates") or possible, key=lambda key: (-float(shares.get(key, 0)), key))
    return [f"the {named(key)} at {percent(float(shares.get(key, 0.0)))}" for key in ordered]


def _recast(verdict: Verdict) -> str:
    """Return the sentence about a recast, if one is at least as likely as not."""
    recast = verdict.get("recast") or {}
    if float(recast.get("probability") or 0.0) < 0.5:
        return ""
    shrink = recast.get("shrink_percent")
    by = "" if shrink is None else f" by about {float(shrink):.1f} %"
    chance = percent(float(recast["probability"]))
    return f" The lengths are smaller throughout{by}, as in a later recast (probability {chance})."


def foreign_parts(verdict: Verdict, clean: Callable[[str], str] = str) -> tuple[str, ...]:
    """Name the parts that don't belong with the rest.

    Parameters
    ----------
    verdict : mapping
        The verdict as JSON values.
    clean : callable
        As for `in_sentences`.

    Returns
    -------
    tuple of str
        Their names in the sheet's order.
    """
    parts = (part for part in verdict.get("parts", ()) if part.get("foreign"))
    return tuple(clean(str(part.get("name") or part["part"])) for part in parts)


def percent(probability: float) -> str:
    """Return a probability for display.

    Parameters
    ----------
    probability : float
        From 0 to 1.

    Returns
    -------
    str
        In percent: whole between 1 % and 99 %, with a decimal beyond; never 0 % or 100 %, which would claim
        certainty.
    """
    if probability < 0.001:
        return "under 0.1 %"
    if probability > 0.999:
        return "over 99.9 %"
    return (
        f"{100.0 * probability:.1f} %"
        if probability < 0.01 or probability > 0.99
        else f"{100.0 * probability:.0f} %"
    )
