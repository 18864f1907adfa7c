"""What a person or a worker can say to the desk, and what the desk then wants done: frozen values."""

from measure.desk.messages import page, tasks, workers
from measure.desk.messages.checks import HAND_STD_PX, Ask, AskError, within
from measure.desk.messages.parse import parse

__all__ = ["HAND_STD_PX", "Ask", "AskError", "page", "parse", "tasks", "within", "workers"]
