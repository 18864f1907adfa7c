"""Documents as plain text and as Markdown; pictures and charts are left out, their data are in tables."""

import re
import textwrap

from measure.writeup.pages.blocks import Block, Bullets, Facts, Heading, Paragraph, Table

_WIDTH = 92
_SPECIAL = re.compile(r"([\\`*_{}\[\]<>#|~$])")
# At the start of a line these would begin a list, a heading or a quotation.
_STARTS = re.compile(r"^(\s*)([-+=]|\d+[.)])(?=\s|$)")


def plain_text(blocks: tuple[Block, ...]) -> str:
    """Return the blocks as text that any form or mail accepts.

    Parameters
    ----------
    blocks : tuple of Block
        Pictures and charts among them are left out.

    Returns
    -------
    str
        Ends with a line break.
    """
    return _joined([_plain(block) for block in _textual(blocks)])


def markdown(blocks: tuple[Block, ...]) -> str:
    """Return the blocks as CommonMark with tables.

    Parameters
    ----------
    blocks : tuple of Block
        Pictures and charts among them are left out.

    Returns
    -------
    str
        Special characters in texts are escaped; ends with a line break.
    """
    return _joined([_marked(block) for block in _textual(blocks)])


def _textual(blocks: tuple[Block, ...]) -> list[Block]:
    """Return the blocks that are text, without headings that only have pictures below them."""
    texts = [block for block in blocks if isinstance(block, Heading | Paragraph | Bullets | Facts | Table)]
    kept: list[Block] = []
    for block, after in zip(texts, [*texts[1:], None], strict=True):
        if isinstance(block, Heading) and (
            after is None or (isinstance(after, Heading) and after.level <= block.level)
        ):
            continue
        kept.append(block)
    return kept


def _joined(pieces: list[str]) -> str:
    return "\n\n".join(piece for piece in pieces if piece) + "\n"


def _plain(block: Block) -> str:
    match block:
        case Heading(level, text):
            return f"{text}\n{('=' if level == 1 else '-') * min(len(text), _WIDTH)}"
        case Paragraph(text):
            return _filled(text)
        case Bullets(items):
            return "\n".join(_filled(item, "- ", "  ") for item in items)
        case Facts(pairs):
            return "\n".join(_filled(f"{label}: {text}", "", "  ") for label, text in pairs)
        case Table(caption, header, rows):
            lines = [_filled(f"{row[0]}: {_cells(header[1:], row[1:])}", "- ", "  ") for row in rows]
            return "\n".join([_filled(caption + ":"), *lines])
        case _:
            return ""


def _cells(header: tuple[str, ...], row: tuple[str, ...]) -> str:
    return "; ".join(
        f"{name} {cell}" if name else cell for name, cell in zip(header, row, strict=True) if cell
    )


def _filled(text: str, first: str = "", rest: str = "") -> str:
    return textwrap.fill(
        text,
        _WIDTH,
        initial_indent=first,
        subsequent_indent=rest,
        break_on_hyphens=False,
        break_long_words=False,
    )


def _marked(block: Block) -> str:
    match block:
        case Heading(level, text):
            return f"{'#' * level} {escaped(text)}"
        case Paragraph(text, style):
            line = escaped(text)
            return {"lead": f"**{line}**", "caution": f"> {line}"}.get(style, line)
        case Bullets(items):
            return "\n".join(f"- {escaped(item)}" for item in items)
        case Facts(pairs):
            return "\n".join(f"- **{escaped(label)}:** {escaped(text)}" for label, text in pairs)
        case Table(caption, header, rows, _, numbers):
            rule = ["---:" if column in numbers else "---" for column in range(len(header))]
            lines = [_row(header), _row(tuple(rule), plain=True), *(_row(row) for row in rows)]
            return f"{escaped(caption)}:\n\n" + "\n".join(lines)
        case _:
            return ""


def _row(cells: tuple[str, ...], *, plain: bool = False) -> str:
    return "| " + " | ".join(cell if plain else escaped(cell) for cell in cells) + " |"


def escaped(text: str) -> str:
    """Return text escaped so that Markdown shows it unchanged."""
    return _STARTS.sub(r"\1\\\2", _SPECIAL.sub(r"\\\1", text)).replace("\\\\-", "\\-")
