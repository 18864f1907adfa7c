"""Checks of a finished write-up against its record and photos."""

from measure.writeup.check.photo_checks import Check
from measure.writeup.check.verify import verify

__all__ = ["Check", "verify"]
