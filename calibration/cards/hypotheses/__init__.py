"""Which choices of sides at a proposed place deserve verification."""

from calibration.cards.hypotheses.choices import Choice, choices_at
from calibration.cards.hypotheses.queue import ExaminedPlaces, is_examined, same_place

__all__ = ["Choice", "ExaminedPlaces", "choices_at", "is_examined", "same_place"]
