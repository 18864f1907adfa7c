"""Documents set as text, HTML and PDF."""

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
from measure.writeup.pages.html import page_html
from measure.writeup.pages.pdf import PAPERS, page_pdf
from measure.writeup.pages.text import markdown, plain_text

__all__ = [
    "PAPERS",
    "Block",
    "Bullets",
    "Chart",
    "Document",
    "Facts",
    "Gallery",
    "Heading",
    "Paragraph",
    "Picture",
    "Table",
    "markdown",
    "page_html",
    "page_pdf",
    "plain_text",
]
