"""Ranges learnt from measured examples."""

from references.learning.examples import Example
from references.learning.propose import Learnt, learn, separation_notes

__all__ = ["Example", "Learnt", "learn", "separation_notes"]
