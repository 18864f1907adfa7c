"""One length from several photos: combined by their uncertainties, and whether they agree."""

from collections.abc import Sequence
from dataclasses import dataclass

from measure.length.value import Length, combined_length

_LEAST_CHANCE = 0.01


@dataclass(frozen=True, slots=True)
class Agreement:
    """A combined length.

    Attributes
    ----------
    length : Length
        The weighted mean.
    chance : float
        Probability of a larger disagreement if all measure one thing.
    caution : str or None
        Says so if they disagree beyond their uncertainties.
    """

    length: Length
    chance: float
    caution: str | None


def combine_photos(lengths: Sequence[Length]) -> Agreement:
    """Combine measurements of one thing from several photos.

    Parameters
    ----------
    lengths : sequence of Length
        At least one; each photo must have named its inputs by its own id, or they count as shared.

    Raises
    ------
    ValueError
        There are none.

    References
    ----------
    Cox, The evaluation of key comparison data, Metrologia 39, 2002: chi-squared test of consistency.
    """
    from scipy import special

    combined, chi2 = combined_length(tuple(lengths))
    chance = float(special.chdtrc(len(lengths) - 1, chi2)) if len(lengths) > 1 else 1.0
    if chance >= _LEAST_CHANCE:
        return Agreement(combined, chance, None)
    values = [length.value_mm for length in lengths]
    return Agreement(
        combined,
        chance,
        f"The photos contradict each other: {min(values):.2f} to {max(values):.2f} mm is more than their"
        " uncertainties allow. Check each reference, stand-off and point; don't use the mean.",
    )
