"""The headline of a verdict: in a few words on the command line and the page, in sentences in documents."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Literal

from measure.verdict_words.doubts import doubt_in_short, unsettled_parts
from measure.verdict_words.percentages import percent
from measure.verdict_words.phrases import joined

if TYPE_CHECKING:
    from references.verdict import Verdict

Case = Literal[
    "release by little",
    "release",
    "release in doubt",
    "mixed",
    "recast",
    "unlisted",
    "scale",
    "in doubt",
    "open",
]
_PLAIN: dict[str, Case] = {
    "mixed": "mixed",
    "recast": "recast",
    "not listed": "unlisted",
    "scale in doubt": "scale",
}
_STILL_POSSIBLE = 0.05


def _case(verdict: "Verdict") -> Case:
    """Return what a headline says, which is the same in every shell."""
    if verdict.outcome == "release" and verdict.release:
        if unsettled_parts(verdict):
            return "release in doubt"
        little = verdict.checked is not None and verdict.checked.is_little
        return "release by little" if little else "release"
    return _PLAIN.get(verdict.outcome) or ("in doubt" if verdict.doubts else "open")


def on_one_line(verdict: "Verdict", names: Mapping[str, str]) -> str:
    """Return the headline for the command line.

    Parameters
    ----------
    verdict : Verdict
        What was judged.
    names : mapping of str to str
        The releases' names by id.

    Returns
    -------
    str
        One line without a full stop.
    """
    release = verdict.release and names.get(verdict.release, verdict.release)
    short = doubt_in_short(verdict.doubts)
    texts: dict[Case, str] = {
        "release": str(release),
        "release by little": f"{release}, by {_how_much(verdict)} only",
        "release in doubt": f"{release}; in doubt: {', '.join(unsettled_parts(verdict))}",
        "mixed": "mixed" + (f", its base {release}" if release else ""),
        "recast": "a recast copy" + (f" of {release}" if release else ""),
        "unlisted": "not on this sheet",
        "scale": f"scale in doubt: {short}",
        "in doubt": f"cannot tell: {short}",
        "open": "cannot tell",
    }
    return texts[_case(verdict)]


def on_the_page(verdict: "Verdict", names: Mapping[str, str]) -> str:
    """Return the headline for the desk's page.

    Parameters
    ----------
    verdict : Verdict
        What was judged.
    names : mapping of str to str
        The releases' names by id.

    Returns
    -------
    str
        One line without a full stop.
    """
    name = names.get(verdict.release or "", "")
    short = doubt_in_short(verdict.doubts)
    foreign = foreign_parts(verdict)
    mixed = f"{name} with parts that do not belong" if name else "Parts that do not belong together"
    texts: dict[Case, str] = {
        "release": f"{name}: everything checked fits together"
        + (f", {_how_much(verdict)}" if verdict.checked else ""),
        "release by little": f"{name}, by {_how_much(verdict)} only: check more",
        "release in doubt": f"{name}, but in doubt: {', '.join(unsettled_parts(verdict))}",
        "mixed": f"{mixed}: {', '.join(foreign)}" if foreign else mixed,
        "recast": f"A recast copy of {name}" if name else "A recast copy",
        "unlisted": "Not on this sheet: it seems to be a release that the sheet does not list",
        "scale": f"Scale in doubt: {short}",
        "in doubt": f"Cannot tell: {short}",
        "open": "Cannot tell yet",
    }
    return texts[_case(verdict)]


def in_sentences(
    verdict: "Verdict",
    doubts_told: Sequence[str],
    named: Callable[[str], str],
    clean: Callable[[str], str],
) -> str:
    """Return the headline for documents, never stronger than the verdict itself.

    Parameters
    ----------
    verdict : Verdict
        What was judged.
    doubts_told : sequence of str
        A sentence for each of its doubts.
    named : callable
        Gives a release's name by its id, to stand after "the".
    clean : callable
        Makes a user's words fit for an English sentence.

    Returns
    -------
    str
        A sentence or more.
    """
    release = verdict.release or ""
    match _case(verdict):
        case "release" | "release by little" | "release in doubt":
            return _named(verdict, named(release), joined([clean(part) for part in unsettled_parts(verdict)]))
        case "mixed":
            return _mixed(verdict, named, clean)
        case "recast":
            of = f" of the {named(release)}" if release else ""
            return f"What was checked points to a later recast{of}.{_recast(verdict)}"
        case "unlisted":
            chance = percent(verdict.unlisted_probability)
            return (
                "What was checked points to a release that the release sheet does not list"
                f" (probability {chance}, given that sheet)."
            )
        case "in doubt" | "scale":
            told = "".join(f" {clean(text)}" for text in doubts_told)
        case "open":
            likely = _likely(verdict, named)
            told = (f" Still possible: {joined(likely, 'or')}." if likely else "") + _recast(verdict)
    return f"What was checked does not settle which release it is.{told}"


def _named(verdict: "Verdict", release: str, unsettled: str) -> str:
    share, much = _share(verdict, verdict.release or ""), _how_much(verdict)
    if unsettled:
        return f"What was checked points to the {release}{share}. In doubt: {unsettled}."
    if _case(verdict) == "release by little":
        one = verdict.checked is not None and verdict.checked.features == 1
        points = "was checked; it points" if one else "were checked; they point"
        return f"Only {much} of the release sheet {points} to the {release}{share}."
    return f"What was checked{much and f', {much},'} fits the {release}{share}."


def _how_much(verdict: "Verdict") -> str:
    """Say how many of the sheet's features were checked."""
    checked = verdict.checked
    return "" if checked is None else f"{checked.features} of {checked.of_features} features"


def _mixed(verdict: "Verdict", named: Callable[[str], str], clean: Callable[[str], str]) -> str:
    foreign, release = foreign_parts(verdict, clean), verdict.release
    text = "The parts checked are not all of one release"
    if foreign:
        verb = "does" if len(foreign) == 1 else "do"
        text += f": {joined(foreign)} {verb} not belong with the rest"
    if not release:
        return f"{text}."
    rest = replace(verdict, parts=tuple(part for part in verdict.parts if not part.foreign))
    unsettled = [clean(part) for part in unsettled_parts(rest)]
    if unsettled:
        return f"{text}. The rest points to the {named(release)}. In doubt: {joined(unsettled)}."
    return f"{text}. The rest fits the {named(release)}."


def _share(verdict: "Verdict", release: str) -> str:
    share = verdict.posterior.get(release)
    return "" if share is None else f" (probability {percent(share)}, given the release sheet)"


def _likely(verdict: "Verdict", named: Callable[[str], str]) -> list[str]:
    """Name the releases that the findings leave open, likeliest first."""
    shares = verdict.posterior
    possible = [key for key, share in shares.items() if share >= _STILL_POSSIBLE]
    ordered = sorted(verdict.candidates or possible, key=lambda key: (-shares.get(key, 0.0), key))
    return [f"the {named(key)} at {percent(shares.get(key, 0.0))}" for key in ordered]


def _recast(verdict: "Verdict") -> str:
    """Return the sentence about a recast, if one is at least as likely as not."""
    recast = verdict.recast
    if recast is None or recast.probability < 0.5:
        return ""
    by, chance = f"about {recast.shrink_percent:.1f} %", percent(recast.probability)
    return f" The lengths are smaller throughout by {by}, as in a later recast (probability {chance})."


def foreign_parts(verdict: "Verdict", clean: Callable[[str], str] = str) -> tuple[str, ...]:
    """Name the parts that don't belong with the rest.

    Parameters
    ----------
    verdict : Verdict
        What was judged.
    clean : callable
        As for `in_sentences`.

    Returns
    -------
    tuple of str
        Their names in the sheet's order.
    """
    return tuple(clean(part.name) for part in verdict.parts if part.foreign)
