"""What to check next, and what a verdict is not, in words."""

from typing import TYPE_CHECKING

from measure.verdict_words.phrases import feature_at, feature_name, part_at
from references.release_sheet import MM_PER_INCH

if TYPE_CHECKING:
    from references.release_sheet import Sheet
    from references.verdict import NextCheck

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
    text = f"{feature_name(part, feature)}: {verb}. {feature.how}".rstrip()
    if check.needed_uncertainty_mm is not None:
        needed = f"{check.needed_uncertainty_mm / _MM_PER[sheet.unit]:.2g} {sheet.unit}"
        text += f" An expanded uncertainty of {needed} or less tells the ranges apart."
    if feature.part_off:
        text += " It needs the part taken off."
    if part.handling:
        text += f" {part.handling}"
    return text
