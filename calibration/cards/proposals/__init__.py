"""Rough outlines that may be a card, from straight edges of the reduced photo."""

from calibration.cards.proposals.edge_support import strongest_gradient
from calibration.cards.proposals.junctions import find_turns
from calibration.cards.proposals.search import WIDEST_ASPECT_ERROR, Candidates, Seen, search, search_calmed
from calibration.cards.proposals.segments import Pixels, Segments

__all__ = [
    "WIDEST_ASPECT_ERROR",
    "Candidates",
    "Pixels",
    "Seen",
    "Segments",
    "find_turns",
    "search",
    "search_calmed",
    "strongest_gradient",
]
