"""Counts, traits and states as shown in a write-up, and what was not checked."""

from collections.abc import Mapping
from typing import Any

from measure.record import Specimen
from measure.writeup.gather.evidence import Noted, feature_name, feature_of, tidy
from references.release_sheet import Feature, Sheet


def noted_items(specimen: Specimen, sheet: Sheet | None) -> tuple[Noted, ...]:
    """Return counts, traits and states in the record's order."""
    noted = []
    for entry in specimen.observations:
        name = feature_name(sheet, entry.part, entry.feature)
        value = tidy(str(entry.value)) if entry.state == "seen" and entry.value is not None else entry.state
        noted.append(Noted(name, value, _expected(sheet, feature_of(sheet, entry.part, entry.feature))))
    return tuple(noted)


def _expected(sheet: Sheet | None, feature: Feature | None) -> str:
    if sheet is None or feature is None or feature.kind == "dimension":
        return ""
    texts = []
    for release in sheet.releases:
        value = feature.by_release[release.id]
        frequencies: Mapping[Any, float] = getattr(value, "frequencies", {})
        shares = [
            tidy(str(word)) + ("" if share > 0.999 else f" {100.0 * share:.0f} %")
            for word, share in sorted(frequencies.items(), key=lambda pair: (-pair[1], str(pair[0])))
            if share > 0.0
        ]
        texts.append(f"{tidy(release.name)}: {' / '.join(shares) or str(getattr(value, 'value', 'unknown'))}")
    return "; ".join(texts)


def unchecked_features(specimen: Specimen, sheet: Sheet | None) -> tuple[str, ...]:
    """Name the sheet's features that were not measured, counted or looked at."""
    if sheet is None:
        return ()
    done = {(m.part, m.feature) for m in specimen.measurements if m.result is not None}
    done |= {(o.part, o.feature) for o in specimen.observations if o.state == "seen"}
    gone = {o.part for o in specimen.observations if o.state == "not present" and o.feature is None}
    return tuple(
        feature_name(sheet, part.id, feature.id)
        for part in sheet.parts
        for feature in part.features
        if (part.id, feature.id) not in done and part.id not in gone
    )
