"""Small sheets and findings for the tests."""

from dataclasses import replace

from references.inference.finding import Finding
from references.release_sheet.sheet import Feature, Part, Release, Sheet
from references.release_sheet.values import Counts, Range, Traits


def length(part, feature, value_mm, std_mm=0.4, shared_mm=0.3, photo="photo-1"):
    return Finding(part, feature, value_mm, std_mm, shared_mm, photo)


def known_well(given, examples=60):
    """The same sheet, its ranges from so many examples that their limits are sharp."""

    def known(feature):
        values = {
            key: replace(value, examples=examples) if isinstance(value, Range) else value
            for key, value in feature.by_release.items()
        }
        return replace(feature, by_release=values)

    parts = tuple(replace(part, features=tuple(map(known, part.features))) for part in given.parts)
    return replace(given, parts=parts)


def dimension(key, **by_release):
    return Feature(key, key.capitalize(), "dimension", "", by_release, "span")


def count(key, **by_release):
    values = {r: Counts({v: 1.0}) if isinstance(v, int) else v for r, v in by_release.items()}
    return Feature(key, key.capitalize(), "count", "", values)


def trait(key, alternatives, **by_release):
    values = {r: Traits({v: 1.0}) if isinstance(v, str) else v for r, v in by_release.items()}
    return Feature(key, key.capitalize(), "trait", "", values, alternatives=alternatives)


def sheet(parts, releases=None, **rates):
    releases = releases or {"a": 0.5, "b": 0.5}
    return Sheet(
        key="test",
        subject="Test",
        maker="",
        unit="mm",
        swap_rate=rates.get("swap_rate", 0.05),
        missing_rate=rates.get("missing_rate", 0.05),
        recast_rate=rates.get("recast_rate", 0.02),
        releases=tuple(Release(key, key.upper(), "", prior) for key, prior in releases.items()),
        parts=tuple(Part(key, key.capitalize(), tuple(features)) for key, features in parts.items()),
    )


def two_parts():
    """Two releases that differ in a plate and in a wheel."""
    return sheet(
        {
            "plate": [
                dimension("width", a=Range(100.0, 103.0, 6), b=Range(106.0, 108.0, 5)),
                dimension("depth", a=Range(20.0, 21.0, 6), b=Range(22.0, 23.0, 5)),
            ],
            "wheel": [
                dimension("diameter", a=Range(60.0, 61.0, 6), b=Range(60.0, 61.0, 6)),
                count("spokes", a=5, b=6),
            ],
        }
    )
