"""The page of the printed target: board, check rules and instructions, in vectors and at true size."""

import io
from dataclasses import dataclass
from typing import TYPE_CHECKING

import cv2
import numpy as np

from calibration.printed_target import TARGET, TargetLayout
from measure.errors import MeasureError

if TYPE_CHECKING:
    from matplotlib.axes import Axes

_MM_PER_INCH = 25.4
_INK = "black"

# name: width and height in mm. ISO 216, and 8.5 x 11 in.
PAPERS: dict[str, tuple[float, float]] = {"a4": (210.0, 297.0), "letter": (215.9, 279.4)}


@dataclass(frozen=True, slots=True)
class _Page:
    width_mm: float
    height_mm: float
    board_left_mm: float
    board_top_mm: float


def target_pdf(paper: str, *, layout: TargetLayout = TARGET) -> bytes:
    """Draw the printed target as a one-page PDF.

    Parameters
    ----------
    paper : str
        ``a4`` or ``letter``.
    layout : TargetLayout
        The board to draw.

    Returns
    -------
    bytes
        The PDF file.

    Raises
    ------
    MeasureError
        Another paper was asked for.

    Notes
    -----
    The page is the paper's size and one PDF point is 1/72 in, so printing at 100 % gives the drawn lengths.
    """
    if paper not in PAPERS:
        raise MeasureError(f"paper '{paper}': expected {' or '.join(PAPERS)}")
    import matplotlib as mpl
    from matplotlib.backends.backend_pdf import FigureCanvasPdf
    from matplotlib.figure import Figure

    width_mm, height_mm = PAPERS[paper]
    page = _Page(width_mm, height_mm, float(round((width_mm - layout.width_mm) / 2.0)), 11.0)
    with mpl.rc_context({"pdf.fonttype": 42}):
        figure = Figure(figsize=(width_mm / _MM_PER_INCH, height_mm / _MM_PER_INCH))
        FigureCanvasPdf(figure)
        axes = figure.add_axes((0.0, 0.0, 1.0, 1.0))
        axes.set_xlim(0.0, width_mm)
        axes.set_ylim(height_mm, 0.0)
        axes.set_axis_off()
        _draw_board(axes, page, layout)
        _draw_rules(axes, page, layout)
        _draw_words(axes, page, layout)
        stream = io.BytesIO()
        title = f"cardspan printed target, {paper}"
        figure.savefig(stream, format="pdf", metadata={"Title": title, "CreationDate": None})
    return stream.getvalue()


def _draw_board(axes: "Axes", page: _Page, layout: TargetLayout) -> None:
    from matplotlib.collections import PolyCollection

    offset = np.array([page.board_left_mm, page.board_top_mm])
    black: list[np.ndarray] = []
    for row in range(layout.rows):
        for column in range(layout.columns):
            if (row + column) % 2 == 0:
                corner = np.array([column, row]) * layout.square_mm
                black.append(_square(corner + offset, layout.square_mm))
    dictionary = layout.board().getDictionary()
    bits = int(dictionary.markerSize) + 2
    cell_mm = layout.marker_mm / bits
    for marker, corners_mm in enumerate(layout.marker_corners_mm()):
        black += _marker(marker, corners_mm[0] + offset, dictionary, bits, cell_mm)
    axes.add_collection(PolyCollection(black, facecolors=_INK, edgecolors="none", antialiaseds=False))


def _marker(
    marker: int, corner_mm: np.ndarray, dictionary: cv2.aruco.Dictionary, bits: int, cell_mm: float
) -> list[np.ndarray]:
    cells = np.asarray(cv2.aruco.generateImageMarker(dictionary, marker, bits)).reshape(bits, bits)
    runs = []
    for row in range(bits):
        column = 0
        while column < bits:
            start = column
            while column < bits and cells[row, column] == 0:
                column += 1
            if (
                column > start
            ):  # one rectangle for a run of black cells, so that no hairline shows between them
                first = corner_mm + np.array([start, row]) * cell_mm
                runs.append(_rectangle(first, (column - start) * cell_mm, cell_mm))
            column += 1
    return runs


def _square(corner_mm: np.ndarray, side_mm: float) -> np.ndarray:
    return _rectangle(corner_mm, side_mm, side_mm)


def _rectangle(corner_mm: np.ndarray, width_mm: float, height_mm: float) -> np.ndarray:
    x, y = corner_mm
    return np.array([[x, y], [x + width_mm, y], [x + width_mm, y + height_mm], [x, y + height_mm]])


def _draw_rules(axes: "Axes", page: _Page, layout: TargetLayout) -> None:
    across_mm, down_mm = layout.check_across_mm, layout.check_down_mm
    left_mm = page.board_left_mm
    top_mm = page.board_top_mm + layout.height_mm + 12.0
    _rule(axes, (left_mm, top_mm), (1.0, 0.0), across_mm)
    _rule(axes, (page.board_left_mm - 5.0, page.board_top_mm + 5.0), (0.0, 1.0), down_mm)


def _rule(axes: "Axes", start_mm: tuple[float, float], along: tuple[float, float], length_mm: float) -> None:
    from matplotlib.collections import LineCollection

    start, step = np.array(start_mm), np.array(along)
    # Ticks of the lower rule point up, those of the side rule to the left.
    side = np.array([-step[1], -step[0]])
    ticks = []
    for millimetre in range(round(length_mm) + 1):
        tick_mm = 5.0 if millimetre % 10 == 0 else 3.5 if millimetre % 5 == 0 else 2.2
        foot = start + step * millimetre
        ticks.append([foot, foot + side * tick_mm])
    axes.add_collection(LineCollection(ticks, colors=_INK, linewidths=0.4, capstyle="butt"))
    axes.add_collection(LineCollection([[start, start + step * length_mm]], colors=_INK, linewidths=0.4))
    for centimetre in range(0, round(length_mm) // 10 + 1, 5):
        place = start + step * 10.0 * centimetre + side * 6.6
        turn = 0 if step[0] else 90
        axes.text(
            float(place[0]),
            float(place[1]),
            f"{centimetre * 10}",
            ha="center",
            va="center",
            fontsize=6,
            rotation=turn,
        )


def _draw_words(axes: "Axes", page: _Page, layout: TargetLayout) -> None:
    across_mm, down_mm = layout.check_across_mm, layout.check_down_mm
    left_mm, top_mm = page.board_left_mm, page.board_top_mm + layout.height_mm
    axes.text(left_mm, 6.5, "Printed target for measuring in photographs", fontsize=9, va="center")
    axes.text(
        page.width_mm - left_mm,
        6.5,
        f"squares {layout.square_mm:g} mm, markers {layout.marker_mm:g} mm",
        fontsize=7,
        va="center",
        ha="right",
    )
    lines = (
        '1. Print at 100 % ("actual size"), not "fit to page", on plain white paper; let it dry flat.',
        f"2. Measure both check rules with a steel rule and note it here: across ({across_mm:g} mm)"
        f" ________ mm, down ({down_mm:g} mm) ________ mm.",
        "    Enter what you measured whenever you use this sheet, for example"
        f" --printed-mm {across_mm - 0.4:g}x{down_mm - 0.5:g}",
        "3. Lay it flat, or tape it to a stiff board. The part may lie on it: half of it may be covered.",
    )
    for number, text in enumerate(lines):
        axes.text(left_mm, top_mm + 16.0 + 4.2 * number, text, fontsize=7, va="center")
