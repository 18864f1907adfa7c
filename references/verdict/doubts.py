"""What keeps a release from being named, as codes and numbers, without words."""

from dataclasses import dataclass
from typing import Any, Literal

DoubtCode = Literal["contradiction", "common factor", "slips", "nothing fits"]


@dataclass(frozen=True, slots=True)
class DoubtedLength:
    """A length that a doubt is about.

    Attributes
    ----------
    part, feature : str
        Keys in the sheet.
    value_mm, expanded_uncertainty_mm : float
    """

    part: str
    feature: str
    value_mm: float
    expanded_uncertainty_mm: float

    def to_json(self) -> dict[str, Any]:
        """Return plain values for a JSON file."""
        return {
            "part": self.part,
            "feature": self.feature,
            "length_mm": self.value_mm,
            "expanded_uncertainty_mm": self.expanded_uncertainty_mm,
        }


@dataclass(frozen=True, slots=True)
class Doubt:
    """Why no release can be named.

    Attributes
    ----------
    code : str
        ``"contradiction"``: readings of one feature that contradict each other; ``"common factor"``: all
        lengths, or all of one photo, are off by one factor; ``"slips"``: more lengths had to be dismissed
        than slips explain; ``"nothing fits"``: none of the lengths lies where any release has it.
    lengths : tuple of DoubtedLength
        The lengths that it is about.
    probability : float or None
        Of a contradiction and of slips, how often chance alone brings so much or more; of a common factor,
        that there is one; None where nothing fits.
    factor, factor_expanded_uncertainty : float or None
        Of a common factor: what the lengths read as a multiple of the true ones.
    photo : str or None
        Of a common factor: the photo, where only its lengths are off.
    """

    code: DoubtCode
    lengths: tuple[DoubtedLength, ...]
    probability: float | None = None
    factor: float | None = None
    factor_expanded_uncertainty: float | None = None
    photo: str | None = None

    @property
    def parts(self) -> frozenset[str]:
        """The parts that it keeps from being judged."""
        return frozenset(length.part for length in self.lengths)

    def to_json(self) -> dict[str, Any]:
        """Return plain values for a JSON file."""
        return {
            "code": self.code,
            "lengths": [length.to_json() for length in self.lengths],
            "probability": self.probability,
            "factor": self.factor,
            "factor_expanded_uncertainty": self.factor_expanded_uncertainty,
            "photo": self.photo,
        }
