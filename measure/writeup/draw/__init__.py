"""Pictures: dimension lines, close-ups, scale bars, the card's face covered."""

from measure.writeup.draw.closeup import CloseUp, close_up
from measure.writeup.draw.dimensions import dimension
from measure.writeup.draw.drawing import Mark
from measure.writeup.draw.fonts import fallbacks, plain_font, unset_characters
from measure.writeup.draw.picture import Card, Row, annotated
from measure.writeup.draw.privacy import (
    CARD_LIMIT_MM,
    checked,
    cover_by_corners_px,
    cover_outline_px,
    covered,
    jpeg,
    rounded_outline_mm,
)

__all__ = [
    "CARD_LIMIT_MM",
    "Card",
    "CloseUp",
    "Mark",
    "Row",
    "annotated",
    "checked",
    "close_up",
    "cover_by_corners_px",
    "cover_outline_px",
    "covered",
    "dimension",
    "fallbacks",
    "jpeg",
    "plain_font",
    "rounded_outline_mm",
    "unset_characters",
]
