"""Sources of scale other than a card: printed target, coin, ruler, known length."""

from calibration.sources.coin import (
    COINS,
    DIAMETER_STD_MM,
    PLACES,
    WALL_MEAN,
    WALL_STD,
    coin_from_key,
    condensed,
)
from calibration.sources.graduations import Graduations
from calibration.sources.ruler import GRADUATIONS_MM, strokes
from calibration.sources.source import (
    TARGET_KEY,
    Source,
    is_source,
    observe,
    plane_by,
    plane_from,
    plane_of_length,
    source_from_key,
)
from calibration.sources.target import may_show_target, shows_target
from calibration.sources.values import Marks, Observation, SourcePlane

__all__ = [
    "COINS",
    "DIAMETER_STD_MM",
    "GRADUATIONS_MM",
    "PLACES",
    "TARGET_KEY",
    "WALL_MEAN",
    "WALL_STD",
    "Graduations",
    "Marks",
    "Observation",
    "Source",
    "SourcePlane",
    "coin_from_key",
    "condensed",
    "is_source",
    "may_show_target",
    "observe",
    "plane_by",
    "plane_from",
    "plane_of_length",
    "shows_target",
    "source_from_key",
    "strokes",
]
