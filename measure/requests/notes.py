"""What a user notes on a specimen in words: counts, traits, and parts that are missing or out of view."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from measure.errors import SpanError
from measure.record import ObservationEntry, Specimen
from measure.texts import clean_text
from references.limits import LARGEST_COUNT, shortened, whole_of

if TYPE_CHECKING:
    from references.release_sheet import Feature, Part, Sheet

STATE_WORDS = {"seen": "seen", "missing": "not present", "hidden": "could not see"}
"""The words for a part's state, and the record's."""
_OTHER = "other"


@dataclass(frozen=True, slots=True)
class Note:
    """One thing noted.

    Attributes
    ----------
    part : str
        Part of the sheet.
    feature : str or None
        None where the note concerns the whole part.
    entry : ObservationEntry or None
        What the record is to hold; None takes away what it holds.
    """

    part: str
    feature: str | None
    entry: ObservationEntry | None


def parse_note(text: str, sheet: "Sheet") -> Note:
    """Read one note, ``PART.FEATURE=VALUE`` or ``PART=STATE``.

    Parameters
    ----------
    text : str
        The value is a count, an alternative of a trait, "other", or "hidden" where it could not be seen; the
        state of a part is one of `STATE_WORDS`. Nothing after the sign takes back what was noted.
    sheet : Sheet
        The sheet whose parts and features are meant.

    Returns
    -------
    Note

    Raises
    ------
    SpanError
        It is no such note, or the sheet has no such part, feature or value.
    """
    place, sign, value = (one.strip() for one in clean_text(text).partition("="))
    if not sign or not place:
        raise SpanError(
            f'"{shortened(text)}" is no note; write PART.FEATURE=VALUE or PART=missing, such as'
            f" {_example(sheet)}"
        )
    part_id, dot, feature_id = place.partition(".")
    part = sheet.part(part_id)
    if part is None:
        known = ", ".join(one.id for one in sheet.parts)
        raise SpanError(f'sheet {sheet.key} has no part "{shortened(part_id)}"; its parts are {known}')
    if not dot:
        return _of_part(part, value)
    feature = part.feature(feature_id)
    if feature is None or feature.kind == "dimension":
        raise SpanError(_not_noted(sheet, part, feature_id, feature))
    return _of_feature(part, feature, value)


def with_notes(specimen: Specimen, notes: Sequence[Note]) -> Specimen:
    """Return the record with these notes in place of earlier ones on the same thing.

    Parameters
    ----------
    specimen : Specimen
        The record.
    notes : sequence of Note
        In the order given; a later one on the same thing wins.

    Returns
    -------
    Specimen
        Whether the notes contradict each other or a length is for `check_notes` to say.
    """
    kept = list(specimen.observations)
    for note in notes:
        kept = [one for one in kept if (one.part, one.feature) != (note.part, note.feature)]
        if note.entry is not None:
            kept.append(note.entry)
    return replace(specimen, observations=tuple(kept))


def check_notes(specimen: Specimen, notes: Sequence[Note], sheet: "Sheet") -> None:
    """Refuse notes that the rest of the record contradicts.

    Parameters
    ----------
    specimen : Specimen
        With the notes in it.
    notes : sequence of Note
        The new ones.
    sheet : Sheet
        Names the parts.

    Raises
    ------
    SpanError
        A part noted as missing has lengths, counts or traits.
    """
    for note in notes:
        gone = any(
            one.part == note.part and one.feature is None and one.state == "not present"
            for one in specimen.observations
        )
        noted = [one.feature for one in specimen.observations if (one.part, one.state) == (note.part, "seen")]
        lengths = [one.feature for one in specimen.measurements if one.part == note.part]
        seen = [one or "the part itself" for one in (*noted, *lengths)]
        if gone and seen:
            part = sheet.part(note.part)
            name = part.name if part is not None else note.part
            found = ", ".join(dict.fromkeys(seen))
            raise SpanError(
                f"{name}: noted as missing, yet the record holds {found} of it; take one or the other back,"
                f' such as with "{note.part}="'
            )


def _example(sheet: "Sheet") -> str:
    """Return a note that this sheet would take."""
    for part in sheet.parts:
        for feature in part.features:
            if feature.kind == "count":
                return f"{part.id}.{feature.id}=4"
            if feature.kind == "trait":
                return f"{part.id}.{feature.id}={feature.alternatives[0]}"
    return f"{sheet.parts[0].id}=missing"


def _of_part(part: "Part", value: str) -> Note:
    if not value:
        return Note(part.id, None, None)
    if value not in STATE_WORDS:
        features = ", ".join(one.id for one in part.features if one.kind != "dimension")
        one_of_it = f"; for what is on it write {part.id}.FEATURE=VALUE (FEATURE: {features})"
        raise SpanError(
            f'{part.id}: "{shortened(value)}" is no state of a part; expected one of {", ".join(STATE_WORDS)}'
            + (one_of_it if features else "")
        )
    return Note(part.id, None, ObservationEntry(part.id, None, None, STATE_WORDS[value]))


def _not_noted(sheet: "Sheet", part: "Part", feature_id: str, feature: "Feature | None") -> str:
    noted = ", ".join(one.id for one in part.features if one.kind != "dimension") or "none"
    if feature is not None:
        return f"{part.id}.{feature.id} is a length: measure it; counts and traits of {part.id}: {noted}"
    return (
        f'part {part.id} of sheet {sheet.key} has no feature "{shortened(feature_id)}";'
        f" its counts and traits: {noted}"
    )


def _of_feature(part: "Part", feature: "Feature", value: str) -> Note:
    where = f"{part.id}.{feature.id}"
    if not value:
        return Note(part.id, feature.id, None)
    if feature.kind == "trait":
        return Note(part.id, feature.id, _trait(part, feature, value, where))
    if value == "hidden":
        return Note(part.id, feature.id, ObservationEntry(part.id, feature.id, None, "could not see"))
    count = whole_of(int(value), 0, LARGEST_COUNT) if value.isdecimal() and len(value) < 12 else None
    if count is None:
        raise SpanError(
            f'{where}: "{shortened(value)}" is not a count;'
            f' expected a whole number from 0 to {LARGEST_COUNT}, or "hidden"'
        )
    return Note(part.id, feature.id, ObservationEntry(part.id, feature.id, count))


def _trait(part: "Part", feature: "Feature", value: str, where: str) -> ObservationEntry:
    known = (*feature.alternatives, _OTHER)
    if value in known:  # before "hidden", which may be the name of an alternative
        return ObservationEntry(part.id, feature.id, value)
    if value == "hidden":
        return ObservationEntry(part.id, feature.id, None, "could not see")
    raise SpanError(
        f'{where}: "{shortened(value)}" is not known; expected one of {", ".join(known)}, or "hidden"'
    )
