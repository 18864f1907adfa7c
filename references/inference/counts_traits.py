"""How likely a count or a trait is under each release, allowing for findings noted wrongly."""

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from references.inference.finding import OTHER
from references.inference.options import JudgeOptions
from references.release_sheet import Counts, Feature, Traits, Value

Array = NDArray[np.float64]
Whole = NDArray[np.int_]
K = TypeVar("K")

AT_ONCE = 1_000_000
"""At most this many pairs of a true and a noted count are computed at once, to bound memory."""


@dataclass(frozen=True, slots=True)
class Given:
    """The input of every likelihood: the releases in order, and the stated rates."""

    releases: tuple[str, ...]
    options: JudgeOptions


def count_likelihood(feature: Feature, counts: Sequence[int], given: Given) -> Array:
    """Return the probability of the counts noted, under each release and for a part of unlisted origin.

    Parameters
    ----------
    feature : Feature
        A count.
    counts : sequence of int
        The counts noted, from 0 up; independent given the true count.
    given : Given
        The releases and the rate of miscounts.

    Returns
    -------
    (releases + 1,) array
        Joint probabilities in the order of the releases, the last one for unlisted origin. A release without
        frequencies has that of unlisted origin.
    """
    seen = np.array(counts)
    return _by_origin(
        feature, given, lambda true, shares: shares @ np.prod(_miscounts(true, seen, given.options), axis=1)
    )


def each_count_likelihood(feature: Feature, counts: Sequence[int], given: Given) -> Array:
    """Return the probability of each count by itself, under each release and for a part of unlisted origin.

    Parameters
    ----------
    feature : Feature
        A count.
    counts : sequence of int
        Counts from 0 up, each as if it were the only one noted.
    given : Given
        The releases and the rate of miscounts.

    Returns
    -------
    (releases + 1, counts) array
        Probabilities, the last row for unlisted origin.
    """
    seen = np.array(counts)

    def chances(true: Whole, shares: Array) -> Array:
        pieces = np.array_split(seen, 1 + true.size * seen.size // AT_ONCE)
        return np.concatenate([shares @ _miscounts(true, piece, given.options) for piece in pieces])

    return _by_origin(feature, given, chances)


def _by_origin(feature: Feature, given: Given, chance: Callable[[Whole, Array], Array]) -> Array:
    """Return what follows from the true counts and their shares, under each release and for unlisted origin.

    Releases often share a distribution; one that has none is as open as unlisted origin.
    """
    values = [feature.by_release[release] for release in given.releases]
    shares = [value.frequencies if isinstance(value, Counts) else {} for value in values]
    known = sorted({count for share in shares for count in share}) or [0]
    # A part of unlisted origin has any count from just below the least to just above the largest: perhaps
    # thousands.
    any_count = np.arange(max(0, known[0] - 2), known[-1] + 3)
    found: dict[tuple[tuple[int, float], ...], Array] = {}
    found[()] = chance(any_count, np.full(any_count.size, 1 / any_count.size))
    keys = [tuple(share.items()) for share in shares]
    for key in keys:
        if key not in found:
            share = np.array([one for _, one in key])
            found[key] = chance(np.array([count for count, _ in key]), share / share.sum())
    return np.array([*(found[key] for key in keys), found[()]])


def _miscounts(true: Whole, seen: Whole, options: JudgeOptions) -> Array:
    """Return the probability that each true count is noted as each count: (true, noted)."""
    away = np.abs(true[:, None] - seen)
    far = options.miscount_rate * 0.1 * 0.5 ** np.minimum(away - 1.0, 20.0)
    far[away == 1] = options.miscount_rate * 0.4
    far[away == 0] = 1 - options.miscount_rate
    return np.asarray(far)


def trait_likelihood(feature: Feature, words: Sequence[str], given: Given) -> Array:
    """Return the probability of the words noted, under each release and for a part of unlisted origin.

    Parameters
    ----------
    feature : Feature
        A trait.
    words : sequence of str
        The words noted, each one of the feature's alternatives or `OTHER`; independent given the true one.
    given : Given
        The releases and the rate of misreadings.

    Returns
    -------
    (releases + 1,) array
        Joint probabilities in the order of the releases, the last one for unlisted origin.
    """
    everything = dict.fromkeys((*feature.alternatives, OTHER), 1.0)
    wrong = given.options.misread_rate / (len(everything) - 1)

    def misread(seen: str, true: str) -> float:
        return 1 - given.options.misread_rate if seen == true else wrong

    shares: list[Mapping[str, float]] = [
        _trait_shares(feature.by_release[release]) for release in given.releases
    ]
    return _each_once([share or everything for share in (*shares, everything)], words, misread)


def _trait_shares(value: Value) -> Mapping[str, float]:
    return value.frequencies if isinstance(value, Traits) else {}


def _each_once(
    shares: Sequence[Mapping[K, float]], seen: Sequence[K], mistake: Callable[[K, K], float]
) -> Array:
    """Return the probability of what was seen under each distribution; releases often share one."""
    keys = [tuple(share.items()) for share in shares]
    found = {
        key: _discrete(share, seen, mistake) for key, share in dict(zip(keys, shares, strict=True)).items()
    }
    return np.array([found[key] for key in keys])


def _discrete(shares: Mapping[K, float], seen: Sequence[K], mistake: Callable[[K, K], float]) -> float:
    total = sum(shares.values())
    return float(
        sum(share / total * math.prod(mistake(word, true) for word in seen) for true, share in shares.items())
    )
