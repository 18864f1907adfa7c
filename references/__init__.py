"""Release sheets, and what a set of findings says about the releases they describe."""

from references.finding import Finding
from references.options import JudgeOptions
from references.reading import read_sheet, shipped_keys, shipped_sheet, shipped_text
from references.verdict import Verdict, judge

__all__ = [
    "Finding",
    "JudgeOptions",
    "Verdict",
    "judge",
    "read_sheet",
    "shipped_keys",
    "shipped_sheet",
    "shipped_text",
]
