"""A sheet's value of one feature on one release: a range, a mean and spread, frequencies, or none."""

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import Enum
from functools import lru_cache

from references.limits import LARGEST_COUNT, MOST_EXAMPLES

DEFAULT_EXAMPLES = 3
"""Examples assumed behind a range that states none: few, as a collector has seen few."""
LEAST_WIDTH_MM, LEAST_WIDTH_SHARE = 0.1, 0.002
"""Examples that agree to less than this, in mm or as a share of the length, were rounded; they don't make the
next one certain. A choice, no source."""


@lru_cache(maxsize=1024)
def _softness(examples: int) -> float:
    """Return the softness of limits, in their distances, that leaves 2 / (n + 1) of parts outside."""
    low, high = 0.0, 4.0
    for _ in range(50):
        middle = (low + high) / 2
        if _share_inside(middle) > (examples - 1) / (examples + 1):
            low = middle
        else:
            high = middle
    return (low + high) / 2


def _share_inside(softness: float) -> float:
    """Return the share of an even spread on 0 to 1, blurred by a normal error, that stays between 0 and 1."""
    z = 1 / max(softness, 1e-12)
    below = (1 + math.erf(z / math.sqrt(2))) / 2
    peak = softness / math.sqrt(2 * math.pi)
    return 2 * (below - peak * (1 - math.exp(-z * z / 2))) - 1


@dataclass(frozen=True, slots=True)
class Range:
    """Smallest and largest length of a release.

    The limits are soft: whatever the spread is, one more part lies between the smallest and the largest of n
    examples with probability (n - 1) / (n + 1) only (Wilks, Ann. Math. Stat. 12 (1941) 91, from memory).

    Attributes
    ----------
    low_mm, high_mm : float
        The limits.
    examples : int or None
        Number of examples behind the limits.
    source : str
        Where the numbers come from.
    """

    low_mm: float
    high_mm: float
    examples: int | None = None
    source: str = field(default="", compare=False)

    def __post_init__(self) -> None:
        if not 0 <= self.low_mm <= self.high_mm < math.inf:
            raise ValueError(f"limits {self.low_mm} and {self.high_mm} mm are out of order")
        _check_examples(self.examples)

    @property
    def soft_std_mm(self) -> float:
        """Standard deviation of the softness of each limit: it leaves the right share of parts outside."""
        least = max(LEAST_WIDTH_MM, LEAST_WIDTH_SHARE * self.high_mm)
        return max(self.high_mm - self.low_mm, least) * _softness(self.examples or DEFAULT_EXAMPLES)

    @property
    def limits_mm(self) -> tuple[float, float]:
        """The limits by which conformity is judged."""
        return self.low_mm, self.high_mm


@dataclass(frozen=True, slots=True)
class Normal:
    """Mean and standard deviation of a release's length, as estimated from n examples.

    Attributes
    ----------
    mean_mm, sd_mm : float
        Mean and standard deviation of the parts, without measurement uncertainty.
    examples : int or None
        Number of examples; None where both are taken as known.
    source : str
        Where the numbers come from.
    """

    mean_mm: float
    sd_mm: float
    examples: int | None = None
    source: str = field(default="", compare=False)

    def __post_init__(self) -> None:
        if not (0 <= self.mean_mm < math.inf and 0 < self.sd_mm < math.inf):
            raise ValueError(f"mean {self.mean_mm} mm and sd {self.sd_mm} mm do not describe a spread")
        _check_examples(self.examples)

    @property
    def limits_mm(self) -> tuple[float, float]:
        """The limits by which conformity is judged: the 95 % prediction interval for one more example."""
        from scipy.special import ndtri, stdtrit

        if self.examples is None:
            half = float(ndtri(0.975)) * self.sd_mm
        else:
            factor = float(stdtrit(self.examples - 1, 0.975)) * math.sqrt(1 + 1 / self.examples)
            half = factor * self.sd_mm
        return max(0.0, self.mean_mm - half), self.mean_mm + half


def _check_examples(examples: int | None) -> None:
    if examples is not None and not 2 <= examples <= MOST_EXAMPLES:
        raise ValueError(f"{examples} examples; expected from 2 to {MOST_EXAMPLES}")


@dataclass(frozen=True, slots=True)
class Counts:
    """Frequencies of whole numbers, adding up to 1."""

    frequencies: Mapping[int, float]
    source: str = field(default="", compare=False)

    def __post_init__(self) -> None:
        if not all(0 <= count <= LARGEST_COUNT for count in self.frequencies):
            raise ValueError(f"a count is not from 0 to {LARGEST_COUNT}")


@dataclass(frozen=True, slots=True)
class Traits:
    """Frequencies of named alternatives, adding up to 1."""

    frequencies: Mapping[str, float]
    source: str = field(default="", compare=False)


def shares_of(value: Counts | Traits) -> dict[str, float]:
    """Return the frequencies of a count or trait under their names.

    Parameters
    ----------
    value : Counts or Traits
        The sheet's value on one release.

    Returns
    -------
    dict of str to float
        Shares from 0 to 1 that add up to 1; a count's name is its digits.
    """
    return {str(key): share for key, share in value.frequencies.items()}


class Marker(Enum):
    """Words that replace a value."""

    ABSENT = "absent"
    UNKNOWN = "unknown"


ABSENT = Marker.ABSENT
"""The release has no separate part of this kind."""
UNKNOWN = Marker.UNKNOWN
"""Not known yet; the feature tells nothing about this release."""

Value = Range | Normal | Counts | Traits | Marker
