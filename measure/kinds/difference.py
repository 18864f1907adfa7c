"""The difference: two lengths compared, with shared errors cancelling."""

from dataclasses import dataclass

from measure.length import STANDOFF, Contribution, Length


@dataclass(frozen=True, slots=True)
class Difference:
    """One length minus another.

    Attributes
    ----------
    length : Length
        The difference, which may be negative; its uncertainty holds shared errors once, cancelled.
    u_if_independent_mm : float
        What the standard uncertainty would be if the two shared nothing: shows what pairing gains.
    """

    length: Length
    u_if_independent_mm: float

    @property
    def decided(self) -> bool:
        """Whether the difference is larger than its expanded uncertainty: not zero, at 95 %."""
        return abs(self.length.value_mm) > self.length.expanded_uncertainty_mm


def measure_difference(one: Length, other: Length, *, same_standoff: bool = False) -> Difference:
    """Return one length minus another.

    Parameters
    ----------
    one, other : Length
        Of one photo, so that card, lens and tilt are shared, or of different ones. Each measurement must have
        its own `span_id`, or else clicks would be taken as shared too.
    same_standoff : bool
        Whether an error in one's stand-off is the other's as well: the same features of two specimens lying
        on one table, measured at one stated height.

    References
    ----------
    JCGM 100:2008, 5.2: correlated inputs.
    """
    apart = (one.standard_uncertainty_mm**2 + other.standard_uncertainty_mm**2) ** 0.5
    if same_standoff:
        one, other = _with_common_standoff(one), _with_common_standoff(other)
    return Difference(one - other, apart)


def _with_common_standoff(length: Length) -> Length:
    """Return the length with its stand-off inputs named alike for all lengths of the photo."""
    parts: dict[str, Contribution] = {}
    for key, part in length.contributions.items():
        photo, last = key.split(":")[0], key.rsplit(":")[-1]
        parts[f"{photo}:common:{last}" if part.source == STANDOFF else key] = part
    return Length(length.value_mm, parts, length.coverage_factor)
