"""The difference: two lengths compared, what they share cancelling."""

from dataclasses import dataclass

from measure.length import Length


@dataclass(frozen=True, slots=True)
class Difference:
    """One length minus another.

    Attributes
    ----------
    length : Length
        The difference, which may be negative; its uncertainty holds shared errors once, cancelled.
    u_if_independent_mm : float
        What the standard uncertainty would be had the two nothing in common: how much the pairing gained.
    """

    length: Length
    u_if_independent_mm: float

    @property
    def decided(self) -> bool:
        """Whether the difference is larger than its expanded uncertainty: not zero, at 95 %."""
        return abs(self.length.value_mm) > self.length.expanded_uncertainty_mm


def measure_difference(one: Length, other: Length) -> Difference:
    """Return one length minus another.

    Parameters
    ----------
    one, other : Length
        Of one photo, so that card, lens and tilt are shared, or of different ones. Each measurement must have
        its own `span_id`, or clicks would be taken for shared as well.

    References
    ----------
    JCGM 100:2008, 5.2: correlated inputs.
    """
    apart = (one.standard_uncertainty_mm**2 + other.standard_uncertainty_mm**2) ** 0.5
    return Difference(one - other, apart)
