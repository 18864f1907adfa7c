"""Which choices of sides at a proposed place deserve verification."""

from calibration.cards.hypotheses.choices import Choice, choices_at
from calibration.cards.hypotheses.queue import Places, is_taken, same_place

__all__ = ["Choice", "Places", "choices_at", "is_taken", "same_place"]
