"""Documents as one HTML file that opens without a network, prints well and reads well aloud."""

import base64
import re
from functools import singledispatch
from html import escape

from measure.writeup.pages.blocks import (
    Block,
    Bullets,
    Chart,
    Document,
    Facts,
    Gallery,
    Heading,
    Paragraph,
    Picture,
    Table,
)

_STYLE = """
:root { color-scheme: light; --ink: #16202b; --soft: #56616e; --line: #c9d0d8; --tint: #eef3f8;
  --warn: #fff4dc; }
* { box-sizing: border-box; }
body { margin: 0 auto; padding: 1.5rem 1rem 3rem; max-width: 52rem; color: var(--ink); background: #fff;
  font: 1rem/1.5 "DejaVu Sans", Verdana, "Noto Sans", "Noto Sans CJK SC", sans-serif;
  overflow-wrap: anywhere; }
h1 { font-size: 1.6rem; line-height: 1.2; margin: 0 0 .5rem; }
h2 { font-size: 1.2rem; margin: 2rem 0 .6rem; padding-bottom: .2rem; border-bottom: 2px solid var(--line); }
h3 { font-size: 1rem; margin: 1.4rem 0 .4rem; }
.lead { font-size: 1.1rem; padding: .8rem 1rem; background: var(--tint); border-left: .35rem solid #0c346e; }
.caution { padding: .6rem 1rem; background: var(--warn); border-left: .35rem solid #b26a00; }
.small { color: var(--soft); font-size: .85rem; }
figure { margin: 1rem 0; }
figure img, figure svg { display: block; max-width: 100%; height: auto; }
figcaption { color: var(--soft); font-size: .85rem; margin-top: .3rem; }
.gallery { display: grid; grid-template-columns: repeat(auto-fill, minmax(15rem, 1fr)); gap: 1rem;
  align-items: start; }
.gallery figure { margin: 0; }
.wide { overflow-x: auto; }
.wide:focus-visible { outline: 2px solid #0c346e; }
table { border-collapse: collapse; width: 100%; font-size: .88rem; }
caption { text-align: left; font-weight: bold; padding: .3rem 0; }
th, td { text-align: left; vertical-align: top; padding: .3rem .5rem; border-bottom: 1px solid var(--line);
  overflow-wrap: break-word; }
thead th { background: var(--tint); }
tbody th { font-weight: normal; }
.number { text-align: right; font-variant-numeric: tabular-nums; }
td.number { white-space: nowrap; }
dl { display: grid; grid-template-columns: minmax(7rem, 1fr) 3fr; gap: .2rem 1rem; margin: .5rem 0; }
dt { color: var(--soft); } dd { margin: 0; }
footer { margin-top: 2rem; color: var(--soft); font-size: .85rem; }
@media print { body { max-width: none; padding: 0; font-size: 10pt; } .wide { overflow: visible; }
  figure, tr, .lead, .caution { break-inside: avoid; } h2, h3 { break-after: avoid; }
  thead { display: table-header-group; break-after: avoid; } caption { break-after: avoid; }
  tbody tr:first-child { break-before: avoid; } .lead, .caution, thead th { print-color-adjust: exact; } }
@page { margin: 15mm; }
"""


def page_html(document: Document) -> str:
    """Return the whole page.

    Parameters
    ----------
    document : Document
        Its first heading is the title.

    Returns
    -------
    str
        HTML with every picture inside; nothing is fetched from anywhere.
    """
    body = "\n".join(_shown(block) for block in document.blocks)
    date = f'<meta name="date" content="{_text(document.date)}">\n' if document.date else ""
    return (
        '<!DOCTYPE html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        f"<title>{_text(document.title)}</title>\n"
        f'<meta name="description" content="{_text(document.subject)}">\n'
        f'<meta name="generator" content="{_text(document.program)}">\n{date}'
        f"<style>{_STYLE}</style>\n</head>\n<body>\n<main>\n{body}\n</main>\n"
        f"<footer>{_text(document.program)}</footer>\n</body>\n</html>\n"
    )


# Keep together on one line: a figure and its unit, a value and its uncertainty.
_BOUND = re.compile(r"(?<=\d) (?=(?:%|mm|in|px)\b|%|±)|(?<=±) (?=\d)")


def _text(text: str) -> str:
    return escape(_BOUND.sub("\N{NO-BREAK SPACE}", text))


@singledispatch
def _shown(block: Block) -> str:
    raise TypeError(f"no markup for a {type(block).__name__}")


@_shown.register
def _heading(heading: Heading) -> str:
    return f"<h{heading.level}>{_text(heading.text)}</h{heading.level}>"


@_shown.register
def _paragraph(paragraph: Paragraph) -> str:
    kind = "" if paragraph.style == "body" else f' class="{paragraph.style}"'
    return f"<p{kind}>{_text(paragraph.text)}</p>"


@_shown.register
def _bullets(bullets: Bullets) -> str:
    return "<ul>\n" + "\n".join(f"<li>{_text(item)}</li>" for item in bullets.items) + "\n</ul>"


@_shown.register
def _facts(facts: Facts) -> str:
    rows = "\n".join(f"<dt>{_text(label)}</dt><dd>{_text(text)}</dd>" for label, text in facts.pairs)
    return f"<dl>\n{rows}\n</dl>"


@_shown.register
def _gallery(gallery: Gallery) -> str:
    return '<div class="gallery">\n' + "\n".join(_picture(p) for p in gallery.pictures) + "\n</div>"


@_shown.register
def _table(table: Table) -> str:
    def kind(column: int) -> str:
        return ' class="number"' if column in table.numbers else ""

    head = "".join(f'<th scope="col"{kind(i)}>{_text(text)}</th>' for i, text in enumerate(table.header))
    rows = "\n".join(
        f'<tr><th scope="row"{kind(0)}>{_text(row[0])}</th>'
        + "".join(f"<td{kind(i)}>{_text(text)}</td>" for i, text in enumerate(row[1:], 1))
        + "</tr>"
        for row in table.rows
    )
    # A wide table scrolls on a phone, and by keyboard.
    return (
        f'<div class="wide" tabindex="0" role="region" aria-label="{_text(table.caption)}">\n<table>\n'
        f"<caption>{_text(table.caption)}</caption>\n<thead><tr>{head}</tr></thead>\n"
        f"<tbody>\n{rows}\n</tbody>\n</table>\n</div>"
    )


@_shown.register
def _picture(picture: Picture) -> str:
    data = base64.b64encode(picture.data).decode("ascii")
    wide, high = picture.size_px
    return (
        f'<figure><img src="data:image/jpeg;base64,{data}" width="{wide}" height="{high}"'
        f' alt="{_text(picture.alt)}">\n<figcaption>{_text(picture.caption)}</figcaption></figure>'
    )


@_shown.register
def _chart(chart: Chart) -> str:
    # Ids must be unique in the page, and each chart numbers its own.
    svg = chart.svg.decode("utf-8")
    for name in sorted(set(re.findall(r'\bid="([^"]+)"', svg)), key=len, reverse=True):
        svg = svg.replace(f'id="{name}"', f'id="{chart.file}-{name}"')
        svg = svg.replace(f"#{name})", f"#{chart.file}-{name})").replace(
            f'"#{name}"', f'"#{chart.file}-{name}"'
        )
    label = f' role="img" aria-label="{_text(chart.alt)}"'
    svg = svg.replace("<svg", f"<svg{label}", 1)
    return f"<figure>{svg.strip()}\n<figcaption>{_text(chart.caption)}</figcaption></figure>"
