"""Which of the cards that the program found by itself agree."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import scipy

from calibration.camera import Camera
from calibration.cards.found_card import FoundCard
from calibration.cards.irregular import USUAL_IRREGULARITY, fit_cards
from calibration.errors import GeometryError
from calibration.plane import PlumbLine

# A card whose size beside the others is off by more standard uncertainties than this is none of the kind, or
# lies higher, or is bent.
_FARTHEST_STDS = 3.5
_LEAST_CHANCE = 0.01


@dataclass(frozen=True, slots=True, eq=False)
class Consensus:
    """Cards that agree on one plane, and those that don't.

    Attributes
    ----------
    agreeing : tuple of FoundCard
        The first is the one that the search was surest of.
    left_out : tuple of FoundCard
        Those whose size beside the others is not the kind's.
    """

    agreeing: tuple[FoundCard, ...]
    left_out: tuple[FoundCard, ...] = ()


def consensus(camera: Camera, cards: Sequence[FoundCard], lines: Sequence[PlumbLine] = ()) -> Consensus:
    """Leave out the cards that the others contradict.

    Parameters
    ----------
    camera : Camera
        As it was before any fit.
    cards : sequence of FoundCard
        Of one kind, the surest first.
    lines : sequence of PlumbLine
        Edges that are straight in the scene.

    Returns
    -------
    Consensus
        Of two that disagree, the first stays.
    """
    agreeing, left_out = list(cards), list[FoundCard]()
    while len(agreeing) > 1:
        odd = _odd_one(camera, agreeing, lines)
        if odd is None:
            break
        left_out.append(agreeing.pop(odd))
    return Consensus(tuple(agreeing), tuple(left_out))


def _odd_one(camera: Camera, cards: list[FoundCard], lines: Sequence[PlumbLine]) -> int | None:
    """Return which card stands out, None where they agree as well as such cards do."""
    try:
        plane = fit_cards(camera, cards, lines, irregularity_ratio=USUAL_IRREGULARITY)
    except GeometryError:
        return len(cards) - 1
    chance = float(scipy.special.chdtrc(plane.degrees_of_freedom, plane.chi2))
    if len(cards) == 2:
        return 1 if chance < _LEAST_CHANCE else None
    off = np.abs(plane.size_misfits).reshape(len(cards), -1).max(axis=1)
    worst = int(np.argmax(off))
    return worst if off[worst] > _FARTHEST_STDS else None
