"""Release sheets, and what a set of findings says about the releases they describe."""

from importlib import import_module
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from references.inference import Finding, JudgeOptions
    from references.release_sheet import named_sheet, read_sheet, shipped_keys, shipped_sheet, shipped_text
    from references.verdict import Verdict, judge

__all__ = [
    "Finding",
    "JudgeOptions",
    "Verdict",
    "judge",
    "named_sheet",
    "read_sheet",
    "shipped_keys",
    "shipped_sheet",
    "shipped_text",
]

_HOMES = {
    "Finding": "inference",
    "JudgeOptions": "inference",
    "Verdict": "verdict",
    "judge": "verdict",
    "named_sheet": "release_sheet",
    "read_sheet": "release_sheet",
    "shipped_keys": "release_sheet",
    "shipped_sheet": "release_sheet",
    "shipped_text": "release_sheet",
}


def __getattr__(name: str) -> object:
    """Import names on first use (PEP 562): judging takes long to import, and the desk shows a photo first."""
    if name not in _HOMES:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    return getattr(import_module(f"{__name__}.{_HOMES[name]}"), name)
