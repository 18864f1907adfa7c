"""How much of a sheet was checked on a specimen."""

from collections.abc import Sequence
from dataclasses import dataclass

from references.release_sheet import Sheet
from references.verdict.part_verdict import PartVerdict

FEWEST_FEATURES, FEWEST_PARTS = 3, 2
"""Less than so much speaks for what was looked at, not for a whole toy. A choice, no source."""


@dataclass(frozen=True, slots=True)
class Checked:
    """How much of the sheet was checked.

    Attributes
    ----------
    features, parts : int
        Features that were measured, counted or seen and kept their weight, and the parts that they are on.
    of_features, of_parts : int
        All that the sheet has.
    """

    features: int
    of_features: int
    parts: int
    of_parts: int

    @property
    def is_little(self) -> bool:
        """Whether it is too little to speak of the whole toy, unless the sheet has no more."""
        few = self.features < FEWEST_FEATURES and self.features < self.of_features
        return few or (self.parts < FEWEST_PARTS and self.parts < self.of_parts)


def checked_of(sheet: Sheet, parts: Sequence[PartVerdict]) -> Checked:
    """Return how much of a sheet was checked.

    Parameters
    ----------
    sheet : Sheet
        The sheet.
    parts : sequence of PartVerdict
        The verdicts on its parts.

    Returns
    -------
    Checked
        A length that was dismissed counts as not checked.
    """
    kept = {(part.part, one.feature) for part in parts for one in part.findings if not one.dismissed}
    return Checked(
        features=len(kept),
        of_features=sum(len(part.features) for part in sheet.parts),
        parts=len({part for part, _ in kept}),
        of_parts=len(sheet.parts),
    )
