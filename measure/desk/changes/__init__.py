"""What may change on the desk: actions on the specimen, its history, messages for the page."""

from measure.desk.changes.actions import ACTIONS, Ask, AskError
from measure.desk.changes.history import History
from measure.desk.changes.kinds import OFFERS_JSON
from measure.desk.changes.notices import Notices
from measure.desk.changes.scale_kinds import SCALE_KINDS_JSON

__all__ = ["ACTIONS", "OFFERS_JSON", "SCALE_KINDS_JSON", "Ask", "AskError", "History", "Notices"]
