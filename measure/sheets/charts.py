"""Charts of a sheet's ranges, as SVG to stand inside a page."""

import io
import re
from html import escape
from typing import Any

import matplotlib as mpl
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from measure.sheets.guide import scale_mm, value_text
from references.release_sheet import MM_PER_INCH, Feature, Normal, Sheet

BAR, EDGE, INK, QUIET = "#2f6f8f", "#1d4a60", "#222222", "#8a8a8a"
WIDTH_IN, ROW_IN, AXES_IN = 6.4, 0.3, 0.95


def range_chart(feature: Feature, sheet: Sheet, *, key: str = "") -> str:
    """Return an SVG with one bar per release, millimetres below and inches above.

    A bar is the range; of a mean with its spread it is the 95 % prediction interval, the mean marked.
    """
    scale = scale_mm(feature, sheet)
    if scale is None:
        return ""
    with mpl.rc_context({"svg.fonttype": "none", "svg.hashsalt": "sheet", "font.family": "sans-serif"}):
        figure = Figure(figsize=(WIDTH_IN, AXES_IN + ROW_IN * len(sheet.releases)), layout="constrained")
        axes = figure.add_subplot()
        _draw(axes, feature, sheet)
        axes.set_xlim(*scale)
        inches = axes.secondary_xaxis("top", functions=(_to_inches, _to_mm))
        inches.set_xlabel("in", color=INK, loc="right")
        axes.set_xlabel("mm", color=INK, loc="right")
        return _svg(figure, f"{feature.name}: ranges by release", f"{key}-{feature.id}")


def _to_inches(length_mm: Any) -> Any:
    return length_mm / MM_PER_INCH


def _to_mm(length_in: Any) -> Any:
    return length_in * MM_PER_INCH


def _draw(axes: Axes, feature: Feature, sheet: Sheet) -> None:
    for row, release in enumerate(sheet.releases):
        limits, value = feature.limits_mm(release.id), feature.by_release[release.id]
        if limits is None:
            axes.annotate(
                value_text(value, sheet.unit),
                (0.5, row),
                xycoords=("axes fraction", "data"),
                ha="center",
                va="center",
                color=QUIET,
            )
            continue
        width = max(limits[1] - limits[0], 1e-3)
        axes.barh(row, width, left=limits[0], height=0.56, color=BAR, edgecolor=EDGE, linewidth=1)
        if isinstance(value, Normal):
            axes.plot([value.mean_mm], [row], marker="|", markersize=12, color="white")
    axes.set_yticks(range(len(sheet.releases)), [release.name for release in sheet.releases])
    axes.set_ylim(len(sheet.releases) - 0.4, -0.6)
    axes.grid(axis="x", color="#dddddd", linewidth=0.6)
    axes.set_axisbelow(True)
    for side in ("right", "left"):
        axes.spines[side].set_visible(False)
    axes.tick_params(axis="y", length=0)


def _svg(figure: Figure, title: str, prefix: str) -> str:
    out = io.StringIO()
    figure.savefig(out, format="svg", metadata={"Date": None, "Creator": None}, transparent=True)
    svg = out.getvalue()
    svg = svg[svg.index("<svg") :]
    # A page holds several charts: their ids must not clash, and the size is left to the page.
    svg = re.sub(r'\bid="', f'id="{prefix}-', svg)
    svg = re.sub(r'(xlink:href="#|url\(#)', rf"\g<1>{prefix}-", svg)
    head, tail = svg.split(">", 1)
    head = re.sub(r'\s(?:width|height)="[^"]*"', "", head)
    return head.replace("<svg ", f'<svg role="img" aria-label="{escape(title)}" ', 1) + ">" + tail
