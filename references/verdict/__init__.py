"""From the posterior to decisions, reasons and the next check."""

from references.verdict.checked import Checked
from references.verdict.doubts import Doubt, DoubtedLength
from references.verdict.leads import Lead
from references.verdict.next_check import NextCheck, differ
from references.verdict.part_verdict import FindingVerdict, PartVerdict, ReleaseFit
from references.verdict.reason import Place, PlacedLength, Reason, ReasonCode
from references.verdict.rule import DecisionRule, Rates, decision_rule
from references.verdict.verdict import Recast, Verdict, judge

__all__ = [
    "Checked",
    "DecisionRule",
    "Doubt",
    "DoubtedLength",
    "FindingVerdict",
    "Lead",
    "NextCheck",
    "PartVerdict",
    "Place",
    "PlacedLength",
    "Rates",
    "Reason",
    "ReasonCode",
    "Recast",
    "ReleaseFit",
    "Verdict",
    "decision_rule",
    "differ",
    "judge",
]
