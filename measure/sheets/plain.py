"""A sheet as plain values, for other programs."""

from typing import Any

from references.release_sheet import Counts, Feature, Normal, Range, Sheet, Traits, Value, shares_of


def sheet_json(sheet: Sheet) -> dict[str, Any]:
    """Return a sheet as plain values; all lengths are in mm.

    Parameters
    ----------
    sheet : Sheet
        Any.

    Returns
    -------
    dict
        Keys as in the file, but lengths as "min_mm", "max_mm", "mean_mm" and "sd_mm".
    """
    return {
        "sheet": sheet.key,
        "subject": sheet.subject,
        "maker": sheet.maker,
        "unit": sheet.unit,
        "releases": [
            {"id": each.id, "name": each.name, "made": each.made, "prior": each.prior}
            for each in sheet.releases
        ],
        "parts": [
            {
                "id": part.id,
                "name": part.name,
                "handling": part.handling,
                "keep_in_place": part.keep_in_place,
                "features": [_feature_json(feature) for feature in part.features],
            }
            for part in sheet.parts
        ],
    }


def _feature_json(feature: Feature) -> dict[str, Any]:
    return {
        "id": feature.id,
        "name": feature.name,
        "kind": feature.kind,
        "how": feature.how,
        "measured_as": feature.measured_as,
        "standoff_mm": feature.standoff_mm if feature.kind == "dimension" else None,
        "standoff_std_mm": feature.standoff_std_mm if feature.kind == "dimension" else None,
        "alternatives": list(feature.alternatives),
        "by_release": {release: _value_json(value) for release, value in feature.by_release.items()},
    }


def _value_json(value: Value) -> Any:
    if isinstance(value, Range):
        return {"min_mm": value.low_mm, "max_mm": value.high_mm, "n": value.examples, "source": value.source}
    if isinstance(value, Normal):
        return {"mean_mm": value.mean_mm, "sd_mm": value.sd_mm, "n": value.examples, "source": value.source}
    if isinstance(value, Counts | Traits):
        return shares_of(value)
    return value.value
