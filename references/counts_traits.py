"""How likely a count or a trait is under each release, allowing for a finding noted wrong."""

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from references.finding import OTHER
from references.options import JudgeOptions
from references.sheet import Feature
from references.values import Counts, Traits, Value

Array = NDArray[np.float64]
K = TypeVar("K")


@dataclass(frozen=True, slots=True)
class Given:
    """What every likelihood is given: the releases in order, and the stated rates."""

    releases: tuple[str, ...]
    options: JudgeOptions


def count_likelihood(feature: Feature, counts: Sequence[int], given: Given) -> Array:
    """Return the probability of the counts noted, under each release and under a stranger."""

    def miscount(seen: int, true: int) -> float:
        return _miscount(seen, true, given.options)

    shares = [_count_shares(feature.by_release[release]) for release in given.releases]
    known = sorted({count for share in shares for count in share}) or [0]
    # A stranger has any count from a little below the least to a little above the largest: perhaps thousands.
    true = np.arange(max(0, known[0] - 2), known[-1] + 3)
    chances = [_miscounts(seen, true, given.options) for seen in counts]
    return _each_once(shares, counts, miscount, float(np.mean(np.prod(chances, axis=0))))


def _count_shares(value: Value) -> Mapping[int, float]:
    return value.frequencies if isinstance(value, Counts) else {}


def _miscount(seen: int, true: int, options: JudgeOptions) -> float:
    if seen == true:
        return 1 - options.miscount_rate
    away = abs(seen - true)
    return options.miscount_rate * (0.4 if away == 1 else 0.1 * 0.5 ** min(away - 1, 20))


def _miscounts(seen: int, true: NDArray[np.int_], options: JudgeOptions) -> Array:
    """Return `_miscount` for many true counts at once."""
    away = np.abs(true - seen)
    near = {0: 1 - options.miscount_rate, 1: _miscount(1, 0, options)}
    far = options.miscount_rate * 0.1 * 0.5 ** np.minimum(away - 1.0, 20.0)
    return np.where(away == 0, near[0], np.where(away == 1, near[1], far))


def trait_likelihood(feature: Feature, words: Sequence[str], given: Given) -> Array:
    """Return the probability of the words noted, under each release and under a stranger."""
    everything = dict.fromkeys((*feature.alternatives, OTHER), 1.0)
    wrong = given.options.misread_rate / (len(everything) - 1)

    def misread(seen: str, true: str) -> float:
        return 1 - given.options.misread_rate if seen == true else wrong

    shares: list[Mapping[str, float]] = [
        _trait_shares(feature.by_release[release]) for release in given.releases
    ]
    return _each_once(shares, words, misread, _discrete(everything, words, misread))


def _trait_shares(value: Value) -> Mapping[str, float]:
    return value.frequencies if isinstance(value, Traits) else {}


def _each_once(
    shares: Sequence[Mapping[K, float]], seen: Sequence[K], mistake: Callable[[K, K], float], stranger: float
) -> Array:
    """Return the probability of what was seen under each distribution, and last that under a stranger.

    Releases often share a distribution; one that has none is as open as a stranger.
    """
    keys = [tuple(share.items()) for share in shares]
    found = {
        key: _discrete(share, seen, mistake) if share else stranger
        for key, share in dict(zip(keys, shares, strict=True)).items()
    }
    return np.array([*(found[key] for key in keys), stranger])


def _discrete(shares: Mapping[K, float], seen: Sequence[K], mistake: Callable[[K, K], float]) -> float:
    total = sum(shares.values())
    return float(
        sum(share / total * math.prod(mistake(word, true) for word in seen) for true, share in shares.items())
    )
