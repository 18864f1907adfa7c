"""How far a refined outline can be trusted."""

from calibration.cards.score.classifier import (
    Hypothesis,
    build_hypothesis,
    confidence_if_named,
    confidences,
    score,
    shift_corners,
)

__all__ = ["Hypothesis", "build_hypothesis", "confidence_if_named", "confidences", "score", "shift_corners"]
