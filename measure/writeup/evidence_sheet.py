"""The evidence sheet: what was found, how certain it is, and all that is needed to reproduce it."""

from math import hypot
from typing import TYPE_CHECKING

from measure.scale import view_words
from measure.verdict_words import doubted_parts, percent
from measure.writeup.gather import (
    Evidence,
    Item,
    PhotoEvidence,
    bare_name,
    feature_name,
    tidy,
    words,
)
from measure.writeup.pages import (
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

if TYPE_CHECKING:
    from references.verdict import PartVerdict

_MOST_SOURCES = 8


def evidence_sheet(
    evidence: Evidence, photos: tuple[Picture, ...], close_ups: tuple[Picture, ...], charts: tuple[Chart, ...]
) -> Document:
    """Arrange everything as one document.

    Parameters
    ----------
    evidence : Evidence
        What is told.
    photos, close_ups : tuples of Picture
        Annotated photos, and rectified parts.
    charts : tuple of Chart
        Ranges and budgets.

    Returns
    -------
    Document
        The same blocks for every page format.
    """
    ranges = tuple(chart for chart in charts if "ranges" in chart.file)
    budgets = tuple(chart for chart in charts if "budget" in chart.file)
    blocks: list[Block] = [
        *_opening(evidence), *photos, *findings(evidence), *_verdict(evidence), *ranges, *_next(evidence),
        *_close_ups(close_ups), *_budget(evidence), *budgets, *_method(evidence), *_redo(evidence),
    ]  # fmt: skip
    title = f"{evidence.title}: evidence sheet"
    return Document(title, evidence.subject or evidence.title, evidence.program, evidence.date, tuple(blocks))


def _opening(evidence: Evidence) -> list[Block]:
    blocks: list[Block] = [Heading(1, evidence.title)]
    if evidence.subject:
        blocks.append(Paragraph(f"{evidence.subject}: evidence sheet"))
    blocks.append(Paragraph(words.headline(evidence), "lead"))
    blocks.append(Paragraph(words.CAUTION, "caution"))
    if tidy(evidence.specimen.note):
        blocks.append(Paragraph(tidy(evidence.specimen.note)))
    if not any(item.photo for item in evidence.photos):
        blocks.append(Paragraph("No photo is shown: none was available when this sheet was made."))
    return blocks


def findings(evidence: Evidence) -> list[Block]:
    """Return what was measured, counted and seen."""
    blocks: list[Block] = [Heading(2, "Findings")]
    lengths = tuple(_length_row(evidence, item) for item in evidence.items)
    first, second = ("Inches", "Millimetres") if evidence.inches_first else ("Millimetres", "Inches")
    if lengths:
        header = ("No.", "Length", first, second, "Fraction", "k", "Photo")
        weights = (0.6, 3.2, 2.0, 2.1, 1.25, 0.6, 0.8)
        blocks.append(Table("Lengths, value ± U", header, lengths, weights, (2, 3, 5)))
        blocks.append(Paragraph(words.coverage_sentence(evidence), "small"))
    if evidence.noted:
        rows = tuple((noted.name, noted.value, noted.expected) for noted in evidence.noted)
        blocks.append(Table("Counts and traits", ("Feature", "Seen", "Releases have"), rows, (2.0, 1.4, 4.6)))
    if not lengths and not evidence.noted:
        blocks.append(Paragraph("Nothing has been measured or noted yet."))
    unchecked = words.unchecked_sentence(evidence)
    return [*blocks, Paragraph(unchecked)] if unchecked else blocks


def _length_row(evidence: Evidence, item: Item) -> tuple[str, ...]:
    photo = next((str(p.number) for p in evidence.photos if p.entry.id == item.entry.photo), "by hand")
    if item.figures is None or item.result is None:
        return (item.key, item.name, "no result", "", "", "", photo)
    fraction = item.figures.fraction.removesuffix(" in")
    return (item.key, item.name, *item.figures.lines, fraction, f"{item.result.coverage_factor:.2f}", photo)


def _verdict(evidence: Evidence) -> list[Block]:
    if evidence.verdict is None:
        return []
    verdict = evidence.verdict.verdict
    doubted = doubted_parts(verdict)
    blocks: list[Block] = [Heading(2, "Verdict, part by part")]
    rows = tuple(
        (
            tidy(part.name),
            words.part_outcome(evidence, part),
            "" if part.part in doubted else _likeliest(evidence, part),
        )
        for part in verdict.parts
    )
    if rows:
        blocks.append(Table("Parts", ("Part", "Verdict", "Probability"), rows, (2.0, 3.4, 2.6)))
    conformance = tuple(row for part in verdict.parts for row in _conformance(evidence, part))
    if conformance:
        header = ("Feature", "Found", "Probability of lying within the release's limits")
        blocks.append(Table("Lengths against limits", header, conformance, (2.0, 1.4, 4.6)))
    reasons = tuple(tidy(reason) for reason in evidence.verdict.reasons)
    if reasons:
        blocks += [Heading(3, "Reasons"), Bullets(reasons)]
    rule = tidy(evidence.verdict.rule_told)
    if rule:
        blocks += [Heading(3, "Decision rule"), Paragraph(rule)]
    return blocks


def _likeliest(evidence: Evidence, part: "PartVerdict") -> str:
    shares = sorted(part.posterior.items(), key=lambda pair: (-pair[1], pair[0]))
    named = []
    for key, share in shares[:3]:
        if share >= 0.01:
            named.append(f"{words.short_name(evidence, key)} {percent(share)}")
    return "; ".join(named)


def _conformance(evidence: Evidence, part: "PartVerdict") -> list[tuple[str, str, str]]:
    rows = []
    for finding in part.findings:
        texts = [
            f"{words.short_name(evidence, key)} {percent(fit.conformance_probability)}"
            for key, fit in finding.by_release.items()
            if fit.conformance_probability is not None
        ]
        u_mm = finding.standard_uncertainty_mm
        if texts and u_mm is not None:
            name = feature_name(evidence.sheet, part.part, finding.feature)
            rows.append((name, f"{float(finding.value):.2f} mm, u {u_mm:.2g}", "; ".join(texts)))
    return rows


def _next(evidence: Evidence) -> list[Block]:
    told = evidence.verdict.checks_told if evidence.verdict else ()
    checks = [tidied for text in told if (tidied := tidy(text))]
    if not checks:
        return []
    return [Heading(2, "What to check next"), Bullets(tuple(checks))]


def _close_ups(close_ups: tuple[Picture, ...]) -> list[Block]:
    if not close_ups:
        return []
    return [Heading(2, "Rectified close-ups"), Gallery(close_ups)]


def _budget(evidence: Evidence) -> list[Block]:
    shown = [item for item in evidence.items if item.result and item.result.budget]
    if not shown:
        return []
    columns = _budget_columns(shown)
    rows = []
    for item in shown:
        assert item.result is not None
        parts = {line.source: line.u_mm for line in item.result.budget}
        groups = [[parts[source] for source in column if source in parts] for column in columns.values()]
        cells = [f"{hypot(*group):.2g}" if group else "" for group in groups]
        rows.append((item.key, *cells, f"{item.result.standard_uncertainty_mm:.2g}"))
    header = ("No.", *columns, "u")
    numbers = tuple(range(1, len(header)))
    weights = (0.7, *[1.2] * len(columns), 1.0)
    note = "Standard uncertainties in mm; their squares add up to u². U = k u."
    table = Table("Uncertainty budget, mm", header, tuple(rows), weights, numbers)
    return [Heading(2, "Uncertainty budget"), table, Paragraph(note, "small")]


def _budget_columns(shown: list[Item]) -> dict[str, list[str]]:
    """Return the sources that each column stands for: the largest alone, the rest of many together."""
    squares: dict[str, float] = {}
    for item in shown:
        for line in item.result.budget if item.result else ():
            squares[line.source] = squares.get(line.source, 0.0) + line.u_mm**2
    sources = sorted(squares, key=lambda source: -squares[source])
    if len(sources) <= _MOST_SOURCES:
        return {source: [source] for source in sources}
    columns = {source: [source] for source in sources[: _MOST_SOURCES - 1]}
    return columns | {"all others": sources[_MOST_SOURCES - 1 :]}


def _method(evidence: Evidence) -> list[Block]:
    blocks: list[Block] = [Heading(2, "How it was measured")]
    for item in evidence.photos:
        blocks += [Heading(3, f"Photo {item.number}"), Facts(_photo_facts(item))]
    hows = tuple(f"{item.key} {item.name}: {item.how}" for item in evidence.items if item.how)
    if hows:
        blocks += [Heading(3, "What each length is"), Bullets(hows)]
    cautions = _cautions(evidence)
    if cautions:
        blocks += [Heading(3, "Cautions"), Bullets(cautions)]
    return blocks if len(blocks) > 1 else []


def _photo_facts(item: PhotoEvidence) -> tuple[tuple[str, str], ...]:
    entry = item.entry
    pairs = [
        ("File", f"{tidy(bare_name(entry.file))}, {entry.width_px} × {entry.height_px} px"),
        ("SHA-256", entry.sha256),
    ]
    if item.trouble:
        pairs.append(("State", item.trouble))
    pairs += _reference_facts(item)
    if item.plane is not None:
        tilt, height, _ = view_words(item.plane, item.scale.family if item.scale else None)
        focal = f"{item.plane.camera.focal_px:.0f} px ({item.plane.camera.source})"
        pairs.append(
            (
                "Camera",
                f"focal length {focal}, tilt {' ± '.join(tilt)}°, height {' ± '.join(height)} mm",
            )
        )
    return tuple(pairs)


def _reference_facts(item: PhotoEvidence) -> list[tuple[str, str]]:
    entry, scale = item.entry, item.scale
    if scale is None:
        return []
    pairs: list[tuple[str, str]] = []
    cards = (entry.reference, *entry.also) if entry.reference is not None else ()
    for number, found in enumerate(scale.found):
        pairs.append(("Reference" if number == 0 else "Also", words.thing_words(found.object)))
        pairs.append(("Size from", found.object.source))
        if number < len(cards) and (card := cards[number]) is not None:
            pairs.append(("Corners, px", points_text(card.corners_px or ()) + f"; {card.source}"))
        elif points := entry.sources[number - len(cards)].marks_px:
            pairs.append(("Marks, px", points_text(points)))
    for line in entry.straight_px:
        pairs.append(("Straight edge, px", points_text(line)))
    if entry.profile:
        pairs.append(("Camera profile", tidy(entry.profile)))
    return pairs


def _cautions(evidence: Evidence) -> tuple[str, ...]:
    from measure.wording import Audience, all_worded

    texts = [
        f"Photo {p.number}: {text}"
        for p in evidence.photos
        for text in all_worded(
            (*(p.photo.cautions if p.photo else ()), *(p.scale.cautions if p.scale else ())), Audience.BUYER
        )
    ]
    texts += [f"Photo {p.number}: {p.trouble}" for p in evidence.photos if p.trouble]
    own = tidy(evidence.verdict.caution) if evidence.verdict else ""
    return tuple(
        dict.fromkeys(
            [*texts, *([own[:1].upper() + own[1:] + ("" if own.endswith(".") else ".")] if own else [])]
        )
    )


def points_text(points: tuple[tuple[float, float], ...]) -> str:
    """Return pixel coordinates as text."""
    return " ".join(f"({x:.2f}, {y:.2f})" for x, y in points)


def _redo(evidence: Evidence) -> list[Block]:
    rows = tuple(
        (
            item.key, item.entry.kind, points_text(item.entry.used_px or item.entry.clicks_px) or "none",
            "; ".join(f"{s:.2g}" for s in dict.fromkeys(item.entry.click_std_px)),
            "; ".join(f"{h:g}" for h in item.entry.standoff_mm) + f" ± {item.entry.standoff_std_mm:g}",
        )
        for item in evidence.items
    )  # fmt: skip
    blocks: list[Block] = [Heading(2, "To reproduce the numbers")]
    if rows:
        header = ("No.", "Kind", "Points, px of the upright photo", "u of a point, px", "Stand-off, mm (± u)")
        blocks.append(Table("Points", header, rows, (0.6, 1.0, 4.6, 1.2, 1.6)))
    pairs = [("Program", evidence.program), ("Date", evidence.date or "not recorded")]
    if evidence.sheet is not None:
        pairs.append(
            ("Release sheet", f"{tidy(evidence.sheet.subject)} ({evidence.sheet.key}), in this folder")
        )
    pairs.append(
        (
            "To check",
            "put the original photos into one folder and run:"
            " cardspan write-up --verify FOLDER --photos PHOTOS",
        )
    )
    return [*blocks, Facts(tuple(pairs))]
