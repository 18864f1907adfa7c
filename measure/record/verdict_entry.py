"""The verdict on a specimen, as a record keeps it: what was judged, with its doubts in words."""

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
    doubts_told : tuple of str
        A sentence for each of its doubts, in their order.
    """

    specimen: str
    verdict: "Verdict"
    doubts_told: tuple[str, ...]

    def __post_init__(self) -> None:
        if len(self.doubts_told) != len(self.verdict.doubts):
            raise ValueError("a verdict needs one sentence for each doubt")

    @property
    def reasons(self) -> tuple[str, ...]:
        """The verdict's reasons, after its doubts in words."""
        told = self.doubts_told
        first = (f"Cannot tell. {told[0]}", *told[1:]) if told else ()
        return (*first, *self.verdict.reasons)

    def to_json(self) -> dict[str, Any]:
        """Return plain values for a JSON file.

        Returns
        -------
        dict
            The keys of `Verdict.to_json` with "specimen" before them; each doubt has its sentence under
            "text", and doubts come before the reasons.
        """
        values = self.verdict.to_json()
        doubts = zip(values["doubts"], self.doubts_told, strict=True)
        values["doubts"] = [{**doubt, "text": text} for doubt, text in doubts]
        return {"specimen": self.specimen, **values, "reasons": list(self.reasons)}
