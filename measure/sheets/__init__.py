"""What users do with release sheets: learn, ask, show."""

from measure.sheets.caution_text import caution_lines
from measure.sheets.html_page import html_page
from measure.sheets.learning import describe, proposal_json, propose, write_value
from measure.sheets.plain import sheet_json
from measure.sheets.questions import ask_draft
from measure.sheets.text_page import text_lines

__all__ = [
    "ask_draft",
    "caution_lines",
    "describe",
    "html_page",
    "proposal_json",
    "propose",
    "sheet_json",
    "text_lines",
    "write_value",
]
