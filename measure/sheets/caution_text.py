"""What a sheet leaves open, in words."""

from collections.abc import Sequence

from measure.verdict_words import joined
from references.release_sheet import DEFAULT_EXAMPLES, Sheet, SheetCaution, find_cautions


def caution_lines(sheet: Sheet) -> list[str]:
    """Say what a sheet leaves open, one line for each feature and kind.

    Parameters
    ----------
    sheet : Sheet
        A sheet without faults.

    Returns
    -------
    list of str
        Each names its field as faults do; empty where nothing is left open.
    """
    groups: dict[tuple[str, str, str], list[SheetCaution]] = {}
    for caution in find_cautions(sheet):
        groups.setdefault((caution.code, caution.part, caution.feature), []).append(caution)
    return [_line(code, group) for (code, _, _), group in groups.items()]


def _line(code: str, group: Sequence[SheetCaution]) -> str:
    field = f"{group[0].part}.{group[0].feature}"
    releases = joined(caution.release for caution in group)
    if code == "no number":
        text = (
            f"no n for {releases}; say how many examples they come from, such as n = 6. Without it a range"
            f" counts as from {DEFAULT_EXAMPLES}, and a mean and sd as known exactly"
        )
    else:
        text = f"min and max of {releases} are the same; the next example is allowed to differ a little"
    return f"caution: {field}: {text}"
