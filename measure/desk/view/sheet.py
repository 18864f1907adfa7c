"""A release sheet as the page shows it: a checklist of what to measure and what to look at."""

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from references.release_sheet import Feature, Part, Sheet


def sheet_json(sheet: "Sheet | None") -> dict[str, Any] | None:
    """Return a sheet as a checklist for the page.

    Parameters
    ----------
    sheet : Sheet or None
        The sheet on the desk.

    Returns
    -------
    dict or None
        Heights in mm; None without a sheet.
    """
    if sheet is None:
        return None
    return {
        "key": sheet.key,
        "subject": sheet.subject,
        "maker": sheet.maker,
        "releases": [{"id": one.id, "name": one.name, "made": one.made} for one in sheet.releases],
        "parts": [_part(sheet, one) for one in sheet.parts],
    }


def _part(sheet: "Sheet", part: "Part") -> dict[str, Any]:
    return {
        "id": part.id,
        "name": part.name,
        "handling": part.handling,
        "features": [_feature(part, one) | {"common": _common(sheet, part, one)} for one in part.features],
    }


def _feature(part: "Part", feature: "Feature") -> dict[str, Any]:
    return {
        "id": feature.id,
        "name": feature.name,
        "full_name": f"{part.name}, {feature.name[:1].lower()}{feature.name[1:]}",
        "kind": feature.kind,
        "how": feature.how,
        "measured_as": feature.measured_as or "span",
        "standoff_mm": feature.standoff_mm,
        "standoff_std_mm": feature.standoff_std_mm,
        "choices": choices(feature),
    }


def _common(sheet: "Sheet", part: "Part", feature: "Feature") -> str | None:
    """Return the length of a feature that is the same in all releases, or None."""
    from measure.errors import SpanError
    from measure.scale import common_length

    try:
        length_mm, std_mm = common_length(sheet, part.id, feature.id)
    except SpanError:
        return None
    return f"{length_mm:.1f} mm, give or take {std_mm:.1f}"


def choices(feature: "Feature") -> list[int] | list[str]:
    """Return the values that a count or trait may be noted as: all on the sheet, and "other" for a trait."""
    from references.inference import OTHER
    from references.release_sheet import Counts

    if feature.kind == "trait":
        return [*feature.alternatives, *([] if OTHER in feature.alternatives else [OTHER])]
    if feature.kind == "count":
        known = (value.frequencies for value in feature.by_release.values() if isinstance(value, Counts))
        return sorted({number for frequencies in known for number in frequencies})
    return []
