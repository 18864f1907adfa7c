"""The photo for a listing: dimension lines, a scale bar, and the figures listed below it."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from calibration.objects import ReferenceObject
from measure.writeup.draw.busy import busy_map
from measure.writeup.draw.dimensions import Dimension
from measure.writeup.draw.drawing import Mark, arrange, draw_key, draw_marks
from measure.writeup.draw.layout import Sheet
from measure.writeup.draw.pen import INK, Pen, text_width_px, wrap
from measure.writeup.draw.planar import Points, hull
from measure.writeup.draw.planes import MetricPlane, ScaledPlane, resized
from measure.writeup.draw.privacy import CARD_LIMIT_MM
from measure.writeup.draw.scalebar import ScaleBar, draw_scale_bar, scale_bar

LONG_SIDE_PX = 1600
# At 390 points across, a usual phone, this share of the width is a line of text over 10 points high.
_UNIT_SHARE = 0.027
_GREY = (70, 78, 90)


@dataclass(frozen=True, slots=True)
class Row:
    """One line of the list below a picture: key, what was measured, and its figures."""

    key: str
    name: str
    figures: str


@dataclass(frozen=True, slots=True, eq=False)
class Card:
    """The reference card in a photo.

    Attributes
    ----------
    plane : MetricPlane
        Of the photo at its own size.
    thing : ReferenceObject
        What it is.
    outline_px : (N, 2) array
        Its outline in the photo.
    covered : bool
        Whether its face is covered.
    """

    plane: MetricPlane
    thing: ReferenceObject
    outline_px: Points
    covered: bool


def annotated(
    pixels_bgr: NDArray[np.uint8],
    marks: tuple[Mark, ...],
    card: Card | None,
    rows: tuple[Row, ...],
    note: str,
) -> tuple[Image.Image, Image.Image]:
    """Draw dimensions on a photo and list them below it.

    Parameters
    ----------
    pixels_bgr : (H, W, 3) uint8 array
        The photo, the card's face already covered if it is to be.
    marks : tuple of Mark
        In px of the photo.
    card : Card or None
        The reference.
    rows : tuple of Row
        The list below the photo.
    note : str
        How it was measured.

    Returns
    -------
    PIL image, PIL image
        The photo with its longer side at 1600 px and the list below; and the photo alone.
    """
    height, width = pixels_bgr.shape[:2]
    scale = LONG_SIDE_PX / max(height, width)
    wide, high = round(width * scale), round(height * scale)
    unit = _UNIT_SHARE * wide
    photo = Image.fromarray(np.ascontiguousarray(pixels_bgr[:, :, ::-1]))
    legend = _Legend(rows, note, wide, unit)
    pen = Pen(wide, high + legend.height_px)
    pen.paste(photo, 0, 0, wide, high)
    scaled = tuple(_scaled(mark, scale) for mark in marks)
    small = np.asarray(photo.resize((wide, high), Image.Resampling.BOX))[:, :, ::-1]
    points = np.concatenate([mark.dimension.part_px for mark in scaled]) if scaled else np.zeros((0, 2))
    sheet = Sheet.blank(wide, high, busy_map(np.ascontiguousarray(small), points), unit)
    bar = _bar(card, scale, sheet, scaled) if card is not None else None
    if card is not None:
        sheet = sheet.without(hull(resized(card.outline_px, scale)))
    if bar is not None and card is not None:
        draw_scale_bar(pen, bar, max(1.0, 0.03 * unit))
        sheet = sheet.without(bar.outline_px)
        if card.covered:
            kind = "sheet" if max(card.thing.width_mm, card.thing.height_mm) > CARD_LIMIT_MM else "card"
            _face_text(pen, bar, resized(card.outline_px, scale), unit, kind)
        else:
            scaled = (*scaled, _bar_mark(bar))
    draw_marks(pen, scaled, arrange(scaled, sheet), unit)
    legend.draw(pen, high)
    whole = pen.finished()
    return whole, whole.crop((0, 0, wide, high))


def _scaled(mark: Mark, scale: float) -> Mark:
    d = mark.dimension
    ends, part, curve = (resized(points, scale) for points in (d.ends_px, d.part_px, d.curve_px))
    moved = Dimension(ends, part, curve, d.sign)
    return Mark(mark.key, moved, mark.lines, mark.part)


def _bar(card: Card, scale: float, sheet: Sheet, marks: tuple[Mark, ...]) -> ScaleBar | None:
    taken = tuple(hull(mark.dimension.part_px) for mark in marks)
    plane = ScaledPlane(card.plane, scale)
    return scale_bar(plane, card.thing, (sheet.width_px, sheet.height_px), taken, on_face=card.covered)


def _bar_mark(bar: ScaleBar) -> Mark:
    outline = bar.outline_px
    end = bar.fields_px[-1][1]
    spot = Dimension(np.array([bar.fields_px[0][0], end]), outline, sign="R ")
    return Mark("", spot, (bar.label,), "scale bar")


def _face_text(pen: Pen, bar: ScaleBar, outline_px: Points, unit: float, kind: str) -> None:
    """Write the bar's length on the cover, below the bar, and a note about the cover above it."""
    room = 0.65 * _breadth(outline_px)
    words, spots = f"{kind} covered", bar.outline_px
    size = min(unit, 0.25 * room, unit * room / text_width_px(words, 0.7 * unit))
    middle = (spots.min(axis=0) + spots.max(axis=0)) / 2.0
    below = np.array([0.0, float(np.ptp(spots[:, 1])) / 2.0 + 0.85 * size])
    pen.text(bar.label, middle + below, size, bold=True, colour=(20, 20, 20), anchor="mm")
    pen.text(words, middle - below, 0.7 * size, colour=(60, 60, 60), anchor="mm")


def _breadth(outline_px: Points) -> float:
    edges = np.roll(outline_px, -1, axis=0) - outline_px
    lengths = np.hypot(edges[:, 0], edges[:, 1])
    normals = np.column_stack([-edges[:, 1], edges[:, 0]])[lengths > 1e-6] / lengths[lengths > 1e-6, None]
    spans = outline_px @ normals.T
    return float((spans.max(axis=0) - spans.min(axis=0)).min())


class _Legend:
    """The list below the photo; it is laid out first, since the picture's height depends on it."""

    def __init__(self, rows: tuple[Row, ...], note: str, width_px: int, unit_px: float) -> None:
        self._unit = unit_px
        self._pad = 0.8 * unit_px
        self._left = 2.9 * unit_px
        self._width = width_px
        self._size = 0.8 * unit_px
        self._rows = [(row, *self._set(row)) for row in rows]
        self._note = wrap(note, 0.64 * unit_px, width_px - 2.0 * self._pad) if note else []
        lines = sum(len(names) + (not level) for _, names, level in self._rows)
        high = 1.5 * self._size * lines + 0.35 * unit_px * len(rows) + 0.98 * unit_px * len(self._note)
        self.height_px = round(high + 2.2 * self._pad) if rows or note else 0

    def _set(self, row: Row) -> tuple[list[str], bool]:
        room = self._width - self._left - self._pad
        figures = text_width_px(row.figures, self._size)
        name = text_width_px(row.name, self._size, bold=True)
        if name + figures + 1.5 * self._unit <= room:
            return [row.name], True
        return wrap(row.name, self._size, room, bold=True), False

    def draw(self, pen: Pen, top_px: float) -> None:
        """Draw it from this height down."""
        y = top_px + self._pad
        for row, names, level in self._rows:
            step = 1.5 * self._size
            if row.key:
                draw_key(pen, (self._pad + 0.75 * self._unit, y + step / 2.0), 1.45 * self._unit, row.key)
            for name in names:
                pen.text(name, (self._left, y + step / 2.0), self._size, bold=True, colour=INK)
                y += step
            if level:
                right = (self._width - self._pad, y - step / 2.0)
                pen.text(row.figures, right, self._size, colour=INK, anchor="rm")
            else:
                pen.text(row.figures, (self._left, y + step / 2.0), self._size, colour=INK)
                y += step
            y += 0.35 * self._unit
        y += 0.2 * self._pad
        for line in self._note:
            pen.text(line, (self._pad, y + 0.49 * self._unit), 0.64 * self._unit, colour=_GREY)
            y += 0.98 * self._unit
