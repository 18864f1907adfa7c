"""The stated assumptions and thresholds of a verdict."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class JudgeOptions:
    """What a verdict assumes, and when it commits to an answer. Every number here is a stated choice.

    Attributes
    ----------
    name_at : float
        Probability from which a release, a recast or a foreign origin is named.
    evidence_ratio : float
        How many times more strongly the findings must support the named release than any other, whatever the
        shares of the releases: half a power of ten, "substantial" on Jeffreys' scale.
    foreign_at : float
        Probability from which a part is called foreign.
    gross_error_rate : float
        Share of lengths that are measured in the wrong place or typed wrong.
    misplaced_rate : float
        Share of features whose points were put on another edge than the sheet means, in one photo. Of points
        placed with care by the sheet's words alone, three of three lengths on one sample were so.
    misplaced_mm, misplaced_share : float
        How far off such a length is, as a standard deviation: a fixed and a proportional part.
    miscount_rate, misread_rate : float
        Share of counts and traits noted wrongly.
    none_rate : float
        Share of parts that come from none of the sheet's releases.
    unlisted_rate : float
        Share of specimens whose release the sheet does not list.
    shrink_low, shrink_high : float
        How much smaller a recast copy is; uniform between the two.
    scale_rate : float
        Share of specimens with all lengths off by one factor: a wrong reference, a missing stand-off.
    chance_at : float
        No release is named where the dismissed lengths are as many, or the readings of one feature as far
        apart, as happens by chance to so few specimens.
    coverage_factor : float
        For expanded uncertainties in sentences.
    likely_u_mm, likely_u_share : float
        Standard uncertainty expected of a further length: a fixed and a proportional part.
    """

    name_at: float = 0.9
    evidence_ratio: float = 10**0.5
    foreign_at: float = 0.9
    gross_error_rate: float = 0.01
    misplaced_rate: float = 0.05
    misplaced_mm: float = 3.0
    misplaced_share: float = 0.03
    miscount_rate: float = 0.02
    misread_rate: float = 0.02
    none_rate: float = 0.01
    unlisted_rate: float = 0.02
    shrink_low: float = 0.005
    shrink_high: float = 0.03
    scale_rate: float = 0.01
    chance_at: float = 0.01
    coverage_factor: float = 1.96
    likely_u_mm: float = 0.3
    likely_u_share: float = 0.002

    @property
    def astray_rate(self) -> float:
        """Share of lengths that are no measurement of their feature: slips, and points on another edge."""
        return self.misplaced_rate + (1 - self.misplaced_rate) * self.gross_error_rate

    def misplaced_std_mm(self, length_mm: float) -> float:
        """Return how far a length is off whose points lie on another edge, as a standard deviation.

        Parameters
        ----------
        length_mm : float
            About how long the feature is.

        Returns
        -------
        float
            In mm, at most half the length: a short feature has no edge farther away.
        """
        return min(self.misplaced_mm + self.misplaced_share * length_mm, 0.5 * length_mm)

    def likely_u(self, length_mm: float) -> float:
        """Return the standard uncertainty to expect of a further length.

        Parameters
        ----------
        length_mm : float
            About how long it is.

        Returns
        -------
        float
            In mm.
        """
        return self.likely_u_mm + self.likely_u_share * length_mm


DEFAULT_OPTIONS = JudgeOptions()
