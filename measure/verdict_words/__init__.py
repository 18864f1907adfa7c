"""A verdict in words: its headline for each shell, why nothing is named, what is unsettled, what to check."""

from measure.verdict_words.checks import CAUTION, check_sentence
from measure.verdict_words.doubts import doubt_sentence, doubted_parts, unsettled_parts
from measure.verdict_words.headlines import foreign_parts, in_sentences, on_one_line, on_the_page
from measure.verdict_words.percentages import percent
from measure.verdict_words.phrases import feature_name, joined, span_text
from measure.verdict_words.reasons import reason_sentence
from measure.verdict_words.rules import rate_sentences, rule_sentences

__all__ = [
    "CAUTION",
    "check_sentence",
    "doubt_sentence",
    "doubted_parts",
    "feature_name",
    "foreign_parts",
    "in_sentences",
    "joined",
    "on_one_line",
    "on_the_page",
    "percent",
    "rate_sentences",
    "reason_sentence",
    "rule_sentences",
    "span_text",
    "unsettled_parts",
]
