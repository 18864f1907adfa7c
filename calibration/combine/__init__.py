"""Several references in one fit, and whether they contradict each other."""

from calibration.combine.references import combine

__all__ = ["combine"]
