"""Why a verdict says what it says, as values: a code, and the keys and numbers that its sentence needs."""

from collections.abc import Hashable
from dataclasses import dataclass
from typing import Any, Literal, Self

ReasonCode = Literal[
    # The verdict itself.
    "recast",  # releases, probability, shrink_percent, expanded_uncertainty_percent
    "mixed",  # releases, foreign
    "named",  # release, probability
    "nothing found",
    "release or copy",  # releases, probability
    "not listed",  # probability, unknown: pairs of part and feature as no release has them
    "open",  # shares: pairs of release and probability
    # A part, or all together.
    "not present",  # part, without: the releases that never had it, others, bearing as below
    "part recast",  # part, probability
    "fits none",  # part, probability, like_recast
    "foreign",  # part, probability, releases, fits: it is known which of them
    "part in doubt",  # part, probability
    "slip",  # part, feature, value_mm, probability
    "recast possible",  # probability
    "unlisted possible",  # probability
    # A finding.
    "present",  # parts, without, bearing, and with a bearing "for" or "against": ratio, release
    "length",  # part, feature, readings, standing, and as for a part that is present
    "noted",  # part, feature, found, and as for a length
    "together",  # release, prior_odds, ratio, posterior_odds
    # What would separate releases that are still open.
    "wide uncertainty",  # part, feature, expanded_uncertainty_mm, gap_mm
    "inseparable",  # first, second
    "one check left",  # first, second, checks
    "checks forbidden",  # first, second, checks: those that the sheet says not to make
    "all checks made",  # first, second
]

Bearing = Literal["none", "nothing", "for", "against"]
"""What a finding adds to those before it, in the sheet's order: it is in doubt and left out; nothing; it
speaks so many times for or against the release that the reason names, None being one that is not listed."""

Standing = Literal["known", "unknown", "dismissed"]
"""Some release is known to have such a value; none is; it is dismissed as a slip."""

Side = Literal["inside", "below", "above", "undecided"]


@dataclass(frozen=True, slots=True)
class Place:
    """Where a length lies beside limits that releases share.

    Attributes
    ----------
    limits_mm : (float, float)
    releases : tuple of str
        Keys of the releases with these limits.
    side : str
        ``"inside"``, ``"below"`` or ``"above"``; ``"undecided"`` where the uncertainty leaves it open.
    apart_mm : float
        How far the length lies from the limits; 0 within them.
    conformance_probability : float
        That the true length lies within them.
    """

    limits_mm: tuple[float, float]
    releases: tuple[str, ...]
    side: Side
    apart_mm: float
    conformance_probability: float


@dataclass(frozen=True, slots=True)
class PlacedLength:
    """A length beside the limits of all releases.

    Attributes
    ----------
    value_mm, expanded_uncertainty_mm : float
    readings : int
        How many it is the mean of.
    places : tuple of Place
        Empty where the sheet gives no limits.
    """

    value_mm: float
    expanded_uncertainty_mm: float
    readings: int
    places: tuple[Place, ...]


@dataclass(frozen=True, slots=True)
class Reason:
    """A code and its facts.

    Attributes
    ----------
    code : str
        What is told; one of `ReasonCode`.
    facts : tuple of (name, value)
        Parts, features and releases by their keys in the sheet; units ride in the names.
    """

    code: ReasonCode
    facts: tuple[tuple[str, Hashable], ...] = ()

    @classmethod
    def of(cls, code: ReasonCode, **facts: Hashable) -> Self:
        """Return a reason with these facts.

        Parameters
        ----------
        code : str
            What is told.
        **facts : Hashable
            Those named beside the code in `ReasonCode`.

        Returns
        -------
        Self
            The facts in the order given.
        """
        return cls(code, tuple(facts.items()))

    def __getitem__(self, name: str) -> Any:
        """Return a fact by its name."""
        return dict(self.facts)[name]

    def get(self, name: str) -> Any:
        """Return a fact by its name.

        Parameters
        ----------
        name : str
            A fact's name.

        Returns
        -------
        object or None
            None where the reason has no such fact.
        """
        return dict(self.facts).get(name)
