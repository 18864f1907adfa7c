"""A length as the page shows it: text, rounded in one place, and a small ruled scale around it."""

from math import floor, log10
from typing import Any

from measure.length import STANDOFF, Length, format_fraction, format_inches, format_mm, round_with_uncertainty
from measure.record import BudgetEntry, MeasurementEntry
from measure.wording import STANDOFF_ON_PAGE

# A fraction of an inch says nothing about a length that is hardly one itself.
_LEAST_FRACTION_MM = 10.0
# Sources of uncertainty that the page has another name for.
_NAMES = {STANDOFF: STANDOFF_ON_PAGE}


def texts(length: Length) -> dict[str, Any]:
    """Return the texts for one length, and its ruled scale.

    Parameters
    ----------
    length : Length
        In mm.

    Returns
    -------
    dict
        Value and expanded uncertainty as texts in mm and inches, in words to be spoken, and a scale in mm.
    """
    value, expanded = round_with_uncertainty(length.value_mm, length.expanded_uncertainty_mm)
    inches, fraction = format_inches(length), format_fraction(length.value_mm)
    return {
        "mm": format_mm(length),
        "value": value,
        "U": expanded,
        "inch": inches,
        "fraction": f"about {fraction}" if length.value_mm > _LEAST_FRACTION_MM else "",
        "spoken": f"{value} millimetres, give or take {expanded}",
        "gauge": gauge(length.value_mm, length.expanded_uncertainty_mm),
    }


def step_for(room_mm: float, most: int) -> float:
    """Return the smallest of 1, 2, 5 times a power of ten of which at most `most` fit into the space."""
    least = room_mm / most
    power = 10.0 ** floor(log10(least))
    return next(times * power for times in (1.0, 2.0, 5.0, 10.0) if times * power >= least * (1 - 1e-9))


def tick_text(value: float, step: float) -> str:
    """Return a tick's number with only the decimals its step needs."""
    return f"{value:.{max(0, -floor(log10(step) + 1e-9))}f}"


def gauge(value_mm: float, expanded_mm: float) -> dict[str, Any]:
    """Return a stretch of ruled scale around a value, wide enough for its interval."""
    half = max(3.0 * expanded_mm, 1e-3)
    low, high = value_mm - half, value_mm + half
    step = step_for(high - low, 5)
    small = step / 5.0
    ticks = []
    for number in range(floor(low / small) + 1, floor(high / small) + 1):
        at = number * small
        long = number % 5 == 0
        edge = 0.08 * (high - low)
        name = tick_text(at, step) if long and low + edge < at < high - edge else None
        ticks.append([at, long, name])
    return {"low": low, "high": high, "at": value_mm, "U_mm": expanded_mm, "ticks": ticks, "step": step}


def budget_json(lines: tuple[BudgetEntry, ...]) -> list[dict[str, Any]]:
    """Return an uncertainty budget for the page.

    Parameters
    ----------
    lines : tuple of BudgetEntry
        In any order.

    Returns
    -------
    list of dict
        Source, standard uncertainty in mm, and that as text; the largest first, small ones left out.
    """
    most = max((line.u_mm for line in lines), default=0.0)
    shown = sorted((line for line in lines if line.u_mm > 0.02 * most), key=lambda line: -line.u_mm)
    return [
        {"source": _NAMES.get(line.source, line.source), "u_mm": line.u_mm, "text": f"{line.u_mm:.2g} mm"}
        for line in shown
    ]


def snap_text(entry: MeasurementEntry, *, snapped: bool) -> str | None:
    """Say how many points found an edge, where the user asked for it.

    Parameters
    ----------
    entry : MeasurementEntry
        With the points used.
    snapped : bool
        Whether edges were found at all.

    Returns
    -------
    str or None
        None where snapping was off, or its kind has none.
    """
    if not entry.snap or not entry.used_px or entry.kind not in ("span", "gap", "round"):
        return None
    if entry.kind != "span":
        return "the edge was found" if snapped else "no clear edge: used as placed"
    on_edge = sum(entry.edge_fit)
    if on_edge == 0:
        return "no clear edge close by: used as placed"
    return f"{on_edge} of {len(entry.clicks_px)} points sit on an edge"
