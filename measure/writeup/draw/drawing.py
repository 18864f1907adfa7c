"""Draws dimensions on a picture: extension lines, arrow heads, and figures where they cover no part."""

from dataclasses import dataclass

import numpy as np

from measure.writeup.draw.dimensions import Dimension
from measure.writeup.draw.layout import Figure, Placed, Sheet, place
from measure.writeup.draw.pen import INK, Pen, text_width_px
from measure.writeup.draw.planar import Points, hull

_SMALL = 0.8  # the second unit's figures, beside the first


@dataclass(frozen=True, slots=True, eq=False)
class Mark:
    """One dimension with its figures.

    Attributes
    ----------
    key : str
        Number in the list below the picture.
    dimension : Dimension
        Where it lies, in px of the picture drawn on.
    lines : tuple of str
        The figures, first unit first.
    part : str
        Measurements with the same name here are of one part.
    """

    key: str
    dimension: Dimension
    lines: tuple[str, ...]
    part: str


def arrange(marks: tuple[Mark, ...], sheet: Sheet) -> tuple[Placed, ...]:
    """Find a place for every mark's text; see `layout.place`."""
    parts: dict[str, list[Points]] = {}
    for mark in marks:
        parts.setdefault(mark.part, []).append(mark.dimension.part_px)
    hulls = {part: hull(np.concatenate(points)) for part, points in parts.items()}
    return place(tuple(_figure(mark, hulls[mark.part], sheet.unit_px) for mark in marks), sheet)


def _figure(mark: Mark, part_px: Points, unit_px: float) -> Figure:
    sizes = _sizes(mark, unit_px)
    width_px = max(
        text_width_px(line, size, bold=not i)
        for i, (line, size) in enumerate(zip(mark.lines, sizes, strict=True))
    )
    label = (width_px + 0.7 * unit_px, 1.25 * sum(sizes) + 0.2 * unit_px)
    tag_px = 1.5 * unit_px
    return Figure(mark.key, mark.dimension.ends_px, part_px, label, (tag_px, tag_px), mark.dimension.pointed)


def _sizes(mark: Mark, unit_px: float) -> list[float]:
    return [unit_px if not place_no else _SMALL * unit_px for place_no in range(len(mark.lines))]


def draw_marks(pen: Pen, marks: tuple[Mark, ...], placed: tuple[Placed, ...], unit_px: float) -> None:
    """Draw every mark: lines first, so that no line crosses a figure."""
    for mark, spot in zip(marks, placed, strict=True):
        _draw_lines(pen, mark, spot, unit_px)
    for mark, spot in zip(marks, placed, strict=True):
        _draw_text(pen, mark, spot, unit_px)


def _draw_lines(pen: Pen, mark: Mark, spot: Placed, unit_px: float) -> None:
    thin_px = max(1.5, 0.055 * unit_px)
    if len(mark.dimension.curve_px):
        pen.haloed(mark.dimension.curve_px, thin_px)
    if spot.line_px is not None:
        _extension_lines(pen, mark.dimension.ends_px, spot.line_px, unit_px, thin_px)
        _dimension_line(pen, spot, unit_px, thin_px)
    if spot.leader_px is not None:
        pen.haloed(spot.leader_px, thin_px)
        if spot.line_px is None:
            way = spot.leader_px[0] - spot.leader_px[1]
            pen.arrow(spot.leader_px[0], way / max(float(np.hypot(*way)), 1e-6), 0.7 * unit_px)


def _extension_lines(pen: Pen, ends: Points, line: Points, unit_px: float, thin_px: float) -> None:
    # A short gap at the part and a short run past the dimension line, as in drawing practice (ISO 129-1).
    for end, foot in zip(ends, line, strict=True):
        away = foot - end
        reach_px = float(np.hypot(*away))
        if reach_px > 1.0:
            way = away / reach_px
            pen.haloed(
                [end + way * min(0.15 * unit_px, 0.3 * reach_px), foot + way * 0.25 * unit_px], thin_px
            )


def _dimension_line(pen: Pen, spot: Placed, unit_px: float, thin_px: float) -> None:
    start, end = spot.line_px if spot.line_px is not None else (spot.centre_px, spot.centre_px)
    length_px = max(float(np.hypot(*(end - start))), 1e-6)
    way = (end - start) / length_px
    arrow_px = 0.7 * unit_px
    beyond = (spot.centre_px - start) @ way if spot.leader_px is None else length_px / 2.0
    if length_px > 3.2 * arrow_px and 0.0 < beyond < length_px:
        pen.haloed([start + way * arrow_px * 0.5, end - way * arrow_px * 0.5], thin_px)
        tips = ((start, -way), (end, way))
    else:
        # Too short for both heads inside: they point inward from outside.
        first = start + way * min(beyond, -2.0 * arrow_px)
        last = start + way * max(beyond, length_px + 2.0 * arrow_px)
        if length_px > 3.2 * arrow_px:
            first, last = (start + way * min(beyond, 0.0), start + way * max(beyond, length_px))
        pen.haloed([first, last], thin_px)
        tips = ((start, way), (end, -way)) if length_px <= 3.2 * arrow_px else ((start, -way), (end, way))
    for tip, direction in tips:
        pen.arrow(tip, direction, arrow_px)


def _draw_text(pen: Pen, mark: Mark, spot: Placed, unit_px: float) -> None:
    if spot.tagged:
        draw_key(pen, spot.centre_px, spot.size_px[0], mark.key)
        return
    pen.plate(spot.centre_px, *spot.size_px)
    sizes = _sizes(mark, unit_px)
    top = float(spot.centre_px[1]) - 1.25 * sum(sizes) / 2.0
    for place_no, (line, size) in enumerate(zip(mark.lines, sizes, strict=True)):
        pen.text(line, (float(spot.centre_px[0]), top + 0.625 * size), size, bold=not place_no, anchor="mm")
        top += 1.25 * size


def draw_key(pen: Pen, centre_px: Points | tuple[float, float], diameter_px: float, key: str) -> None:
    """Draw a numbered disc."""
    pen.disc(np.asarray(centre_px, float), diameter_px, INK)
    size_px = diameter_px * (0.56 if len(key) < 3 else 0.42)
    pen.text(key, np.asarray(centre_px, float), size_px, bold=True, colour=(255, 255, 255), anchor="mm")
