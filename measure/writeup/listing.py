"""Listing texts: a short one to paste and a long one, in plain English."""

from measure.record import VerdictEntry
from measure.writeup.gather import Evidence, Item, plain_range, tidy, words
from measure.writeup.pages import Block, Bullets, Facts, Heading, Paragraph


def short_listing(evidence: Evidence) -> tuple[Block, ...]:
    """Return the text for a listing: the verdict, the sizes, and how reliable they are.

    Parameters
    ----------
    evidence : Evidence
        What is known of the specimen.

    Returns
    -------
    tuple of Block
        The first one the title.
    """
    blocks: list[Block] = [Heading(1, evidence.title)]
    if evidence.subject:
        blocks.append(Paragraph(f"{evidence.subject}."))
    blocks.append(Paragraph(words.headline(evidence)))
    lines = tuple(f"{item.name}: {item.figures.phrase}" for item in evidence.items if item.figures)
    if lines:
        blocks.append(Bullets(lines))
    seen = tuple(f"{noted.name}: {noted.value}" for noted in evidence.noted)
    if seen:
        blocks.append(Bullets(seen))
    unchecked = words.unchecked_sentence(evidence)
    if unchecked:
        blocks.append(Paragraph(unchecked))
    others = dict.fromkeys(words.identity_words(photo.scale).strip() for photo in evidence.photos)
    blocks += [Paragraph(text) for text in others if text and lines]
    end = f"{words.coverage_sentence(evidence)} {words.CAUTION}" if lines else words.CAUTION
    return (*blocks, Paragraph(end))


def long_listing(evidence: Evidence) -> tuple[Block, ...]:
    """Return the short text with how it was measured, the verdict by part, reasons and next checks.

    Parameters
    ----------
    evidence : Evidence
        What is known of the specimen.

    Returns
    -------
    tuple of Block
        The first one the title.
    """
    blocks: list[Block] = [Heading(1, evidence.title)]
    if evidence.subject:
        blocks.append(Paragraph(f"{evidence.subject}."))
    blocks.append(Paragraph(words.headline(evidence), "lead"))
    blocks.append(Paragraph(words.CAUTION, "caution"))
    if tidy(evidence.specimen.note):
        blocks.append(Paragraph(tidy(evidence.specimen.note)))
    blocks += _found(evidence)
    if evidence.verdict is not None:
        blocks += _judged(evidence, evidence.verdict)
    blocks += [Heading(2, "How it was measured"), *(Paragraph(text) for text in _hows(evidence))]
    return (*blocks, Facts((("Program", evidence.program), ("Date", evidence.date or "not recorded"))))


def _found(evidence: Evidence) -> list[Block]:
    blocks: list[Block] = []
    lines = tuple(
        f"{item.name}: {item.figures.phrase}{_limits(evidence, item)}"
        for item in evidence.items
        if item.figures
    )
    if lines:
        blocks += [Heading(2, "Lengths"), Bullets(lines), Paragraph(words.coverage_sentence(evidence))]
    seen = tuple(
        f"{n.name}: {n.value}" + (f". Releases: {n.expected}" if n.expected else "") for n in evidence.noted
    )
    if seen:
        blocks += [Heading(2, "Counts and traits"), Bullets(seen)]
    if not blocks:
        blocks.append(Paragraph("Nothing has been measured or noted yet."))
    unchecked = words.unchecked_sentence(evidence)
    return [*blocks, Paragraph(unchecked)] if unchecked else blocks


def _judged(evidence: Evidence, judged: VerdictEntry) -> list[Block]:
    blocks: list[Block] = []
    verdict = judged.verdict
    parts = tuple(f"{tidy(part.name)}: {words.part_outcome(evidence, part)}." for part in verdict.parts)
    if parts:
        blocks += [Heading(2, "Part by part"), Bullets(parts)]
    reasons = tuple(tidy(reason) for reason in judged.reasons)
    if reasons:
        blocks += [Heading(2, "Why"), Bullets(reasons)]
    checks = tuple(filter(None, (tidy(text) for text in judged.checks_told)))
    if checks:
        blocks += [Heading(2, "What would settle more"), Bullets(checks)]
    return blocks


def _limits(evidence: Evidence, item: Item) -> str:
    known = [
        f"{x.release} {plain_range(x.low_mm, x.high_mm, inches_first=evidence.inches_first)}"
        for x in item.limits
        if x.low_mm is not None and x.high_mm is not None
    ]
    return f". Releases: {'; '.join(known)}" if known else ""


def _hows(evidence: Evidence) -> list[str]:
    if not evidence.photos:
        return ["No photo is recorded; every figure was entered by hand."]
    return [
        f"Photo {item.number}. {words.measured_with(evidence, item.entry.id)}" for item in evidence.photos
    ]
