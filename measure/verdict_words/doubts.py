"""What a verdict's codes and numbers mean, in words: why nothing is named, and which parts are unsettled."""

from collections.abc import Sequence
from typing import TYPE_CHECKING

from measure.verdict_words.phrases import chance, joined, name_at

if TYPE_CHECKING:
    from references.release_sheet import Sheet
    from references.verdict import Doubt, DoubtedLength, PartVerdict, Verdict

_PLAINLY = 0.25
"""Up to so much a factor is told in per cent; beyond, as a multiple."""


def doubt_sentence(doubt: "Doubt", sheet: "Sheet") -> str:
    """Say why no release can be named, with the lengths it is about and what to do.

    Parameters
    ----------
    doubt : Doubt
        Its code and numbers.
    sheet : Sheet
        For names and the unit.

    Returns
    -------
    str
        One sentence or more; lengths in the sheet's unit with expanded uncertainty.
    """
    told = _told(doubt.lengths, sheet)
    if doubt.code == "contradiction":
        first = doubt.lengths[0]
        return (
            f"The readings of {name_at(sheet, first.part, first.feature)} contradict each other: "
            f"{joined([_pair(each, sheet) for each in doubt.lengths])}. At least one of them is wrong, or "
            "they are not of the same thing, so no mean is taken. Measure it again."
        )
    if doubt.code == "common factor":
        return _factor_sentence(doubt, sheet)
    if doubt.code == "slips":
        return (
            f"{len(doubt.lengths)} lengths lie so far from every release that each looks like a slip or a "
            "point on another edge: "
            f"{told}. Chance alone brings so many slips with a probability of "
            f"{chance(doubt.probability or 0.0)}. "
            "Look at their points again, and check the photo's reference and the stand-offs."
        )
    return (
        f"None of the lengths lies where any release has it: {told}. It may be a release that this sheet "
        "does not list, or the points do not lie where the sheet says; look at them again."
    )


def _factor_sentence(doubt: "Doubt", sheet: "Sheet") -> str:
    from measure.length import round_with_uncertainty

    factor, expanded = doubt.factor or 1.0, doubt.factor_expanded_uncertainty or 0.0
    if abs(factor - 1) <= _PLAINLY:
        value, spread = round_with_uncertainty(100 * abs(factor - 1), 100 * expanded)
        size = f"{value} ± {spread} % too {'long' if factor > 1 else 'short'}"
        causes = (
            "or a stand-off that was not stated or is too small"
            if factor > 1
            else "a stand-off that is too large, or a copy smaller than a recast is"
        )
    else:
        size = "{} ± {} times the size they should have".format(*round_with_uncertainty(factor, expanded))
        causes = "or lengths in another unit"
    which = "All lengths"
    if doubt.photo is not None:
        features = dict.fromkeys(name_at(sheet, each.part, each.feature) for each in doubt.lengths)
        which = f"The lengths of one photo ({'; '.join(features)})"
    return (
        f"{which} seem to be off by one factor: {size} (probability {chance(doubt.probability or 0.0)}). "
        f"Likely causes: a reference of another size than it was taken for, {causes}. Check the "
        "reference and the heights above it, and measure again."
    )


def doubt_in_short(doubts: "Sequence[Doubt]") -> str:
    """Say in a few words why nothing is named; nothing where there is no doubt."""
    shorts: dict[str, str] = {
        "contradiction": "readings contradict each other",
        "common factor": "all lengths seem off by one factor",
        "slips": "too many lengths look like slips",
        "nothing fits": "no length fits any release",
    }
    told = (
        "the lengths of one photo seem off by one factor" if each.photo else shorts.get(each.code, "in doubt")
        for each in doubts
    )
    return "; ".join(dict.fromkeys(told))


def doubted_parts(verdict: "Verdict") -> frozenset[str]:
    """Return the keys of the parts that a doubt keeps from being judged.

    Parameters
    ----------
    verdict : mapping
        The verdict as JSON values.

    Returns
    -------
    set of str
        Empty where nothing is in doubt.
    """
    return frozenset[str]().union(*(doubt.parts for doubt in verdict.doubts))


def unsettled_parts(verdict: "Verdict") -> tuple[str, ...]:
    """Name the checked parts of a named release that can't be said to fit it, each with why, if known.

    Parameters
    ----------
    verdict : mapping
        The verdict as JSON values.

    Returns
    -------
    tuple of str
        Names in the sheet's order. Parts without any check are left out.
    """
    release = verdict.release
    return tuple(_unsettled(part) for part in verdict.parts if not _settled(part, release))


def _settled(part: "PartVerdict", release: str | None) -> bool:
    if not part.findings:
        return True  # nothing was checked on it
    slipped = any(one.dismissed for one in part.findings)
    return part.outcome == "fits" and release in part.releases and not slipped


def _unsettled(part: "PartVerdict") -> str:
    if part.foreign_probability > 0.5:
        return f"{part.name} (not its own with a probability of {chance(part.foreign_probability)})"
    return part.name


def _told(lengths: "Sequence[DoubtedLength]", sheet: "Sheet") -> str:
    return "; ".join(f"{name_at(sheet, each.part, each.feature)} {_pair(each, sheet)}" for each in lengths)


def _pair(length: "DoubtedLength", sheet: "Sheet") -> str:
    from references.release_sheet import format_pair

    return format_pair(length.value_mm, length.expanded_uncertainty_mm, sheet.unit)
