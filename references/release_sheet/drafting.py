"""Writes a new sheet from answers, for people to continue by hand."""

import re
import unicodedata
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import tomlkit

from references.release_sheet.lengths import parse_length_mm
from references.release_sheet.sheet import FORMAT
from references.release_sheet.values import Marker

Plain = int | float | str | dict[str, "int | float | str"]

_RANGE = re.compile(r"^(?P<low>.+?)(?:\s+(?:to|-|–)\s+|\s*(?:–|\.\.)\s*|(?<=[\d.])-(?=[\d.]))(?P<high>.+)$")
_TRAILING_UNIT = re.compile(r"\s*(?:[A-Za-z]+|[\"″”'′]+)$")
_SPREAD = re.compile(r"^mean\s+(?P<mean>.+?)\s+sd\s+(?P<sd>.+?)(?:\s+n\s+(?P<n>\d+))?$")
_NUMBER = re.compile(r",?\s+n\s*=?\s*(?P<n>\d{1,6})$")
_SHARE = re.compile(r"^(?P<word>.+?)\s*:\s*(?P<share>\d*\.?\d+)\s*(?P<percent>%?)$")


@dataclass(frozen=True, slots=True)
class FeatureDraft:
    """A feature as answered: texts, and one plain value per release."""

    name: str
    kind: str
    how: str
    by_release: Mapping[str, Plain]
    measured_as: str = "span"
    standoff_mm: float = 0.0
    standoff_std_mm: float = 1.0
    alternatives: Sequence[str] = ()


@dataclass(frozen=True, slots=True)
class PartDraft:
    """A part as answered."""

    name: str
    features: Sequence[FeatureDraft]
    handling: str = ""
    keep_in_place: bool = False


@dataclass(frozen=True, slots=True)
class SheetDraft:
    """A sheet as answered; releases are pairs of name and years."""

    subject: str
    maker: str
    unit: str
    releases: Sequence[tuple[str, str]]
    parts: Sequence[PartDraft] = field(default=())


def key_from_name(name: str) -> str:
    """Turn a name into an id: "Bow plate" becomes "bow-plate".

    Parameters
    ----------
    name : str
        In any script.

    Returns
    -------
    str
        Lower-case letters, digits and single hyphens; "unnamed" where nothing of the name is left.
    """
    plain = unicodedata.normalize("NFKD", name).encode("ascii", "ignore").decode().lower()
    return re.sub(r"[^a-z0-9]+", "-", plain).strip("-") or "unnamed"


def parse_dimension(answer: str, unit: str) -> Plain:
    """Turn an answer into a range or spread as a sheet writes it.

    Parameters
    ----------
    answer : str
        Two lengths, such as "226.5 to 228 mm n 6"; one length; "mean 227 sd 0.4 n 12", the number of examples
        being optional; "absent" or "unknown".
    unit : str
        "mm" or "in": the unit of lengths without one.

    Returns
    -------
    dict or str
        Keys min and max, or mean and sd, and n where given, with lengths as they were written; or the word.

    Raises
    ------
    ValueError
        Where the answer is neither; the message says what was expected.
    """
    text = answer.strip()
    if text.lower() in {marker.value for marker in Marker}:
        return text.lower()
    spread = _SPREAD.match(text)
    if spread:
        numbers: dict[str, int | float | str] = {key: _length(spread[key], unit) for key in ("mean", "sd")}
        return {**numbers, "n": int(spread["n"])} if spread["n"] else numbers
    number = _NUMBER.search(text)
    text = text[: number.start()] if number else text
    limits = _RANGE.match(text)
    low, high = (limits["low"], limits["high"]) if limits else (text, text)
    unit_of_both = _TRAILING_UNIT.search(high)
    if unit_of_both and not _TRAILING_UNIT.search(low):  # "8 7/8 to 8 15/16 in"
        low = f"{low.strip()} {unit_of_both[0].strip()}"
    if parse_length_mm(low, unit) > parse_length_mm(high, unit):
        raise ValueError(f"{low} lies above {high}; give the smaller first")
    found: dict[str, int | float | str] = {"min": _length(low, unit), "max": _length(high, unit)}
    return {**found, "n": int(number["n"])} if number else found


def parse_shares(answer: str, *, counts: bool) -> Plain:
    """Turn an answer into a count, a trait, or frequencies: "5", "plug-in", "present: 85 %, none: 15 %".

    Parameters
    ----------
    answer : str
        As above, or "absent" or "unknown".
    counts : bool
        Take whole numbers only.

    Returns
    -------
    int, str or dict
        A count; a word; or the share of each, from 0 to 1 and adding up to 1 within half a percent.

    Raises
    ------
    ValueError
        If a count is not a whole number or the frequencies do not add up to 1.
    """
    text = answer.strip()
    if text.lower() in {marker.value for marker in Marker}:
        return text.lower()
    pieces = [_SHARE.match(piece.strip()) for piece in text.split(",")]
    if not all(pieces):
        if counts and not text.isdecimal():
            raise ValueError(f'"{text}" is not a whole number; give 5, or "5: 0.9, 4: 0.1"')
        return int(text) if counts else text
    shares: dict[str, int | float | str] = {}
    for piece in pieces:
        assert piece is not None
        shares[piece["word"].strip()] = float(piece["share"]) / (100 if piece["percent"] else 1)
    if abs(sum(float(share) for share in shares.values()) - 1) > 0.005:
        raise ValueError("the frequencies do not add up to 1 (or 100 %)")
    if counts and not all(key.isdecimal() for key in shares):
        raise ValueError("a count is not a whole number")
    return shares


def _length(text: str, unit: str) -> float | str:
    """Keep what was written: a bare number as a number, anything else as a text."""
    parse_length_mm(text, unit)
    try:
        return float(text)
    except ValueError:
        return text.strip()


def draft_text(draft: SheetDraft) -> str:
    """Return the TOML text of a new sheet.

    Parameters
    ----------
    draft : SheetDraft
        Features have a value for the key of each release, as the parsers of this module return it.

    Returns
    -------
    str
        Ends with a line break. Keys come from names; reading the sheet tells whether they are unique.
    """
    ids = [key_from_name(name) for name, _ in draft.releases]
    lines = [
        "# A release sheet. Every line can be edited by hand; `cardspan sheet check` finds mistakes.",
        f'format = "{FORMAT}"',
        f"subject = {_quoted(draft.subject)}",
        f"maker = {_quoted(draft.maker)}",
        f'unit = "{draft.unit}"           # of bare numbers; "8 15/16 in" and "227 mm" always work',
        "swap_rate = 0.05      # how often a part of a specimen comes from another release",
        "missing_rate = 0.05   # how often a part is lost",
        "recast_rate = 0.02    # how often a part or specimen is a later, slightly smaller cast",
    ]
    for key, (name, made) in zip(ids, draft.releases, strict=True):
        lines += ["", "[[release]]", f'id = "{key}"', f"name = {_quoted(name)}", f"made = {_quoted(made)}"]
    for part in draft.parts:
        lines += ["", "[[part]]", f'id = "{key_from_name(part.name)}"', f"name = {_quoted(part.name)}"]
        lines += [f"handling = {_quoted(part.handling)}"] if part.handling else []
        lines += ["keep_in_place = true"] if part.keep_in_place else []
        for feature in part.features:
            lines += _feature_lines(feature, ids)
    return "\n".join(lines) + "\n"


def _feature_lines(feature: FeatureDraft, releases: Sequence[str]) -> list[str]:
    lines = [
        "",
        "[[part.feature]]",
        f'id = "{key_from_name(feature.name)}"',
        f"name = {_quoted(feature.name)}",
    ]
    lines.append(f'kind = "{feature.kind}"')
    if feature.kind == "dimension":
        lines += [
            f'measured_as = "{feature.measured_as}"',
            f"standoff_mm = {feature.standoff_mm:g}",
            f"standoff_std_mm = {feature.standoff_std_mm:g}",
        ]
    if feature.kind == "trait":
        lines.append(f"alternatives = [{', '.join(_quoted(word) for word in feature.alternatives)}]")
    lines += [f"how = {_quoted(feature.how)}", "[part.feature.by_release]"]
    return lines + [f"{release} = {_plain_text(feature.by_release[release])}" for release in releases]


def _plain_text(value: Plain) -> str:
    if isinstance(value, dict):
        pairs = (f"{tomlkit.key(key).as_string()} = {_plain_text(inner)}" for key, inner in value.items())
        return "{ " + ", ".join(pairs) + " }"
    return (
        _quoted(value)
        if isinstance(value, str)
        else f"{value:.10g}"
        if isinstance(value, float)
        else str(value)
    )


def _quoted(text: str) -> str:
    return tomlkit.string(text).as_string()
