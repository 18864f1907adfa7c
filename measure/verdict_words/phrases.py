"""Phrases that sentences about a sheet are built from."""

from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from references.release_sheet import Feature, Part, Sheet


def joined(words: Iterable[str], last: str = "and") -> str:
    """Return words as people list them: 'a, b and c'.

    Parameters
    ----------
    words : iterable of str
        In their order.
    last : str
        The word before the last one.

    Returns
    -------
    str
        The empty text for no words.
    """
    words = list(words)
    if len(words) < 2:
        return "".join(words)
    return f"{', '.join(words[:-1])} {last} {words[-1]}"


def names(sheet: "Sheet", releases: Sequence[str], last: str = "and") -> str:
    """Name releases by their names, in the order given."""
    by_id = sheet.release_names
    return joined((by_id[release] for release in releases), last)


def chance(probability: float) -> str:
    """Write a probability in a reason: whole per cents in the middle, never 0 or 100 %."""
    if probability >= 0.9995:
        return "over 99.9 %"
    if probability < 0.0005:
        return "under 0.1 %"
    return f"{100 * probability:.1f} %" if not 0.01 <= probability <= 0.99 else f"{100 * probability:.0f} %"


def feature_name(part: "Part", feature: "Feature") -> str:
    """Name a feature with its part: "Bow plate, width".

    Parameters
    ----------
    part : Part
        The part that the feature belongs to.
    feature : Feature
        The feature, whose first letter becomes small.

    Returns
    -------
    str
    """
    name = feature.name[:1].lower() + feature.name[1:]
    return f"{part.name}, {name}"


def part_at(sheet: "Sheet", key: str) -> "Part":
    """Return a part that a verdict by this sheet names."""
    part = sheet.part(key)
    assert part is not None
    return part


def feature_at(sheet: "Sheet", part: str, key: str) -> "Feature":
    """Return a feature that a verdict by this sheet names."""
    feature = part_at(sheet, part).feature(key)
    assert feature is not None
    return feature


def name_at(sheet: "Sheet", part: str, feature: str) -> str:
    """Name a feature by its keys."""
    return feature_name(part_at(sheet, part), feature_at(sheet, part, feature))


def span_text(limits_mm: tuple[float, float], unit: str) -> str:
    """Write limits: "158.5 to 161.5 mm".

    Parameters
    ----------
    limits_mm : (float, float)
        Smallest and largest.
    unit : str
        "mm" or "in", in which they are written.

    Returns
    -------
    str
        A single length where both are written the same.
    """
    from references.release_sheet import format_value

    low, high = (format_value(limit, unit) for limit in limits_mm)
    return low if low == high else f"{low.removesuffix(f' {unit}')} to {high}"
