"""A sheet's value of one feature on one release: a range, a mean and spread, frequencies, or none."""

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import Enum

from references.limits import LARGEST_COUNT, MOST_EXAMPLES

DEFAULT_EXAMPLES = 11
"""Examples assumed behind a range that states none; its limits are then soft by a tenth of its width."""


@dataclass(frozen=True, slots=True)
class Range:
    """Smallest and largest length of a release.

    The limits are soft: of n examples of a uniform spread the largest lies, on average, 1/(n - 1) of the seen
    width below the largest there is.

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
        """Standard deviation of the softness of each limit."""
        return (self.high_mm - self.low_mm) / ((self.examples or DEFAULT_EXAMPLES) - 1)

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
