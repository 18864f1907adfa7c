"""Charts: each dimension against the releases' ranges, and where its uncertainty comes from."""

import io
import re
import warnings
from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from measure.length import MM_PER_INCH
from measure.writeup.draw import checked, fallbacks
from measure.writeup.gather import Evidence, Item, plain_range
from measure.writeup.pages import Chart

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

_WIDTH_IN = 6.7
_MM_PER_IN = 25.4
_PNG_DPI = 240
_SVG_METADATA = ("Date", "Creator", "Format", "Type")
_PER_FIGURE = 5
_PER_BUDGET = 12
# Okabe and Ito's colours (jfly.uni-koeln.de/color), which colour-blind people can tell apart.
_BLUE, _ORANGE = "#0072B2", "#D55E00"
_SOURCES = ("#0072B2", "#E69F00", "#009E73", "#CC79A7", "#56B4E9", "#D55E00", "#F0E442", "#999999", "#000000")
_LONG = 46


@dataclass(frozen=True, slots=True)
class _Plot:
    draw: Callable[["Figure"], None]
    height_in: float
    file: str
    alt: str
    caption: str


def charts(evidence: Evidence) -> tuple[Chart, ...]:
    """Draw all charts that the evidence supports.

    Parameters
    ----------
    evidence : Evidence
        Ranges are drawn where the sheet has limits, budgets where a result has its sources.

    Returns
    -------
    tuple of Chart
        As PNG and SVG without metadata; empty where nothing can be drawn.
    """
    plots = [*_range_plots(evidence), *_budget_plots(evidence)]
    if not plots:
        return ()
    words = "".join(item.name for item in evidence.items) + "".join(
        limit.release for item in evidence.items for limit in item.limits
    )
    return tuple(_rendered(plot, words) for plot in plots)


def _parts(things: list[Any], most: int) -> list[list[Any]]:
    count = -(-len(things) // most)
    size = -(-len(things) // count) if count else 1
    return [things[start : start + size] for start in range(0, len(things), size)]


def _range_plots(evidence: Evidence) -> list[_Plot]:
    shown = [
        item for item in evidence.items if item.figures and any(x.low_mm is not None for x in item.limits)
    ]
    plots = []
    for number, group in enumerate(_parts(shown, _PER_FIGURE), 1):
        heights = [0.62 + 0.2 * len(item.limits) for item in group]
        alt = " ".join(_range_words(item, evidence.inches_first) for item in group)
        caption = "Measured value with U (orange) against what each release has (blue)."
        plots.append(_Plot(_range_drawer(group, heights, evidence.inches_first), sum(heights) + 0.15,
                           f"chart-ranges-{number}", alt, caption))  # fmt: skip
    return plots


def _range_words(item: Item, inches_first: bool) -> str:
    assert item.figures is not None
    parts = []
    for limit in item.limits:
        if limit.low_mm is None or limit.high_mm is None:
            parts.append(f"{limit.release}: none given")
        else:
            parts.append(
                f"{limit.release}: {plain_range(limit.low_mm, limit.high_mm, inches_first=inches_first)}"
            )
    return f"{item.name}: measured {item.figures.lines[0]}; {'; '.join(parts)}."


def _range_drawer(group: list[Item], heights: list[float], inches: bool) -> Callable[["Figure"], None]:
    def draw(figure: "Figure") -> None:
        grid = figure.add_gridspec(len(group), 1, height_ratios=heights)
        for row, item in enumerate(group):
            _draw_ranges(figure.add_subplot(grid[row]), item, inches)

    return draw


def _draw_ranges(axes: "Axes", item: Item, inches: bool) -> None:
    assert item.result is not None
    assert item.figures is not None
    unit = MM_PER_INCH if inches else 1.0
    value, expanded = item.result.length_mm / unit, item.result.expanded_uncertainty_mm / unit
    for row, limit in enumerate(item.limits):
        if limit.low_mm is not None and limit.high_mm is not None:
            low, high = limit.low_mm / unit, limit.high_mm / unit
            axes.barh(row, high - low, left=low, height=0.5, color=_BLUE, alpha=0.75, linewidth=0)
            # A range narrower than a line must still be visible.
            axes.plot(
                [low, low, high, high], [row - 0.25, row + 0.25, row + 0.25, row - 0.25], color=_BLUE, lw=1.0
            )
    axes.axvspan(value - expanded, value + expanded, color=_ORANGE, alpha=0.22, linewidth=0)
    axes.axvline(value, color=_ORANGE, lw=1.6)
    low_x, high_x = axes.get_xlim()
    margin = 0.08 * (high_x - low_x)
    axes.set_xlim(low_x - margin, high_x + margin)
    names = [
        _shortened(x.release, 24) + ("" if x.low_mm is not None else f" ({x.source or 'none'})")
        for x in item.limits
    ]
    axes.set_yticks(range(len(item.limits)), names, fontsize=7.5)
    axes.tick_params(axis="y", length=0)
    axes.set_ylim(len(item.limits) - 0.5, -0.5)
    axes.tick_params(axis="x", labelsize=7)
    axes.set_title(
        f"{item.key}  {_shortened(item.name, _LONG)}: {item.figures.lines[0]}", fontsize=8.5, loc="left"
    )
    axes.set_xlabel("in" if inches else "mm", fontsize=7, labelpad=1)
    axes.grid(axis="x", lw=0.3, color="#cccccc")
    axes.set_axisbelow(True)
    for side in ("top", "right", "left"):
        axes.spines[side].set_visible(False)


def _budget_plots(evidence: Evidence) -> list[_Plot]:
    shown = [item for item in evidence.items if item.result and item.result.budget]
    sources = list(dict.fromkeys(line.source for item in shown if item.result for line in item.result.budget))
    colours = {name: index % len(_SOURCES) for index, name in enumerate(sorted(sources))}
    plots = []
    for number, group in enumerate(_parts(shown, _PER_BUDGET), 1):
        alt = " ".join(_budget_words(item) for item in group)
        caption = "Where the uncertainty comes from: each source's share of u², per length."
        rows_of_legend = -(-len(colours) // 4)
        height = 0.62 + 0.3 * len(group) + 0.2 * rows_of_legend
        plots.append(_Plot(_budget_drawer(group, colours), height, f"chart-budget-{number}", alt, caption))
    return plots


def _budget_words(item: Item) -> str:
    assert item.result is not None
    total = sum(line.u_mm**2 for line in item.result.budget) or 1.0
    shares = [f"{line.source} {100.0 * line.u_mm**2 / total:.0f} %" for line in item.result.budget]
    return f"{item.name}: {', '.join(shares)}."


def _budget_drawer(group: list[Item], colours: dict[str, int]) -> Callable[["Figure"], None]:
    def draw(figure: "Figure") -> None:
        axes = figure.add_subplot()
        for row, item in enumerate(group):
            assert item.result is not None
            total = sum(line.u_mm**2 for line in item.result.budget) or 1.0
            left = 0.0
            for line in item.result.budget:
                share, style = 100.0 * line.u_mm**2 / total, colours[line.source]
                axes.barh(row, share, left=left, height=0.62, color=_SOURCES[style], edgecolor="white",
                          linewidth=0.4)  # fmt: skip
                _name_share(axes, line.source, share, left, row=row, style=style)
                left += share
        names = [f"{item.key}  {_shortened(item.name, 34)}" for item in group]
        axes.set_yticks(range(len(group)), names, fontsize=7.5)
        axes.set_ylim(len(group) - 0.5, -0.5)
        axes.set_xlim(0.0, 100.0)
        axes.set_xlabel("share of u², %", fontsize=7.5)
        axes.tick_params(axis="x", labelsize=7)
        for side in ("top", "right"):
            axes.spines[side].set_visible(False)
        _legend(figure, colours)

    return draw


def _name_share(axes: "Axes", source: str, share: float, left: float, *, row: int, style: int) -> None:
    """Write a source's name on its field if it fits, so that colour isn't the only cue."""
    text = f"{source} {share:.0f} %"
    if share > 1.5 * len(text):
        dark = _SOURCES[style] in ("#0072B2", "#D55E00", "#000000")
        axes.text(
            left + share / 2.0,
            row,
            text,
            ha="center",
            va="center",
            fontsize=6.5,
            color="white" if dark else "black",
        )


def _legend(figure: "Figure", colours: dict[str, int]) -> None:
    from matplotlib.patches import Patch

    handles = [
        Patch(facecolor=_SOURCES[style], edgecolor="white", label=name) for name, style in colours.items()
    ]
    figure.legend(handles=handles, loc="outside lower center", ncols=4, fontsize=7, frameon=False)


def _shortened(text: str, most: int) -> str:
    return text if len(text) <= most else text[: most - 1].rstrip() + "…"


def _rendered(plot: _Plot, words: str) -> Chart:
    import matplotlib as mpl
    from matplotlib.figure import Figure

    # The salt makes the ids in the file depend on its content alone.
    settings: Any = {"svg.hashsalt": plot.file, "font.family": _families(words), "axes.linewidth": 0.6}
    outputs = []
    with mpl.rc_context(settings), warnings.catch_warnings():
        # What no installed font has is named in the PDF and the manifest.
        warnings.filterwarnings("ignore", r"Glyph \d+ .* missing from font")
        figure = Figure(figsize=(_WIDTH_IN, plot.height_in), layout="constrained")
        plot.draw(figure)
        figure.draw_without_rendering()
        figure.set_layout_engine("none")  # it is laid out now; all three files show the same
        for kind in ("none", "path"):
            with mpl.rc_context({"svg.fonttype": kind}):
                outputs.append(_saved(figure, "svg", dict.fromkeys(_SVG_METADATA)))
        outputs.append(_saved(figure, "png", {"Software": None}))
    size_mm = (_WIDTH_IN * _MM_PER_IN, plot.height_in * _MM_PER_IN)
    svg, outlined, png = outputs
    return Chart(
        plot.file, _bare_svg(svg), _bare_svg(outlined), checked(png), size_mm, plot.alt, plot.caption
    )


def _saved(figure: "Figure", kind: str, metadata: dict[str, None]) -> bytes:
    stream = io.BytesIO()
    figure.savefig(stream, format=kind, dpi=72 if kind == "svg" else _PNG_DPI, metadata=metadata)
    return stream.getvalue()


def _bare_svg(data: bytes) -> bytes:
    """Return the drawing without prologue and metadata, as it may stand inside a page."""
    text = data.decode("utf-8")
    text = re.sub(r"<metadata>.*?</metadata>\s*", "", text, flags=re.DOTALL)
    return text[text.index("<svg") :].encode("utf-8")


def _families(words: str) -> list[str]:
    from matplotlib import font_manager

    names = ["DejaVu Sans"]
    for path in fallbacks(words)[0]:
        font_manager.fontManager.addfont(path)
        names.append(font_manager.FontProperties(fname=str(path)).get_name())
    return names
