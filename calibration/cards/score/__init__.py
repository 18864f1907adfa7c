"""How far a refined outline can be trusted."""

from calibration.cards.score.classifier import Evidence, confidence_if_named, confidences, score, turn, weigh

__all__ = ["Evidence", "confidence_if_named", "confidences", "score", "turn", "weigh"]
