"""Cautions, and why there is no answer, in words: for the command line, the page and the buyer."""

from measure.wording.catalogue import all_worded, reason_worded, worded
from measure.wording.lengths import STANDOFF_ON_PAGE
from measure.wording.recorded import recorded_cautions, reworded
from measure.wording.terms import Audience
from measure.wording.things import change_words, size_words, with_article

__all__ = [
    "STANDOFF_ON_PAGE",
    "Audience",
    "all_worded",
    "change_words",
    "reason_worded",
    "recorded_cautions",
    "reworded",
    "size_words",
    "with_article",
    "worded",
]
