"""A verdict in words: its headline for each shell, why nothing is named, what is unsettled, what to check."""

from measure.verdict_words.checks import CAUTION, check_sentence, rule_sentences
from measure.verdict_words.doubts import doubt_sentence, doubted_parts, joined, unsettled_parts
from measure.verdict_words.headlines import foreign_parts, in_sentences, on_one_line, on_the_page
from measure.verdict_words.percentages import percent

__all__ = [
    "CAUTION",
    "check_sentence",
    "doubt_sentence",
    "doubted_parts",
    "foreign_parts",
    "in_sentences",
    "joined",
    "on_one_line",
    "on_the_page",
    "percent",
    "rule_sentences",
    "unsettled_parts",
]
