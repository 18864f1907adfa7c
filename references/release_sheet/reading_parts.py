"""Reads the parts and features of a release sheet."""

from collections.abc import Callable, Mapping, Sequence
from typing import TypeVar

from references.limits import LARGEST_COUNT, LEAST_MM, LONGEST_NUMBER, MOST_EXAMPLES, MOST_WORDS, number_of
from references.release_sheet.fields import Fields
from references.release_sheet.sheet import KINDS, MEASURED_AS, Feature, Kind, MeasuredAs, Part
from references.release_sheet.values import ABSENT, UNKNOWN, Counts, Marker, Normal, Range, Traits, Value

FREQUENCY_SUM_SLACK = 0.005
PART_FIELDS = ("id", "name", "handling", "keep_in_place", "feature")
FEATURE_FIELDS = (
    "id", "name", "kind", "how", "measured_as", "standoff_mm", "standoff_std_mm", "alternatives", "part_off",
    "by_release",
)  # fmt: skip
DIMENSION_ONLY = ("measured_as", "standoff_mm", "standoff_std_mm")

Word = TypeVar("Word")
ReadId = Callable[[Fields, Sequence[str]], str]


def read_part(fields: Fields, part_id: str, unit: str, releases: Sequence[str], read_id: ReadId) -> Part:
    """Read one part with its features."""
    fields.refuse_unknown(PART_FIELDS)
    features: list[Feature] = []
    for table in fields.tables("feature", "feature"):
        feature_id = read_id(table, [feature.id for feature in features])
        features.append(_read_feature(table, feature_id, unit, releases))
    part = Part(
        id=part_id,
        name=fields.text("name", part_id),
        features=tuple(features),
        handling=fields.text("handling", ""),
        keep_in_place=fields.flag("keep_in_place"),
    )
    _check_absences(fields, part, releases)
    return part


def _check_absences(fields: Fields, part: Part, releases: Sequence[str]) -> None:
    for release in releases:
        absent = [feature.by_release.get(release) is ABSENT for feature in part.features]
        if any(absent) and not all(absent):
            others = ", ".join(
                feature.id for feature, gone in zip(part.features, absent, strict=True) if not gone
            )
            fields.fault(
                "",
                f'"{release}" has no separate part by one feature but values for {others}',
                '"absent" in all features of the part or in none',
            )


def _read_feature(fields: Fields, feature_id: str, unit: str, releases: Sequence[str]) -> Feature:
    fields.refuse_unknown(FEATURE_FIELDS)
    kind: Kind | None = _one_of(KINDS, fields.choice("kind", KINDS))
    measured_as: MeasuredAs | None = None
    if kind == "dimension":
        given = fields.choice("measured_as", MEASURED_AS) if "measured_as" in fields.table else "span"
        measured_as = _one_of(MEASURED_AS, given)
    else:
        for key in DIMENSION_ONLY:
            if key in fields.table and kind is not None:
                fields.fault(key, f"a {kind} has none", "this field on dimensions only")
    alternatives = _read_alternatives(fields, kind)
    return Feature(
        id=feature_id,
        name=fields.text("name", feature_id),
        kind=kind or "dimension",
        how=fields.text("how", ""),
        by_release=_read_by_release(fields, kind, unit, releases, alternatives),
        measured_as=measured_as,
        standoff_mm=fields.signed_mm("standoff_mm", 0.0),
        standoff_std_mm=fields.spread_mm("standoff_std_mm", 1.0),
        alternatives=alternatives,
        part_off=fields.flag("part_off"),
    )


def _one_of(words: tuple[Word, ...], given: str | None) -> Word | None:
    return next((word for word in words if word == given), None)


def _read_alternatives(fields: Fields, kind: Kind | None) -> tuple[str, ...]:
    words = fields.texts("alternatives")
    if kind != "trait":
        if "alternatives" in fields.table and kind is not None:
            fields.fault("alternatives", f"a {kind} has none", "this field on traits only")
        return ()
    if "alternatives" not in fields.table:
        fields.fault("alternatives", "missing", 'the alternatives of the trait, such as ["round", "square"]')
    elif (words or fields.table["alternatives"] == []) and len(set(words)) < max(2, len(words)):
        fields.fault("alternatives", "too few or repeated", "two or more different alternatives")
    elif len(words) > MOST_WORDS:
        fields.fault("alternatives", f"{len(words)} are too many", f"at most {MOST_WORDS} alternatives")
        words = words[:MOST_WORDS]
    for word in words:
        if word in (ABSENT.value, UNKNOWN.value, "other"):
            fields.fault("alternatives", f'"{word}" is a reserved word in a sheet', "another word")
    return words


def _read_by_release(
    fields: Fields, kind: Kind | None, unit: str, releases: Sequence[str], alternatives: Sequence[str]
) -> Mapping[str, Value]:
    table = fields.sub("by_release")
    if table is None:
        fields.fault("by_release", "missing", "a table with one value per release")
        return dict.fromkeys(releases, UNKNOWN)
    for release in table.table:
        if release not in releases:
            table.fault(release, "unknown release", f"one of {', '.join(releases)}")
    values: dict[str, Value] = {}
    for release in releases:
        values[release] = UNKNOWN
        if release not in table.table:
            table.fault(release, "missing", 'a value, "absent" or "unknown"')
            continue
        given = table.table[release]
        marker = next((marker for marker in Marker if given == marker.value), None)
        if marker is not None:
            values[release] = marker
        elif kind is not None:
            values[release] = _READERS[kind](table, release, unit, alternatives) or UNKNOWN
    return values


def _read_dimension(table: Fields, release: str, unit: str, _: Sequence[str]) -> Value | None:
    fields = table.sub(release)
    if fields is None:
        table.fault(release, "this is not a range", "{ min = …, max = … } or { mean = …, sd = …, n = … }")
        return None
    if "mean" in fields.table or "sd" in fields.table:
        return _read_normal(fields, unit)
    fields.refuse_unknown(("min", "max", "n", "source"))
    low, high = fields.length_mm("min", unit), fields.length_mm("max", unit)
    examples, source = fields.whole("n", 2, MOST_EXAMPLES), fields.text("source", "")
    if low is None or high is None:
        return None
    if low > high:
        fields.fault(
            "min", f"min {fields.table['min']} lies above max {fields.table['max']}", "min not above max"
        )
        return None
    if high < LEAST_MM:
        fields.fault("max", "a length of 0" if high == 0 else "next to nothing", "a length above 0")
        return None
    return Range(low, high, examples, source)


def _read_normal(fields: Fields, unit: str) -> Value | None:
    fields.refuse_unknown(("mean", "sd", "n", "source"))
    mean, sd = fields.length_mm("mean", unit), fields.length_mm("sd", unit)
    examples, source = fields.whole("n", 2, MOST_EXAMPLES), fields.text("source", "")
    if mean is None or sd is None:
        return None
    if min(mean, sd) < LEAST_MM:
        problem = f"{min(mean, sd):g} mm describes no spread"
        fields.fault("mean" if mean < LEAST_MM else "sd", problem, "a length above 0")
        return None
    return Normal(mean, sd, examples, source)


def _read_count(table: Fields, release: str, _: str, __: Sequence[str]) -> Value | None:
    given = table.table[release]
    if isinstance(given, int) and not isinstance(given, bool):
        given = {str(given): 1}
    frequencies, source = _read_frequencies(table, release, given, "a whole number, or { 5 = 0.9, 4 = 0.1 }")
    if not all(_is_count(key) for key in frequencies):
        expected = f"whole numbers from 0 to {LARGEST_COUNT}"
        table.fault(release, "a count is not a whole number, or too large", expected)
        return None
    return Counts({int(key): share for key, share in frequencies.items()}, source) if frequencies else None


def _is_count(key: str) -> bool:
    return key.isdecimal() and len(key) <= LONGEST_NUMBER and int(key) <= LARGEST_COUNT


def _read_trait(table: Fields, release: str, _: str, alternatives: Sequence[str]) -> Value | None:
    given = table.table[release]
    if isinstance(given, str):
        given = {given: 1}
    frequencies, source = _read_frequencies(
        table, release, given, "an alternative, or { round = 0.9, square = 0.1 }"
    )
    for word in frequencies:
        if alternatives and word not in alternatives:
            table.fault(release, f'"{word}" is not listed', f"one of {', '.join(alternatives)}")
    return Traits(frequencies, source) if frequencies else None


def _read_frequencies(
    table: Fields, release: str, given: object, expected: str
) -> tuple[dict[str, float], str]:
    if not isinstance(given, dict):
        table.fault(release, f"{given!r} gives no frequencies", expected)
        return {}, ""
    if len(given) > MOST_WORDS:
        table.fault(release, f"{len(given)} frequencies are too many", f"at most {MOST_WORDS}")
        return {}, ""
    shares = {key: share for key, share in given.items() if key != "source"}
    source = given.get("source", "")
    if not isinstance(source, str):
        table.fault(release, "source is not text", "text in quotes")
        source = ""
    if not shares or not all(number_of(share, 0.0, 1.0) is not None for share in shares.values()):
        table.fault(release, "a frequency is not from 0 to 1", "frequencies from 0 to 1")
        return {}, source
    total = sum(shares.values())
    if abs(total - 1) > FREQUENCY_SUM_SLACK:
        table.fault(release, f"the frequencies add up to {total:.4g}", "frequencies that add up to 1")
        return {}, source
    return {key: share / total for key, share in shares.items()}, source


_READERS: dict[Kind, Callable[[Fields, str, str, Sequence[str]], Value | None]] = {
    "dimension": _read_dimension,
    "count": _read_count,
    "trait": _read_trait,
}
