"""The card finder: outlines of cards and sheets of known size, each with its confidence."""

from calibration.cards.by_hand import HAND_STD_PX, refine_corners
from calibration.cards.cautions import outline_cautions, why_none
from calibration.cards.features import radius_log_likelihoods
from calibration.cards.finder import find_cards
from calibration.cards.found_card import FoundCard
from calibration.cards.identity import (
    identified,
    identity_caution,
    is_doubtful,
    rival_sizes,
)
from calibration.cards.proposals import LevelEdges
from calibration.cards.rival import Rival

__all__ = [
    "HAND_STD_PX",
    "FoundCard",
    "LevelEdges",
    "Rival",
    "find_cards",
    "identified",
    "identity_caution",
    "is_doubtful",
    "outline_cautions",
    "radius_log_likelihoods",
    "refine_corners",
    "rival_sizes",
    "why_none",
]
