"""From the posterior to decisions, reasons and the next check."""

from references.verdict.doubts import Doubt, DoubtedLength
from references.verdict.next_check import NextCheck, differ
from references.verdict.part_verdict import FindingVerdict, PartVerdict, ReleaseFit
from references.verdict.verdict import DecisionRule, Recast, Verdict, judge
from references.verdict.words import feature_name, join, percent, span_text

__all__ = [
    "DecisionRule",
    "Doubt",
    "DoubtedLength",
    "FindingVerdict",
    "NextCheck",
    "PartVerdict",
    "Recast",
    "ReleaseFit",
    "Verdict",
    "differ",
    "feature_name",
    "join",
    "judge",
    "percent",
    "span_text",
]
