"""The reasons of a verdict in words."""

from collections.abc import Callable, Iterator
from typing import TYPE_CHECKING

from measure.verdict_words.findings import (
    bearing_sentence,
    length_sentences,
    noted_sentences,
    odds,
    short_length,
    speaks_for,
)
from measure.verdict_words.phrases import chance, feature_at, joined, name_at, names, part_at

if TYPE_CHECKING:
    from references.release_sheet import Sheet
    from references.verdict import Reason, ReasonCode


def reason_sentence(reason: "Reason", sheet: "Sheet") -> str:
    """Say why a verdict says what it says.

    Parameters
    ----------
    reason : Reason
        Its code, keys and numbers.
    sheet : Sheet
        For names and the unit.

    Returns
    -------
    str
        One sentence or more.
    """
    return _WORDINGS[reason.code](reason, sheet)


def _recast(reason: "Reason", sheet: "Sheet") -> str:
    from references.release_sheet import format_pair

    of, probability = names(sheet, reason["releases"], "or"), chance(reason["probability"])
    expanded_percent = reason["expanded_uncertainty_percent"]
    size = format_pair(reason["shrink_percent"], expanded_percent, "mm").removesuffix(" mm")
    return f"A recast copy of {of} (probability {probability}): the lengths are {size} % too small all over."


def _mixed(reason: "Reason", sheet: "Sheet") -> str:
    foreign = joined(part_at(sheet, key).name for key in reason["foreign"])
    base = names(sheet, reason["releases"], "or")
    return f"Mixed: the specimen is {base}, and not from it: {foreign or 'some part, but not which one'}."


def _named(reason: "Reason", sheet: "Sheet") -> str:
    return f"{names(sheet, [reason['release']])} (probability {chance(reason['probability'])})."


def _nothing_found(reason: "Reason", sheet: "Sheet") -> str:
    del reason, sheet
    return "Cannot tell: nothing has been measured or noted yet."


def _release_or_copy(reason: "Reason", sheet: "Sheet") -> str:
    name, copy = names(sheet, reason["releases"]), chance(reason["probability"])
    return f"Cannot tell whether it is {name} or a recast copy of it (probability of a copy {copy})."


def _not_listed(reason: "Reason", sheet: "Sheet") -> str:
    text = f"Not on this sheet: a release that it does not list (probability {chance(reason['probability'])})"
    unknown = joined(name_at(sheet, part, feature) for part, feature in reason["unknown"])
    return f"{text}; no listed release has {unknown} like this." if unknown else f"{text}."


def _unlisted_possible(reason: "Reason", sheet: "Sheet") -> str:
    del sheet
    return (
        f"It may be a release that the sheet does not list (probability {chance(reason['probability'])}): "
        "check more of its features."
    )


def _open(reason: "Reason", sheet: "Sheet") -> str:
    each = (f"{names(sheet, [release])} {chance(share)}" for release, share in reason["shares"])
    return f"Cannot tell which release: {joined(each, 'or')}."


def _not_present(reason: "Reason", sheet: "Sheet") -> str:
    without = names(sheet, reason["without"])
    note = f"; {without} never had a separate one" if without else ""
    lost = f"on {names(sheet, reason['others'])} it would be a lost part"
    return f"{_part(reason, sheet)}: not present{note}; {lost}.{bearing_sentence(reason, sheet)}"


def _present(reason: "Reason", sheet: "Sheet") -> str:
    without = names(sheet, reason["without"])
    note = f"; {without} never had a separate one" if without else ""
    parts = joined(part_at(sheet, key).name for key in reason["parts"])
    return f"{parts}: present{note}.{bearing_sentence(reason, sheet)}"


def _together(reason: "Reason", sheet: "Sheet") -> str:
    target, ratio = speaks_for(reason, sheet), reason["ratio"]
    before, after = reason["prior_odds"], reason["posterior_odds"]
    speaks = (
        f"speak {odds(ratio)} for {target}" if ratio >= 1 else f"speak {odds(1 / ratio)} against {target}"
    )
    return (
        f"All findings together {speaks}: from {chance(before / (1 + before))} before anything was checked "
        f"(odds of {odds(before)}) to {chance(after / (1 + after))} ({odds(after)}). The "
        "figures above multiply to this; each counts what a finding adds to those before it on the sheet."
    )


def _part_recast(reason: "Reason", sheet: "Sheet") -> str:
    probability = chance(reason["probability"])
    return f"{_part(reason, sheet)}: a recast copy, smaller all over (probability {probability})."


def _fits_none(reason: "Reason", sheet: "Sheet") -> str:
    small = ", being smaller all over like a recast copy" if reason["like_recast"] else ""
    probability = chance(reason["probability"])
    return f"{_part(reason, sheet)}: fits none of the releases{small} (probability {probability})."


def _foreign(reason: "Reason", sheet: "Sheet") -> str:
    verb, last = ("fits", "and") if reason["fits"] else ("could be", "or")
    apart = f"does not belong to the rest (probability {chance(reason['probability'])})"
    return f"{_part(reason, sheet)}: {apart}; it {verb} {names(sheet, reason['releases'], last)}."


def _part_in_doubt(reason: "Reason", sheet: "Sheet") -> str:
    probability = chance(reason["probability"])
    apart = f"it does not belong to the rest with a probability of {probability}"
    return f"{_part(reason, sheet)}: in doubt; {apart}."


def _slip(reason: "Reason", sheet: "Sheet") -> str:
    from references.release_sheet import format_value

    name = feature_at(sheet, reason["part"], reason["feature"]).name.lower()
    shown = format_value(reason["value_mm"], sheet.unit)
    return (
        f"{_part(reason, sheet)}, {name} {shown}: no release has it there, and a point on another edge or a "
        f"typing slip is likelier ({chance(reason['probability'])}). Look at its points again."
    )


def _recast_possible(reason: "Reason", sheet: "Sheet") -> str:
    del sheet
    return (
        f"A recast copy is possible (probability {chance(reason['probability'])}): it is smaller all over, "
        "so measure more of its lengths, the longest ones first."
    )


def _wide_uncertainty(reason: "Reason", sheet: "Sheet") -> str:
    expanded, gap_mm, unit = reason["expanded_uncertainty_mm"], reason["gap_mm"], sheet.unit
    return (
        f"{name_at(sheet, reason['part'], reason['feature'])}: this measurement gives "
        f"± {short_length(expanded, unit)} and "
        f"the ranges lie {short_length(gap_mm, unit)} apart: ± {short_length(gap_mm / 2, unit)} would settle "
        "it. Take the photo closer and from straight above."
    )


def _inseparable(reason: "Reason", sheet: "Sheet") -> str:
    return f"No check in this sheet can separate {_pair(reason, sheet)}."


def _one_check_left(reason: "Reason", sheet: "Sheet") -> str:
    return f"Only one check left can separate {_pair(reason, sheet)}: {joined(_checks(reason, sheet))}."


def _checks_forbidden(reason: "Reason", sheet: "Sheet") -> str:
    checks, pair = joined(_checks(reason, sheet)), _pair(reason, sheet)
    return f"Only {checks} could separate {pair}: the part must come off, and the sheet says to leave it."


def _all_checks_made(reason: "Reason", sheet: "Sheet") -> str:
    made = f"Every check in this sheet that can separate {_pair(reason, sheet)} is made"
    return f"{made}: only better measurements can help."


def _part(reason: "Reason", sheet: "Sheet") -> str:
    return part_at(sheet, reason["part"]).name


def _pair(reason: "Reason", sheet: "Sheet") -> str:
    return f"{names(sheet, [reason['first']])} from {names(sheet, [reason['second']])}"


def _checks(reason: "Reason", sheet: "Sheet") -> Iterator[str]:
    for part, feature in reason["checks"]:
        if feature is None:
            yield f"whether there is a separate {part_at(sheet, part).name.lower()}"
        else:
            yield name_at(sheet, part, feature)


_WORDINGS: "dict[ReasonCode, Callable[[Reason, Sheet], str]]" = {
    "recast": _recast,
    "mixed": _mixed,
    "named": _named,
    "nothing found": _nothing_found,
    "release or copy": _release_or_copy,
    "not listed": _not_listed,
    "open": _open,
    "not present": _not_present,
    "part recast": _part_recast,
    "fits none": _fits_none,
    "foreign": _foreign,
    "part in doubt": _part_in_doubt,
    "slip": _slip,
    "recast possible": _recast_possible,
    "unlisted possible": _unlisted_possible,
    "present": _present,
    "length": length_sentences,
    "noted": noted_sentences,
    "together": _together,
    "wide uncertainty": _wide_uncertainty,
    "inseparable": _inseparable,
    "one check left": _one_check_left,
    "checks forbidden": _checks_forbidden,
    "all checks made": _all_checks_made,
}
