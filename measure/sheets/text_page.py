"""The guide as text, with a chart of the ranges drawn in characters."""

import textwrap
from collections.abc import Iterator

from measure.sheets.guide import (
    care_text,
    inches_text,
    method_text,
    rule_texts,
    scale_mm,
    separations,
    value_text,
)
from references.release_sheet import Feature, Part, Sheet, format_value

WIDTH = 88
CHART = 44


def text_lines(sheet: Sheet) -> Iterator[str]:
    """Yield the lines of the guide to a sheet.

    Parameters
    ----------
    sheet : Sheet
        Its texts are printed as they are.

    Yields
    ------
    str
        Without line breaks; running text is wrapped at `WIDTH` characters.
    """
    title = f"{sheet.subject}, {sheet.maker}" if sheet.maker else sheet.subject
    yield title
    yield "=" * len(title)
    yield from _wrapped(sheet.note) if sheet.note else ()
    yield ""
    yield "Releases"
    width = max(len(release.name) for release in sheet.releases)
    for release in sheet.releases:
        share = f"{100 * release.prior:3.0f} % of specimens"
        yield f"  {release.name:<{width}}  {release.made:<12} {share}".rstrip()
    for part in sheet.parts:
        yield from _part_lines(part, sheet)
    yield ""
    yield "What tells the releases apart"
    for separation in separations(sheet):
        yield from _wrapped(separation.text, "  ")
    yield ""
    yield "How a verdict is reached"
    for text in rule_texts(sheet):
        yield from _wrapped(text, "  ")


def _part_lines(part: Part, sheet: Sheet) -> Iterator[str]:
    yield ""
    yield part.name
    yield "-" * len(part.name)
    if care_text(part):
        yield from _wrapped(care_text(part), "  ! ")
    for feature in part.features:
        yield f"  {feature.name}"
        yield from _wrapped(feature.how, "    ") if feature.how else ()
        yield from _wrapped(f"({method_text(feature)})", "    ") if method_text(feature) else ()
        yield from _value_lines(feature, sheet)


def _value_lines(feature: Feature, sheet: Sheet) -> Iterator[str]:
    width = max(len(release.name) for release in sheet.releases)
    scale = scale_mm(feature, sheet)
    for release in sheet.releases:
        value = feature.by_release[release.id]
        shown = value_text(value, sheet.unit)
        if scale is None:
            yield f"    {release.name:<{width}}  {shown}"
            continue
        bar = _bar(feature.limits_mm(release.id), scale)
        inches = inches_text(value)
        yield f"    {release.name:<{width}}  {bar}  {shown}" + (f"  ({inches})" if inches else "")
    if scale is not None:
        left, right = (format_value(round(end, 1), sheet.unit) for end in scale)
        yield f"    {'':<{width}}  {left}{right:>{CHART + 2 - len(left)}}"


def _bar(limits: tuple[float, float] | None, scale: tuple[float, float]) -> str:
    cells = ["·"] * CHART
    if limits is not None:
        places = [round((limit - scale[0]) / (scale[1] - scale[0]) * (CHART - 1)) for limit in limits]
        cells[places[0] : places[1] + 1] = "█" * (places[1] - places[0] + 1)
    return f"|{''.join(cells)}|"


def _wrapped(text: str, indent: str = "") -> list[str]:
    later = " " * len(indent)
    return textwrap.wrap(text, WIDTH, initial_indent=indent, subsequent_indent=later)
