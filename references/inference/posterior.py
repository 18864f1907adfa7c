"""The belief from all findings: probabilities of release, of each part's origin, and of a recast."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from references.errors import VerdictError

Array = NDArray[np.float64]

ROUNDING = 1e-6


@dataclass(frozen=True, slots=True, eq=False)
class PartBelief:
    """Where one part comes from.

    Origins stand in the order: each release (genuine), each release (a recast copy of it), none of them.

    Attributes
    ----------
    genuine : (releases, 2 releases + 1) array
        Joint probability of the specimen's release and the part's origin, on a specimen that is no recast.
    recast : same shape
        The same on a specimen that is a recast as a whole.
    likelihood : (2 releases + 1,) array
        Likelihood of the part's own findings under each origin, scale errors as the other parts leave them;
        relative to the largest.
    """

    genuine: Array
    recast: Array
    likelihood: Array

    @property
    def origin(self) -> Array:
        """Probability of each origin; a part of a recast specimen counts among the recasts."""
        releases = self.genuine.shape[0]
        total: Array = self.genuine.sum(axis=0)
        copies = self.recast.sum(axis=0)
        total[releases : 2 * releases] += copies[:releases] + copies[releases : 2 * releases]
        total[-1] += copies[-1]
        return total

    @property
    def foreign(self) -> float:
        """Probability that the part does not come from the specimen's own release."""
        own = np.trace(self.genuine) + np.trace(self.recast)
        return float(max(0.0, 1.0 - own))


@dataclass(frozen=True, slots=True, eq=False)
class Belief:
    """The belief from all findings.

    Attributes
    ----------
    posterior : (releases,) array
        Probability of each release of the specimen.
    recast : float
        Probability that the specimen, as far as measured, is a recast copy.
    shrink, shrink_std : float
        Mean and standard deviation of the copy's shrinkage, as a share, if it is one.
    own_parts : float
        Probability that every part seen belongs to the specimen's release.
    parts : tuple of PartBelief or None
        One per part of the sheet; None where the part was not seen or is not present.
    log_evidence : float
        Natural logarithm of the probability density of all findings under the sheet's releases.
    unlisted_probability : float
        Probability that the specimen is of a release that the sheet does not list. All the other
        probabilities hold if it is of a listed one.
    """

    posterior: Array
    recast: float
    shrink: float
    shrink_std: float
    own_parts: float
    parts: tuple[PartBelief | None, ...]
    log_evidence: float
    unlisted_probability: float = 0.0

    @property
    def releases(self) -> Array:
        """Probability of each release, a release that is not listed being possible."""
        return self.posterior * (1 - self.unlisted_probability)

    def __post_init__(self) -> None:
        origins = [part.origin for part in self.parts if part is not None]
        check_probabilities(
            np.concatenate(
                [self.posterior, [self.recast, self.own_parts, self.unlisted_probability], *origins]
            )
        )


def check_probabilities(given: Array) -> None:
    """Refuse what is not a probability: a last check on numbers that a reader should have refused.

    Parameters
    ----------
    given : array
        Probabilities, of any shape.

    Raises
    ------
    VerdictError
        One is NaN, or outside 0 to 1 by more than rounding.
    """
    if not np.all((given >= -ROUNDING) & (given <= 1 + ROUNDING)):
        raise VerdictError(
            "the findings and the sheet give probabilities that are not numbers: check both for lengths,"
            " spreads, counts or numbers of examples that no toy has"
        )
