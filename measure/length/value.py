"""A length with its uncertainty, and arithmetic that preserves the errors that two lengths share.

Every uncertainty is a set of contributions, each the effect of one independent input of unit variance, known
by an identifier. Two lengths from one photo name the same inputs where they depend on the same corner noise,
focal length or card; their difference subtracts the effects input by input, so that what is common cancels
(JCGM 100:2008, 5.2).
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from math import hypot, isfinite, sqrt
from types import MappingProxyType

# Two-sided 95 % of a normal distribution.
NORMAL_COVERAGE_FACTOR = 1.959964


@dataclass(frozen=True, slots=True)
class Contribution:
    """The effect of one independent input.

    Attributes
    ----------
    source : str
        The influence quantity, for display: "card corners", "click"...
    shared : bool
        Whether other lengths of the same photo feel it too.
    mm : float
        Change of the length per standard uncertainty of the input, with its sign.
    """

    source: str
    shared: bool
    mm: float


@dataclass(frozen=True, slots=True)
class BudgetLine:
    """One line of an uncertainty budget.

    Attributes
    ----------
    source : str
        The influence quantity.
    u_mm : float
        Its part of the standard uncertainty.
    shared : bool
        Whether other lengths of the same photo feel it too.
    """

    source: str
    u_mm: float
    shared: bool


def _norm(contributions: Mapping[str, Contribution]) -> float:
    return sqrt(sum(part.mm**2 for part in contributions.values()))


def _budget(contributions: Mapping[str, Contribution]) -> tuple[BudgetLine, ...]:
    totals: dict[tuple[str, bool], float] = {}
    for part in contributions.values():
        key = (part.source, part.shared)
        totals[key] = hypot(totals.get(key, 0.0), part.mm)
    lines = [BudgetLine(source, u_mm, shared) for (source, shared), u_mm in totals.items()]
    return tuple(sorted(lines, key=lambda line: -line.u_mm))


def _mixed(
    one: Mapping[str, Contribution], by: float, other: Mapping[str, Contribution], times: float
) -> dict[str, Contribution]:
    """Return by * one + times * other, input by input."""
    mixed = {key: Contribution(part.source, part.shared, by * part.mm) for key, part in one.items()}
    for key, part in other.items():
        already = mixed[key].mm if key in mixed else 0.0
        mixed[key] = Contribution(part.source, part.shared, already + times * part.mm)
    return mixed


@dataclass(frozen=True, slots=True)
class Length:
    """A measured length.

    Attributes
    ----------
    value_mm : float
        The measured value.
    contributions : mapping of str to Contribution
        Effects of the independent inputs, by identifier.
    coverage_factor : float
        k of the expanded uncertainty for 95 % coverage; 1.96 where the distribution is normal.
    """

    value_mm: float
    contributions: Mapping[str, Contribution] = field(default_factory=dict)
    coverage_factor: float = NORMAL_COVERAGE_FACTOR

    def __post_init__(self) -> None:
        """Refuse numbers that aren't finite, and freeze the contributions."""
        if not isfinite(self.value_mm) or not isfinite(_norm(self.contributions)):
            raise ValueError("a length and its contributions must be finite")
        if not self.coverage_factor > 0:
            raise ValueError("a coverage factor must be positive")
        object.__setattr__(self, "contributions", MappingProxyType(dict(self.contributions)))

    @property
    def standard_uncertainty_mm(self) -> float:
        """Combined standard uncertainty u."""
        return _norm(self.contributions)

    @property
    def expanded_uncertainty_mm(self) -> float:
        """Expanded uncertainty U = k u for 95 % coverage."""
        return self.coverage_factor * self.standard_uncertainty_mm

    @property
    def shared_std_mm(self) -> float:
        """The part of u that other lengths of the same photo share."""
        return sqrt(sum(part.mm**2 for part in self.contributions.values() if part.shared))

    @property
    def budget(self) -> tuple[BudgetLine, ...]:
        """The parts of u by source, largest first; their squares add up to u²."""
        return _budget(self.contributions)

    def __add__(self, other: "Length") -> "Length":
        return self._with(other, 1.0)

    def __sub__(self, other: "Length") -> "Length":
        return self._with(other, -1.0)

    def _with(self, other: "Length", sign: float) -> "Length":
        mixed = _mixed(self.contributions, 1.0, other.contributions, sign)
        k = max(self.coverage_factor, other.coverage_factor)
        return Length(self.value_mm + sign * other.value_mm, mixed, k)

    def scaled(self, factor: float) -> "Length":
        """Return the length times a factor without uncertainty.

        Parameters
        ----------
        factor : float
            Any finite number.

        Returns
        -------
        Length
            With the same coverage factor and inputs.
        """
        return Length(
            factor * self.value_mm, _mixed(self.contributions, factor, {}, 0.0), self.coverage_factor
        )

    def __truediv__(self, other: "Length") -> "Ratio":
        if other.value_mm == 0.0:
            raise ZeroDivisionError("a ratio needs a denominator other than zero")
        by = 1.0 / other.value_mm
        times = -self.value_mm / other.value_mm**2
        return Ratio(self.value_mm * by, _mixed(self.contributions, by, other.contributions, times))


@dataclass(frozen=True, slots=True)
class Ratio:
    """Quotient of two lengths, without unit.

    Attributes
    ----------
    value : float
        The measured value.
    contributions : mapping of str to Contribution
        As for a length; their `mm` is here a plain number.
    """

    value: float
    contributions: Mapping[str, Contribution]

    @property
    def standard_uncertainty(self) -> float:
        """Combined standard uncertainty u."""
        return _norm(self.contributions)


def mean_length(lengths: Sequence[Length]) -> Length:
    """Return the mean of repeated lengths: own errors average out, shared ones stay.

    Raises
    ------
    ValueError
        There are none.
    """
    if not lengths:
        raise ValueError("a mean needs at least one length")
    total = lengths[0]
    for length in lengths[1:]:
        total = total + length
    return total.scaled(1.0 / len(lengths))
