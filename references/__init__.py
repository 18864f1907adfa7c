"""Release sheets, and what a set of findings says about the releases they describe."""

from references.reading import read_sheet, shipped_keys, shipped_sheet, shipped_text

__all__ = ["read_sheet", "shipped_keys", "shipped_sheet", "shipped_text"]
