"""The guide as one self-contained HTML page: charts inside, nothing fetched."""

from html import escape

from measure.sheets.charts import range_chart
from measure.sheets.guide import (
    care_text,
    inches_text,
    method_text,
    rule_texts,
    separations,
    source_text,
    value_text,
)
from references.release_sheet import Feature, Part, Sheet

STYLE = """
:root { color-scheme: light; --ink: #222; --quiet: #666; --line: #d8d8d8; --care: #fff4d6; }
body { font: 16px/1.5 system-ui, sans-serif; color: var(--ink); background: #fff; max-width: 46rem;
  margin: 2rem auto; padding: 0 1rem; }
h1 { line-height: 1.2; margin-bottom: 0; }
h2 { margin-top: 2.5rem; border-bottom: 2px solid var(--line); }
h3 { margin-bottom: 0.2rem; }
.maker, .method, .source { color: var(--quiet); }
.method, .source { font-size: 0.9rem; }
.care { background: var(--care); padding: 0.5rem 0.8rem; border-radius: 4px; }
table { border-collapse: collapse; width: 100%; margin: 0.6rem 0; }
th, td { text-align: left; vertical-align: top; padding: 0.25rem 0.6rem 0.25rem 0;
  border-bottom: 1px solid var(--line); }
svg { width: 100%; height: auto; display: block; }
@media print { body { margin: 0; } section { break-inside: avoid; } }
""".strip()


def html_page(sheet: Sheet) -> str:
    """Return the guide to a sheet as a complete HTML page.

    Parameters
    ----------
    sheet : Sheet
        Its texts are escaped.

    Returns
    -------
    str
        With charts inside and nothing fetched; lengths in the sheet's unit and in inches.
    """
    title = escape(f"{sheet.subject}: guide to its releases")
    maker = f'<p class="maker">{escape(sheet.maker)}</p>' if sheet.maker else ""
    note = f"<p>{escape(sheet.note)}</p>" if sheet.note else ""
    body = "\n".join([_releases(sheet), *(_part(part, sheet) for part in sheet.parts), _separations(sheet)])
    rules = "\n".join(f"<p>{escape(text)}</p>" for text in rule_texts(sheet))
    return f"""<!doctype html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<title>{title}</title>
<style>
{STYLE}
</style>
</head>
<body>
<h1>{escape(sheet.subject)}</h1>
{maker}
{note}
{body}
<h2>How a verdict is reached</h2>
{rules}
<p class="source">Evidence, not an authentication or an appraisal.</p>
</body>
</html>
"""


def _releases(sheet: Sheet) -> str:
    rows = "".join(
        f"<tr><th>{escape(release.name)}</th><td>{escape(release.made)}</td>"
        f"<td>{100 * release.prior:.0f} % of specimens</td><td>{escape(release.note)}</td></tr>"
        for release in sheet.releases
    )
    return f"<section><h2>Releases</h2><table>{rows}</table></section>"


def _part(part: Part, sheet: Sheet) -> str:
    care = f'<p class="care">{escape(care_text(part))}</p>' if care_text(part) else ""
    features = "".join(_feature(feature, part, sheet) for feature in part.features)
    return f"<section><h2>{escape(part.name)}</h2>{care}{features}</section>"


def _feature(feature: Feature, part: Part, sheet: Sheet) -> str:
    off = " It needs the part taken off." if feature.part_off else ""
    method = f'<p class="method">{escape(method_text(feature))}</p>' if method_text(feature) else ""
    chart = range_chart(feature, sheet, key=part.id)
    text = f"<h3>{escape(feature.name)}</h3><p>{escape(feature.how + off)}</p>"
    return f"{text}{method}{chart}{_values(feature, sheet)}"


def _values(feature: Feature, sheet: Sheet) -> str:
    rows = []
    for release in sheet.releases:
        value = feature.by_release[release.id]
        cells = (value_text(value, sheet.unit), inches_text(value))
        source = f'<td class="source">{escape(source_text(value))}</td>'
        shown = "".join(f"<td>{escape(cell)}</td>" for cell in cells)
        rows.append(f"<tr><th>{escape(release.name)}</th>{shown}{source}</tr>")
    return f"<table>{''.join(rows)}</table>"


def _separations(sheet: Sheet) -> str:
    items = "".join(f"<li>{escape(separation.text)}</li>" for separation in separations(sheet))
    return f"<section><h2>What tells the releases apart</h2><ul>{items}</ul></section>"
