"""When a verdict commits to an answer, and what it assumes, in words."""

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from references.verdict import DecisionRule, Rates


def rule_sentences(rule: "DecisionRule") -> str:
    """Say when a verdict commits to an answer.

    Parameters
    ----------
    rule : DecisionRule
        Its thresholds.

    Returns
    -------
    str
        In sentences.
    """
    name_at, doubt_at, chance = _percent(rule.name_at), _percent(1 - rule.name_at), _in_100(rule.chance_at)
    return (
        "A length fits a release's limits where its conformance probability (JCGM 106:2012) is at least "
        f"{_percent(rule.inside_probability)}, does not fit where it is at most "
        f"{_percent(rule.outside_probability)}, and is undecided between. A part fits every release that "
        f"explains what was found on it no more than {rule.part_ratio:.0f} times less well than the best; it "
        f"fits none, or is called foreign to the rest, from a probability of {_percent(rule.foreign_at)}. "
        f"A release is named from a probability of {name_at}, and only where the findings alone speak at "
        f"least {rule.evidence_ratio:.1f} to 1 for it against every other on the sheet, and a recast copy of "
        f"it has no more than {doubt_at}; a recast, or a release that the sheet does not list, from "
        f"{name_at}. Nothing is named while readings of one feature contradict each other more than chance "
        "brings to "
        f"{chance}; while {rule.fewest_slips} or more lengths look like slips (of more than "
        f"{rule.few_lengths}, so many as chance brings to less than {chance}); while one factor on all "
        f"lengths, or on those of one photo, has a probability above {doubt_at}; or while no length lies "
        "within any release's limits."
    )


def rate_sentences(rates: "Rates") -> str:
    """Say how often a verdict assumes slips, swaps and all the rest.

    Parameters
    ----------
    rates : Rates
        Of the options and the sheet that it is worked out with.

    Returns
    -------
    str
        In sentences.
    """
    copies = f"{_percent(rates.shrink_low).removesuffix(' %')} to {_percent(rates.shrink_high)} smaller"
    away = f"{rates.misplaced_mm:g} mm and {_percent(rates.misplaced_share)}"
    return (
        f"Assumed by the sheet: {_percent(rates.swap_rate)} of parts come from another release, "
        f"{_percent(rates.missing_rate)} are lost, and {_percent(rates.recast_rate)} of specimens or of "
        f"parts are recasts, {copies}. Assumed everywhere: {_percent(rates.none_rate)} of parts come from no "
        f"release of the sheet, {_percent(rates.unlisted_rate)} of specimens are of a release that it does "
        f"not list, and on {_percent(rates.scale_rate)} one factor is off on the lengths; of the features "
        "measured in a "
        f"photo {_percent(rates.misplaced_rate)} have their points on another edge, some {away} away, and "
        f"{_percent(rates.gross_error_rate)} are slips; {_percent(rates.miscount_rate)} of counts and "
        f"{_percent(rates.misread_rate)} of traits are noted wrongly."
    )


def _percent(share: float) -> str:
    return f"{100 * share:.3g} %"


def _in_100(share: float) -> str:
    return f"{100 * share:.3g} specimen in 100" if share == 0.01 else f"{100 * share:.3g} specimens in 100"
