"""The verdict on a specimen, as a record keeps it: what was judged, and what is told of it."""

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from references.verdict import Verdict


@dataclass(frozen=True, slots=True)
class VerdictEntry:
    """The verdict on one specimen.

    Attributes
    ----------
    specimen : str
        The specimen's name.
    verdict : Verdict
        What was judged.
    doubts_told, checks_told : tuple of str
        A text for each of its doubts and of its next checks, in their order.
    reasons_told : tuple of str
        Its reasons, without the doubts; the verdict itself then holds none.
    rule_told, caution : str
        When it commits to an answer, and what it is not.
    """

    specimen: str
    verdict: "Verdict"
    doubts_told: tuple[str, ...]
    reasons_told: tuple[str, ...]
    checks_told: tuple[str, ...]
    rule_told: str
    caution: str

    def __post_init__(self) -> None:
        if len(self.doubts_told) != len(self.verdict.doubts):
            raise ValueError("a verdict needs one sentence for each doubt")
        if len(self.checks_told) != len(self.verdict.next_checks):
            raise ValueError("a verdict needs one text for each next check")

    @property
    def reasons(self) -> tuple[str, ...]:
        """The verdict's reasons, after its doubts in words."""
        told = self.doubts_told
        outcome = "Scale in doubt" if self.verdict.outcome == "scale in doubt" else "Cannot tell"
        first = (f"{outcome}. {told[0]}", *told[1:]) if told else ()
        return (*first, *self.reasons_told)

    def to_json(self) -> dict[str, Any]:
        """Return plain values for a JSON file.

        Returns
        -------
        dict
            The keys of `Verdict.to_json` with "specimen" before them and "caution" after; each doubt and each
            next check has its words under "text", doubts come before the reasons, and the rule is in words.
        """
        verdict = self.verdict
        doubts = zip(verdict.doubts, self.doubts_told, strict=True)
        checks = zip(verdict.next_checks, self.checks_told, strict=True)
        return {
            "specimen": self.specimen,
            **verdict.to_json(),
            "doubts": [{**doubt.to_json(), "text": text} for doubt, text in doubts],
            "reasons": list(self.reasons),
            "next_checks": [
                {
                    "part": check.part,
                    "feature": check.feature,
                    "text": text,
                    "expected_gain_bits": check.expected_gain_bits,
                    "needed_uncertainty_mm": check.needed_uncertainty_mm,
                    "leads": [lead.to_json() for lead in check.leads],
                }
                for check, text in checks
            ],
            "decision_rule": self.rule_told,
            "caution": self.caution,
        }
