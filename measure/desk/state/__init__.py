"""What is on the desk, as frozen values: specimen with its history, photos' standing, readings, notices."""

from measure.desk.state.desk import Desk, Notice
from measure.desk.state.history import History
from measure.desk.state.kinds import OFFERS, OFFERS_JSON, offer
from measure.desk.state.photos import Examination, Standing
from measure.desk.state.places import named, resolved, stem
from measure.desk.state.readings import Points, Reading, Settled, same_scale
from measure.desk.state.scale_kinds import COINS_JSON, RULES_JSON, SCALE_KINDS_JSON
from measure.desk.state.surroundings import Surroundings

__all__ = [
    "COINS_JSON",
    "OFFERS",
    "OFFERS_JSON",
    "RULES_JSON",
    "SCALE_KINDS_JSON",
    "Desk",
    "Examination",
    "History",
    "Notice",
    "Points",
    "Reading",
    "Settled",
    "Standing",
    "Surroundings",
    "named",
    "offer",
    "resolved",
    "same_scale",
    "stem",
]
