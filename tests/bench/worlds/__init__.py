"""Verdicts on specimens from worlds that the verdict's model does not know."""
