"""What the page shows of sheet, scale, lengths and verdict, derived from values."""

from measure.desk.view.answers import answer_json
from measure.desk.view.curves import Points, curves_px
from measure.desk.view.page import page_json
from measure.desk.view.readouts import budget_json, snap_text, texts
from measure.desk.view.scale import (
    ScaleViews,
    card_words,
    expected,
    expected_words,
    plain_name,
    question,
    thing_name,
)
from measure.desk.view.sheet import sheet_json
from measure.desk.view.verdict import verdict_json, verdict_of

__all__ = [
    "Points",
    "ScaleViews",
    "answer_json",
    "budget_json",
    "card_words",
    "curves_px",
    "expected",
    "expected_words",
    "page_json",
    "plain_name",
    "question",
    "sheet_json",
    "snap_text",
    "texts",
    "thing_name",
    "verdict_json",
    "verdict_of",
]
