"""Two specimens side by side: differences of the same lengths, with shared errors cancelled."""

import hashlib
import json
from dataclasses import asdict, dataclass

from measure.length import Length
from measure.redo import measured_again, recorded_length, result_entry
from measure.writeup.gather import Evidence, Figures, Item, PhotoEvidence, figures, words
from measure.writeup.pages import Block, Document, Gallery, Heading, Paragraph, Picture, Table

_ALIKE = "no difference shown"


@dataclass(frozen=True, slots=True)
class Pair:
    """One length on both specimens.

    Attributes
    ----------
    name : str
        Part and feature.
    one, other : Item
        As measured.
    difference : Length
        The first minus the second.
    shared : bool
        Both were measured on the same photo, whose errors partly cancel.
    text : Figures
        The difference for display.
    """

    name: str
    one: Item
    other: Item
    difference: Length
    shared: bool
    text: Figures

    @property
    def shown(self) -> bool:
        """Whether the difference is larger than its expanded uncertainty."""
        return abs(self.difference.value_mm) > self.difference.expanded_uncertainty_mm

    @property
    def outcome(self) -> str:
        """The conclusion in words."""
        if not self.shown:
            return _ALIKE
        return "the first is larger" if self.difference.value_mm > 0 else "the second is larger"


@dataclass(frozen=True, slots=True, eq=False)
class Comparison:
    """Two specimens with their pairs of lengths, and what was noted on each."""

    one: Evidence
    other: Evidence
    pairs: tuple[Pair, ...]
    noted: tuple[tuple[str, str, str, str], ...]
    alone: tuple[str, ...]


def compare(one: Evidence, other: Evidence) -> Comparison:
    """Pair the findings of two specimens.

    Parameters
    ----------
    one, other : Evidence
        Measured lengths pair where part and feature, or else the names, are the same.

    Returns
    -------
    Comparison
        Differences are the first minus the second. Errors of one photo that both were measured on are kept
        shared; different photos count as independent, which is on the safe side if the card was the same.
    """
    others = {_key(item): item for item in reversed(other.items) if item.result}
    pairs = []
    for item in one.items:
        partner = others.pop(_key(item), None) if item.result else None
        if partner is not None:
            pairs.append(_pair(one, item, other, partner))
    paired = {pair.one.key for pair in pairs}
    alone = [f"{item.name} (first only)" for item in one.items if item.key not in paired]
    alone += [f"{item.name} (second only)" for item in others.values()]
    return Comparison(one, other, tuple(pairs), _noted(one, other), tuple(alone))


def _key(item: Item) -> tuple[str, str]:
    entry = item.entry
    if entry.part is not None and entry.feature is not None:
        return (entry.part, entry.feature)
    return ("", item.name.casefold())


def _pair(one: Evidence, item: Item, other: Evidence, partner: Item) -> Pair:
    first, photo = _length(one, item, "first")
    second, same = _length(other, partner, "second")
    difference = first - second
    text = figures(result_entry(difference), inches_first=one.inches_first)
    return Pair(item.name, item, partner, difference, bool(photo) and photo == same, text)


def _length(evidence: Evidence, item: Item, which: str) -> tuple[Length, str]:
    """Return a length whose inputs are named by photo and card, so that equal names mean equal errors."""
    assert item.result is not None
    shot = next((shot for shot in evidence.photos if shot.entry.id == item.entry.photo), None)
    if shot is not None and shot.scale is not None:
        name = _photo_name(shot)
        length = measured_again(item.entry, shot.scale, shot.photo, name, which)
        if length is not None:
            return length, name
    return recorded_length(item.entry, which), ""


def _photo_name(shot: PhotoEvidence) -> str:
    # The same photo with its card marked differently has other corner errors.
    entry = asdict(shot.entry)
    facts = [entry[key] for key in ("sha256", "reference", "also", "sources", "straight_px", "camera")]
    return hashlib.sha256(json.dumps(facts, sort_keys=True, default=str).encode()).hexdigest()[:16]


def _noted(one: Evidence, other: Evidence) -> tuple[tuple[str, str, str, str], ...]:
    first = {noted.name: noted.value for noted in one.noted}
    second = {noted.name: noted.value for noted in other.noted}
    rows = []
    for name in dict.fromkeys([*first, *second]):
        values = (first.get(name, "not noted"), second.get(name, "not noted"))
        unseen = {"not noted", "could not see"} & set(values)
        rows.append((name, *values, "" if unseen else "same" if values[0] == values[1] else "different"))
    return tuple(rows)


def comparison_document(
    comparison: Comparison, photos: tuple[Picture, ...], other_photos: tuple[Picture, ...]
) -> Document:
    """Arrange a comparison as a document.

    Parameters
    ----------
    comparison : Comparison
        Of two specimens.
    photos, other_photos : tuple of Picture
        Annotated photos of either.

    Returns
    -------
    Document
    """
    one, other = comparison.one, comparison.other
    blocks: list[Block] = [
        Heading(1, "Two specimens compared"),
        Heading(2, f"First: {one.title}"),
        Paragraph(words.headline(one)),
        Heading(2, f"Second: {other.title}"),
        Paragraph(words.headline(other)),
        Paragraph(words.CAUTION, "caution"),
        Heading(2, "Lengths"),
        *_lengths(comparison),
    ]
    if comparison.noted:
        header = ("Feature", "First", "Second", "")
        blocks += [
            Heading(2, "Counts and traits"),
            Table("Counts and traits", header, comparison.noted, (2.4, 2, 2, 1.2)),
        ]
    gallery = tuple(_half(picture, "First") for picture in photos)
    gallery += tuple(_half(picture, "Second") for picture in other_photos)
    if gallery:
        blocks += [Heading(2, "Photos"), Gallery(gallery)]
    title = f"{one.title} and {other.title} compared"
    return Document(title, one.subject or title, one.program, max(one.date, other.date), tuple(blocks))


def _lengths(comparison: Comparison) -> list[Block]:
    if not comparison.pairs:
        return [Paragraph("No length was measured on both.")]
    rows = tuple(
        (
            pair.name,
            pair.one.figures.lines[0] if pair.one.figures else "",
            pair.other.figures.lines[0] if pair.other.figures else "",
            pair.text.lines[0],
            pair.outcome,
        )
        for pair in comparison.pairs
    )
    header = ("Length", "First", "Second", "First minus second", "At 95 %")
    note = "± is the expanded uncertainty U, about 95 % coverage. A difference counts if it exceeds its U."
    if any(pair.shared for pair in comparison.pairs):
        note += " Lengths taken on the same photo share its errors, which cancel in their difference."
    blocks: list[Block] = [
        Table("Lengths, value ± U", header, rows, (2.4, 1.8, 1.8, 2.0, 1.9), (1, 2, 3)),
        Paragraph(note, "small"),
    ]
    if comparison.alone:
        blocks.append(Paragraph(f"Measured on one of them: {'; '.join(comparison.alone)}."))
    return blocks


def _half(picture: Picture, which: str) -> Picture:
    caption = f"{which} specimen. {picture.caption}"
    file = f"other-{picture.file}" if which == "Second" else picture.file
    return Picture(file, picture.data, picture.size_px, picture.alt, caption, 86.0)
