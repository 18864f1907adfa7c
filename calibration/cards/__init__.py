"""The card finder: outlines of cards and sheets of known size, each with its confidence."""

from calibration.cards.by_hand import HAND_STD_PX, refine_corners
from calibration.cards.cautions import outline_cautions, why_none
from calibration.cards.companions import companions, same_outline
from calibration.cards.consensus import Consensus, consensus
from calibration.cards.features import radius_log_likelihoods
from calibration.cards.finder import find_cards
from calibration.cards.found_card import FoundCard
from calibration.cards.identity import (
    as_kind,
    identified,
    identity_caution,
    is_doubtful,
    likelier_kind,
    rival_sizes,
    what_it_is_open,
)
from calibration.cards.irregular import (
    USUAL_IRREGULARITY,
    correspondences_of_card,
    fit_cards,
    fit_irregular,
)
from calibration.cards.proposals import LevelEdges
from calibration.cards.rival import Rival

__all__ = [
    "HAND_STD_PX",
    "USUAL_IRREGULARITY",
    "Consensus",
    "FoundCard",
    "LevelEdges",
    "Rival",
    "as_kind",
    "companions",
    "consensus",
    "correspondences_of_card",
    "find_cards",
    "fit_cards",
    "fit_irregular",
    "identified",
    "identity_caution",
    "is_doubtful",
    "likelier_kind",
    "outline_cautions",
    "radius_log_likelihoods",
    "refine_corners",
    "rival_sizes",
    "same_outline",
    "what_it_is_open",
    "why_none",
]
