"""Sets each kind of block on the pages of a PDF."""

import io
from typing import TYPE_CHECKING, Any

from measure.writeup.pages.blocks import (
    Block,
    Bullets,
    Chart,
    Facts,
    Gallery,
    Heading,
    Paragraph,
    Picture,
    Table,
)

if TYPE_CHECKING:
    from fpdf import FPDF

FAMILY = "text"
SOFT = (86, 97, 110)
_INK, _TINT, _WARN, _RULE = (22, 32, 43), (238, 243, 248), (255, 244, 220), (201, 208, 216)
_LEADING = 1.35
_GAP_MM = 4.0
_MM_PER_PT = 25.4 / 72.0
_CAPTION_PT = 7.5


def set_block(pdf: "FPDF", block: Block, following: tuple[Block, ...]) -> None:
    """Set one block where the last one ended; a heading stays with what follows it."""
    if isinstance(block, Heading):
        _heading(pdf, block.level, block.text, following)
    else:
        _set(pdf, block)


def _set(pdf: "FPDF", block: Paragraph | Bullets | Facts | Table | Picture | Gallery | Chart) -> None:
    match block:
        case Paragraph(text, style):
            _paragraph(pdf, text, style)
        case Bullets(items):
            _bullets(pdf, items)
        case Facts(pairs):
            _grid(pdf, Table("", (), pairs, (1.0, 3.0)), 9.0)
        case Table():
            _captioned_table(pdf, block)
        case Picture():
            _row(pdf, (block,))
        case Gallery(pictures):
            _gallery(pdf, pictures)
        case Chart():
            _chart(pdf, block)


def _line_mm(size_pt: float) -> float:
    return size_pt * _MM_PER_PT * _LEADING


def _write(
    pdf: "FPDF", text: str, size_pt: float, *, style: str = "", indent_mm: float = 0.0, **more: Any
) -> None:
    pdf.set_font(FAMILY, style, size_pt)
    pdf.set_x(pdf.l_margin + indent_mm)
    where: Any = {"align": "L", "new_x": "LMARGIN", "new_y": "NEXT"}
    pdf.multi_cell(pdf.epw - indent_mm, _line_mm(size_pt), text, **where, **more)


def _heading(pdf: "FPDF", level: int, text: str, following: tuple[Block, ...]) -> None:
    size_pt = {1: 18.0, 2: 12.5}.get(level, 10.5)
    room_mm = 24.0 + (min(_least_height_mm(pdf, following[0]), 0.6 * pdf.eph) if following else 0.0)
    if level > 1 and pdf.will_page_break(room_mm):
        pdf.add_page()
    if level > 1 and pdf.get_y() > pdf.t_margin + 1.0:
        pdf.ln(_GAP_MM if level == 2 else _GAP_MM / 2)
    pdf.start_section(text, level - 1, strict=False)
    pdf.set_text_color(*_INK)
    _write(pdf, text, size_pt, style="B")
    if level == 2:
        pdf.set_draw_color(*_RULE)
        pdf.line(pdf.l_margin, pdf.get_y() + 0.8, pdf.l_margin + pdf.epw, pdf.get_y() + 0.8)
    pdf.ln(2.2)


def _least_height_mm(pdf: "FPDF", block: Block) -> float:
    match block:
        case Chart(size_mm=(wide, high)):
            return high * min(1.0, pdf.epw / wide) + 8.0
        case Picture():
            return _fitted(pdf, block, pdf.epw)[1] + 8.0
        case Gallery(pictures):
            return min(_fitted(pdf, picture, pdf.epw)[1] for picture in pictures) + 24.0
        case Table():
            return 14.0
    return 0.0


def _paragraph(pdf: "FPDF", text: str, style: str) -> None:
    pdf.set_text_color(*(SOFT if style == "small" else _INK))
    if style in ("lead", "caution"):
        pdf.set_fill_color(*(_TINT if style == "lead" else _WARN))
        size_pt, weight = (10.5, "B") if style == "lead" else (9.5, "")
        _write(pdf, text, size_pt, style=weight, fill=True, padding=(2.2, 3.5, 2.2, 3.5))
    else:
        _write(pdf, text, 8.0 if style == "small" else 9.5)
    pdf.ln(_GAP_MM / 2)


def _bullets(pdf: "FPDF", items: tuple[str, ...]) -> None:
    pdf.set_text_color(*_INK)
    for item in items:
        pdf.set_font(FAMILY, "", 9.5)
        if pdf.will_page_break(_line_mm(9.5)):
            pdf.add_page()
        pdf.set_x(pdf.l_margin + 1.0)
        pdf.cell(4.0, _line_mm(9.5), "•")
        _write(pdf, item, 9.5, indent_mm=5.0)
    pdf.ln(_GAP_MM / 2)


def _captioned_table(pdf: "FPDF", table: Table) -> None:
    if pdf.will_page_break(26.0):
        pdf.add_page()
    pdf.set_text_color(*_INK)
    _write(pdf, table.caption, 9.0, style="B")
    pdf.ln(0.8)
    _grid(pdf, table, 7.2 if len(table.header) > 6 else 8.2)


def _grid(pdf: "FPDF", table: Table, size_pt: float) -> None:
    from fpdf.fonts import FontFace

    pdf.set_font(FAMILY, "", size_pt)
    pdf.set_text_color(*_INK)
    pdf.set_draw_color(*_RULE)
    pdf.set_line_width(0.15)
    pdf.set_fill_color(255, 255, 255)
    aligns = tuple("RIGHT" if column in table.numbers else "LEFT" for column in range(len(table.weights)))
    headed = int(bool(table.header))
    with pdf.table(
        col_widths=table.weights,
        text_align=aligns,
        line_height=_line_mm(size_pt),
        padding=(0.9, 1.2, 0.9, 1.2),
        borders_layout="HORIZONTAL_LINES",
        first_row_as_headings=bool(headed),
        v_align="TOP",
        headings_style=FontFace(emphasis="BOLD", fill_color=_TINT),
        repeat_headings=headed,
        num_heading_rows=headed,
    ) as grid:
        for row in (table.header, *table.rows) if headed else table.rows:
            grid.row(row)
    pdf.ln(_GAP_MM)


def _fitted(pdf: "FPDF", picture: Picture, most_mm: float) -> tuple[float, float]:
    wide, high = picture.size_px
    # A tall picture must leave room for text above it and its caption.
    width_mm = min(picture.width_mm, most_mm, 0.62 * pdf.eph * wide / high)
    return width_mm, width_mm * high / wide


def _gallery(pdf: "FPDF", pictures: tuple[Picture, ...]) -> None:
    half_mm = (pdf.epw - _GAP_MM) / 2
    waiting: list[Picture] = []
    for picture in pictures:
        if picture.width_mm > half_mm:
            _row(pdf, (picture,))
            continue
        waiting.append(picture)
        if len(waiting) == 2:
            _row(pdf, tuple(waiting))
            waiting = []
    if waiting:
        _row(pdf, tuple(waiting))


def _row(pdf: "FPDF", pictures: tuple[Picture, ...]) -> None:
    cell_mm = (pdf.epw - _GAP_MM * (len(pictures) - 1)) / len(pictures)
    sizes = [_fitted(pdf, picture, cell_mm) for picture in pictures]
    captions = [_caption_mm(pdf, picture.caption, cell_mm) for picture in pictures]
    if pdf.will_page_break(max(size[1] + mm for size, mm in zip(sizes, captions, strict=True)) + 1.0):
        pdf.add_page()
    top_mm, left_mm = pdf.get_y(), pdf.l_margin
    bottoms = []
    pdf.set_text_color(*SOFT)
    for picture, (wide, high) in zip(pictures, sizes, strict=True):
        pdf.image(io.BytesIO(picture.data), left_mm, top_mm, wide, high, alt_text=picture.alt)
        pdf.set_xy(left_mm, top_mm + high + 1.0)
        pdf.set_font(FAMILY, size=_CAPTION_PT)
        where: Any = {"align": "L", "new_x": "LMARGIN", "new_y": "NEXT"}
        pdf.multi_cell(cell_mm, _line_mm(_CAPTION_PT), picture.caption, **where)
        bottoms.append(pdf.get_y())
        left_mm += cell_mm + _GAP_MM
    pdf.set_y(max(bottoms) + _GAP_MM)


def _caption_mm(pdf: "FPDF", text: str, width_mm: float) -> float:
    pdf.set_font(FAMILY, size=_CAPTION_PT)
    only: Any = {"dry_run": True, "output": "LINES"}
    lines: Any = pdf.multi_cell(width_mm, _line_mm(_CAPTION_PT), text, **only)
    return 1.0 + _line_mm(_CAPTION_PT) * len(lines)


def _chart(pdf: "FPDF", chart: Chart) -> None:
    wide, high = chart.size_mm
    scale = min(1.0, pdf.epw / wide)
    if pdf.will_page_break(high * scale + 8.0):
        pdf.add_page()
    top_mm = pdf.get_y()
    # Shapes of the drawing without a colour take the page's.
    pdf.set_fill_color(0, 0, 0)
    drawing = io.BytesIO(chart.outlined_svg)
    pdf.image(drawing, pdf.l_margin, top_mm, wide * scale, high * scale, alt_text=chart.alt)
    pdf.set_xy(pdf.l_margin, top_mm + high * scale + 1.0)
    pdf.set_text_color(*SOFT)
    _write(pdf, chart.caption, _CAPTION_PT)
    pdf.ln(_GAP_MM)
