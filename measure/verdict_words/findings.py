"""What a single finding says of the releases, in words."""

from typing import TYPE_CHECKING

from measure.verdict_words.phrases import chance, feature_at, joined, name_at, names, span_text

if TYPE_CHECKING:
    from references.release_sheet import Feature, Sheet, Value
    from references.verdict import Place, PlacedLength, Reason

MOST_ODDS = 1e6


def length_sentences(reason: "Reason", sheet: "Sheet") -> str:
    """Say where a length lies beside the limits of the releases, and how strongly that speaks."""
    lines = [_placed(each, sheet) for each in reason["readings"]]
    name = name_at(sheet, reason["part"], reason["feature"])
    return f"{name} {'. '.join(lines)}.{bearing_sentence(reason, sheet)}"


def noted_sentences(reason: "Reason", sheet: "Sheet") -> str:
    """Say which releases have what was counted or seen, and how strongly that speaks."""
    name, seen = name_at(sheet, reason["part"], reason["feature"]), joined(map(str, reason["found"]))
    shares = _shares(feature_at(sheet, reason["part"], reason["feature"]), sheet)
    return f"{name} {seen}: {shares}.{bearing_sentence(reason, sheet)}"


def short_length(length_mm: float, unit: str) -> str:
    """Write a length with two digits in a unit."""
    scale = 25.4 if unit == "in" else 1.0
    return f"{float(f'{length_mm / scale:.2g}'):g} {unit}"


def bearing_sentence(reason: "Reason", sheet: "Sheet") -> str:
    """Say how strongly a finding speaks, after a blank; nothing where it is in doubt."""
    if reason["bearing"] == "none":
        return ""
    standing = reason.get("standing")
    unknown = standing == "unknown"
    if reason["bearing"] == "nothing":
        told = {"unknown": " No release is known to have this.", "dismissed": " It has hardly any weight."}
        return told.get(standing, " It adds nothing to the findings before it.")
    start = " No release is known to have this; such as it is, it speaks" if unknown else " It speaks"
    if standing == "dismissed":
        start = " Even with a slip allowed for, it speaks"
    if len(reason.get("parts") or ()) > 1:
        start = " Together they speak"
    return f"{start} {odds(reason['ratio'])} {reason['bearing']} {speaks_for(reason, sheet)}."


def speaks_for(reason: "Reason", sheet: "Sheet") -> str:
    """Name the release that evidence is counted for."""
    release = reason["release"]
    return "a release that the sheet does not list" if release is None else names(sheet, [release])


def odds(ratio: float) -> str:
    """Write odds with two digits: "3.2 to 1", "1 to 15"; beyond a million only that."""
    if ratio < 1:
        return f"1 to {_two_digits(1 / ratio)}"
    return f"{_two_digits(ratio)} to 1"


def _two_digits(ratio: float) -> str:
    if ratio >= MOST_ODDS:
        return "over a million"
    if ratio < 9.95:
        return f"{ratio:.1f}".removesuffix(".0")
    return f"{float(f'{ratio:.2g}'):,.0f}".replace(",", "\N{NO-BREAK SPACE}")


def _placed(length: "PlacedLength", sheet: "Sheet") -> str:
    from references.release_sheet import format_pair

    pair = format_pair(length.value_mm, length.expanded_uncertainty_mm, sheet.unit)
    several = f" (mean of {length.readings})" if length.readings > 1 else ""
    places = "; ".join(
        f"{_place(place, sheet.unit)} ({names(sheet, place.releases)})" for place in length.places
    )
    return f"{pair}{several}: {places or 'the sheet gives no limits'}"


def _place(place: "Place", unit: str) -> str:
    from references.release_sheet import format_value

    shown, away_mm = span_text(place.limits_mm, unit), place.apart_mm
    if place.side == "inside":
        return f"inside {shown}"
    if place.side == "undecided":
        return f"within {shown} with a probability of {chance(place.conformance_probability)}"
    return f"{format_value(round(away_mm, 1 if away_mm >= 1 else 2), unit)} {place.side} {shown}"


def _shares(feature: "Feature", sheet: "Sheet") -> str:
    groups: dict[str, list[str]] = {}
    for release in sheet.release_ids:
        groups.setdefault(_value_text(feature.by_release[release]), []).append(release)
    return "; ".join(f"{text} on {names(sheet, releases)}" for text, releases in groups.items())


def _value_text(value: "Value") -> str:
    from references.release_sheet import Counts, Traits, shares_of

    if not isinstance(value, Counts | Traits):
        return {"absent": "no separate part", "unknown": "not known"}[str(getattr(value, "value", "unknown"))]
    frequencies = shares_of(value)
    if len(frequencies) == 1:
        return str(next(iter(frequencies)))
    ordered = sorted(frequencies.items(), key=lambda item: -item[1])
    return joined(f"{key} in {share:.0%}" for key, share in ordered).replace("%", " %")
