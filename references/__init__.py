"""Release sheets, and what a set of findings says about the releases they describe."""

from importlib import import_module
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from references.inference.finding import Finding
    from references.inference.options import JudgeOptions
    from references.release_sheet.reading import read_sheet, shipped_keys, shipped_sheet, shipped_text
    from references.verdict.verdict import Verdict, judge

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

_HOMES = {
    "Finding": "finding",
    "JudgeOptions": "options",
    "Verdict": "verdict",
    "judge": "verdict",
    "read_sheet": "reading",
    "shipped_keys": "reading",
    "shipped_sheet": "reading",
    "shipped_text": "reading",
}


def __getattr__(name: str) -> object:
    """Import what is asked for (PEP 562): judging takes long to import, and the desk first shows a photo."""
    if name not in _HOMES:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    return getattr(import_module(f"{__name__}.{_HOMES[name]}"), name)
