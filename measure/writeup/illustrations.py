"""The pictures of a write-up: annotated photos and rectified close-ups, the card's face covered."""

import io
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from measure.writeup.draw import (
    CARD_LIMIT_MM,
    Card,
    CloseUp,
    Mark,
    Row,
    annotated,
    close_up,
    cover_by_corners_px,
    cover_outline_px,
    covered,
    dimension,
    jpeg,
    rounded_outline_mm,
)
from measure.writeup.gather import Evidence, Item, PhotoEvidence, bare_name, tidy, words
from measure.writeup.pages import Picture

_FULL_MM, _HIGH_MM = 178.0, 130.0
# Recommended scales, ISO 5455.
_SCALES = ((10, 1), (5, 1), (2, 1), (1, 1), (1, 2), (1, 5), (1, 10), (1, 20), (1, 50))


@dataclass(frozen=True, slots=True)
class Illustrations:
    """Pictures, and what the user should be told about them.

    Attributes
    ----------
    photos, plates : tuples of Picture
        Annotated photos with the list of figures below, for a listing, and without it, for a page.
    close_ups : tuple of Picture
        Rectified parts.
    warnings : tuple of str
        What to look at before publishing.
    """

    photos: tuple[Picture, ...]
    plates: tuple[Picture, ...]
    close_ups: tuple[Picture, ...]
    warnings: tuple[str, ...]


def illustrate(evidence: Evidence, *, show_card: bool) -> Illustrations:
    """Draw every picture that the photos permit.

    Parameters
    ----------
    evidence : Evidence
        With the photos that were found.
    show_card : bool
        Leave the reference card's face as it is.

    Returns
    -------
    Illustrations
        Empty without photos; encoded without metadata.
    """
    photos: list[Picture] = []
    plates: list[Picture] = []
    close_ups: list[Picture] = []
    warnings: list[str] = []
    for item in evidence.photos:
        if item.photo is None:
            continue
        pixels, is_covered, warning = _private(item, evidence.items_of(item.entry.id), show_card)
        warnings += [warning] if warning else []
        marks = _marks(item, evidence)
        listed, shown = _annotated(evidence, item, pixels, marks, is_covered)
        photos.append(listed)
        plates.append(shown)
        close_ups += _close_ups(item, pixels, marks)
    return Illustrations(tuple(photos), tuple(plates), tuple(close_ups), tuple(warnings))


def _private(
    item: PhotoEvidence, items: tuple[Item, ...], show_card: bool
) -> tuple[NDArray[np.uint8], bool, str]:
    assert item.photo is not None
    pixels = item.photo.pixels_bgr
    if item.plane is None or not item.faces:
        return (
            pixels,
            False,
            f"Photo {item.number}: no reference card is recorded, so nothing was covered: check the picture"
            " before you publish it.",
        )
    if show_card:
        return (
            pixels,
            False,
            f"Photo {item.number}: the card's face is shown, with whatever is printed on it.",
        )
    bare = []
    for number, face in enumerate(item.faces):
        large = max(face.object.width_mm, face.object.height_mm) > CARD_LIMIT_MM
        outline = cover_outline_px(item.plane, face.object) if number == 0 else cover_by_corners_px(face)
        if large and any(_within(outline, point) for entry in items for point in entry.entry.used_px):
            bare.append(number)
        else:
            pixels = covered(pixels, outline)
    warning = (
        f"Photo {item.number}: the toy lies on the sheet, so the sheet is not covered: check for writing"
        " on it before you publish the picture."
    )
    return pixels, 0 not in bare, warning if bare else ""


def _within(outline_px: NDArray[np.float64], point: tuple[float, float]) -> bool:
    import cv2

    return cv2.pointPolygonTest(outline_px.astype(np.float32).reshape(-1, 1, 2), point, False) >= 0.0


def _marks(item: PhotoEvidence, evidence: Evidence) -> tuple[tuple[Item, Mark], ...]:
    marks = []
    for found in evidence.items_of(item.entry.id):
        drawn = dimension(found.entry, item.plane)
        if drawn is not None and found.figures is not None:
            first, second = found.figures.lines
            marks.append((found, Mark(found.key, drawn, (drawn.sign + first, second), found.part)))
    return tuple(marks)


def _annotated(
    evidence: Evidence,
    item: PhotoEvidence,
    pixels: NDArray[np.uint8],
    marks: tuple[tuple[Item, Mark], ...],
    is_covered: bool,
) -> tuple[Picture, Picture]:
    card = None
    # If the tilt is open, no bar is right all over the picture.
    if item.scale is not None and item.scale.family is None and item.plane is not None and item.thing:
        outline = np.asarray(item.scale.found[0].corners_px)
        if item.faces:
            outline = item.plane.to_px(rounded_outline_mm(item.thing))
        card = Card(item.plane, item.thing, outline, is_covered)
    shown = tuple(found for found in evidence.items_of(item.entry.id) if found.figures)
    rows = tuple(Row(found.key, found.name, _row_text(found)) for found in shown)
    note = words.measured_with(evidence, item.entry.id)
    whole, alone = annotated(pixels, tuple(mark for _, mark in marks), card, rows, note)
    told = "; ".join(
        f"{found.key} {found.name}: {found.figures.lines[0]}" for found in shown if found.figures
    )
    alt = f"Photo {item.number} of {evidence.title} with dimension lines. {told}".strip()
    file, name = f"photo-{item.number}.jpg", f"Photo {item.number}: {tidy(bare_name(item.entry.file))}"
    return (
        _picture(file, whole, alt, name, _FULL_MM),
        _picture(file, alone, alt, f"{name}. {note}", _FULL_MM),
    )


def _row_text(found: Item) -> str:
    assert found.figures is not None
    first, second = found.figures.lines
    fraction = f" (about {found.figures.fraction.removesuffix(' in')})" if found.figures.fraction else ""
    if found.figures.inches_first:
        return f"{first}{fraction}  ·  {second}"
    return f"{first}  ·  {second}{fraction}"


def _close_ups(
    item: PhotoEvidence, pixels: NDArray[np.uint8], marks: tuple[tuple[Item, Mark], ...]
) -> list[Picture]:
    if item.plane is None:
        return []
    groups: dict[str, list[tuple[Item, Mark]]] = {}
    for found, mark in marks:
        # A rise stands up from the plane: rectified, it would be stretched.
        if found.entry.kind != "rise":
            groups.setdefault(found.part, []).append((found, mark))
    pictures = []
    for group in groups.values():
        drawn = close_up(
            pixels,
            tuple(mark for _, mark in group),
            tuple(f.entry.standoff_mm[0] for f, _ in group),
            item.plane,
        )
        pictures.append(_close_up(item, group, drawn))
    return pictures


def _close_up(item: PhotoEvidence, group: list[tuple[Item, Mark]], drawn: CloseUp) -> Picture:
    top, bottom = next(
        (
            (t, b)
            for t, b in _SCALES
            if drawn.width_mm * t / b <= _FULL_MM and drawn.height_mm * t / b <= _HIGH_MM
        ),
        _SCALES[-1],
    )
    keys = ", ".join(found.key for found, _ in group)
    told = "; ".join(f"{found.name} {found.figures.lines[0]}" for found, _ in group if found.figures)
    caption = (
        f"No. {keys}, photo {item.number}: seen as from straight above, for {drawn.standoff_mm:g} mm above"
        f" the card's face. Scale {top}:{bottom} printed at full size; {drawn.px_per_mm:.2f} px per mm."
    )
    name = f"close-up-{group[0][0].key}.jpg"
    return _picture(
        name, drawn.picture, f"Rectified close-up. {told}", caption, drawn.width_mm * top / bottom
    )


def _picture(file: str, picture: Image.Image, alt: str, caption: str, width_mm: float) -> Picture:
    data = jpeg(picture)
    with Image.open(io.BytesIO(data)) as image:
        return Picture(file, data, image.size, alt, caption, width_mm)
