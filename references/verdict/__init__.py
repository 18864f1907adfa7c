"""From the posterior to decisions, reasons and the next check."""

from references.verdict.doubts import Doubt, DoubtedLength
from references.verdict.next_check import differ
from references.verdict.verdict import Verdict, judge
from references.verdict.words import feature_name, join, percent, span_text

__all__ = [
    "Doubt",
    "DoubtedLength",
    "Verdict",
    "differ",
    "feature_name",
    "join",
    "judge",
    "percent",
    "span_text",
]
