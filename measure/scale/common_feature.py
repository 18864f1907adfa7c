"""A feature that is the same in all releases, as a known length."""

from typing import TYPE_CHECKING

from measure.errors import SpanError

if TYPE_CHECKING:
    from references.release_sheet import Sheet

# Ranges count as the same if together they are hardly wider than the widest of them.
_MOST_WIDER = 1.2


def common_length(sheet: "Sheet", part_id: str, feature_id: str) -> tuple[float, float]:
    """Return the length and standard uncertainty of a feature that is the same in all releases.

    Parameters
    ----------
    sheet : Sheet
        The release sheet.
    part_id, feature_id : str
        The feature.

    Returns
    -------
    length_mm, std_mm : float
        Middle of the ranges and their half-width as rectangular limits.

    Raises
    ------
    SpanError
        No such part or feature, no dimension, or not the same in all releases that have it.
    """
    from references.release_sheet import Normal, Range

    part = sheet.part(part_id)
    feature = next((one for one in part.features if one.id == feature_id), None) if part else None
    if part is None or feature is None:
        known = ", ".join(
            f"{one.id}/{f.id}" for one in sheet.parts for f in one.features if f.kind == "dimension"
        )
        raise SpanError(f"sheet {sheet.key}: no feature {part_id}/{feature_id}; dimensions are {known}")
    limits = [value.limits_mm for value in feature.by_release.values() if isinstance(value, Range | Normal)]
    if not limits:
        raise SpanError(f"sheet {sheet.key}: {part_id}/{feature_id} is not a dimension, so it gives no scale")
    low_mm, high_mm = min(low for low, _ in limits), max(high for _, high in limits)
    widest = max(high - low for low, high in limits)
    if high_mm - low_mm > _MOST_WIDER * widest:
        raise SpanError(
            f"sheet {sheet.key}: {part_id}/{feature_id} is {low_mm:g} to {high_mm:g} mm over the releases:"
            " only a feature that is the same in all of them gives a scale"
        )
    return (low_mm + high_mm) / 2.0, (high_mm - low_mm) / 12.0**0.5


def feature_as_length(text: str, sheet_name: str | None) -> str:
    """Turn ``feature=PART/FEATURE`` into its ``length=MM±STD`` on a sheet; leave other keys alone.

    Parameters
    ----------
    text : str
        The name of a source of scale, as on the command line.
    sheet_name : str or None
        Key of a shipped sheet, or a path.

    Returns
    -------
    str
        Length and standard uncertainty in mm to four decimals, or the text as it came.

    Raises
    ------
    SpanError
        No sheet named, or as for `common_length`.
    SheetError
        The sheet can't be read.
    """
    if not text.startswith("feature="):
        return text
    part_id, _, feature_id = text.removeprefix("feature=").partition("/")
    if sheet_name is None or not feature_id:
        raise SpanError(
            "feature=PART/FEATURE needs both names, and --sheet with the release sheet they are on"
        )
    from references import named_sheet

    length_mm, std_mm = common_length(named_sheet(sheet_name), part_id, feature_id)
    return f"length={length_mm:.4f}±{std_mm:.4f}"
