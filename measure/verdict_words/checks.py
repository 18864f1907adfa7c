"""What to check next, and what a verdict is not, in words."""

from typing import TYPE_CHECKING

from measure.verdict_words.phrases import chance, feature_at, feature_name, part_at, span_text
from references.release_sheet import MM_PER_INCH

if TYPE_CHECKING:
    from references.release_sheet import Sheet
    from references.verdict import NextCheck

_FEWEST_LEADS = 2
"""A single likely outcome is no news."""

CAUTION = "Evidence, not an authentication or an appraisal."

_MM_PER = {"mm": 1.0, "in": MM_PER_INCH}
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
    if any(lead.outcome is None for lead in check.leads):
        verb = f"see whether there is one, and if so {verb}"
    text = f"{feature_name(part, feature)}: {verb}. {feature.how}".rstrip()
    if check.needed_uncertainty_mm is not None:
        needed = f"{check.needed_uncertainty_mm / _MM_PER[sheet.unit]:.2g} {sheet.unit}"
        text += f" An expanded uncertainty of {needed} or less tells the ranges apart."
    text += _leads(check, sheet)
    if feature.part_off:
        text += " It needs the part taken off."
    if part.handling:
        text += f" {part.handling}"
    return text


def _leads(check: "NextCheck", sheet: "Sheet") -> str:
    """Say what the likely outcomes lead to: " If 5: First release (97 %); if 4: Second release (91 %)."."""
    if len(check.leads) < _FEWEST_LEADS:
        return ""
    told = [
        f"{_outcome(lead.outcome, sheet)}: {sheet.release_names[lead.release]} ({chance(lead.probability)})"
        for lead in check.leads
    ]
    return f" If {'; if '.join(told)}."


def _outcome(outcome: "int | str | tuple[float, float] | None", sheet: "Sheet") -> str:
    if outcome is None:
        return "there is none"
    return span_text(outcome, sheet.unit) if isinstance(outcome, tuple) else str(outcome)
