"""Rough outlines that may be a card, from straight edges of the reduced photo."""

from calibration.cards.proposals.edge_support import strongest_gradient
from calibration.cards.proposals.junctions import find_junctions
from calibration.cards.proposals.search import (
    WIDEST_ASPECT_ERROR,
    Candidates,
    LevelEdges,
    search,
    search_smoothed,
)
from calibration.cards.proposals.segments import Pixels, Segments

__all__ = [
    "WIDEST_ASPECT_ERROR",
    "Candidates",
    "LevelEdges",
    "Pixels",
    "Segments",
    "find_junctions",
    "search",
    "search_smoothed",
    "strongest_gradient",
]
