"""What to check next, when a verdict commits to an answer, and what it is not, in words."""

from typing import TYPE_CHECKING

from measure.verdict_words.phrases import feature_at, feature_name, part_at

if TYPE_CHECKING:
    from references.release_sheet import Sheet
    from references.verdict import DecisionRule, NextCheck

CAUTION = "Evidence, not an authentication or an appraisal."

_VERBS = {"dimension": "measure it", "count": "count", "trait": "look"}


def check_sentence(check: "NextCheck", sheet: "Sheet") -> str:
    """Say what to do next and what it would tell.

    Parameters
    ----------
    check : NextCheck
        Its keys and numbers.
    sheet : Sheet
        For names, and how the feature is measured.

    Returns
    -------
    str
        One sentence or more.
    """
    part, feature = part_at(sheet, check.part), feature_at(sheet, check.part, check.feature)
    verb = "measure it again, closer and from straight above" if check.again else _VERBS[feature.kind]
    text = f"{feature_name(part, feature)}: {verb}. {feature.how}".rstrip()
    if check.needed_uncertainty_mm is not None:
        needed = f"{check.needed_uncertainty_mm:.2g} mm"
        text += f" An expanded uncertainty of {needed} or less tells the ranges apart."
    if feature.part_off:
        text += " It needs the part taken off."
    if part.handling:
        text += f" {part.handling}"
    return text


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
    return (
        "A length fits a release's limits where its conformance probability (JCGM 106:2012) is at least "
        f"{100 * rule.inside_probability:.0f} %, does not fit where it is at most "
        f"{100 * rule.outside_probability:.0f} %, and is undecided between. A part fits every release "
        "that explains all found on it at least a twentieth as well as the best one does. A release is named "
        f"from a probability of {100 * rule.name_at:.0f} %, and only where the findings alone speak at "
        f"least {rule.evidence_ratio:.1f} to 1 for it against every other; a part is called foreign from "
        f"{100 * rule.foreign_at:.0f} %. Nothing is named while readings of one feature contradict each "
        "other or more lengths look like slips than chance brings to "
        f"{100 * rule.chance_at:.0f} specimen in 100, while one factor on all lengths has a probability "
        f"above {100 * (1 - rule.name_at):.0f} %, or while no length lies within any release's limits."
    )
