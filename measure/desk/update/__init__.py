"""What follows from a message: a new state, and what is to be done. Pure: no disk, no threads, no clock."""

from typing import Any

from measure.desk.state import Desk
from measure.desk.update import cards, measure, note, photos, records, scale
from measure.desk.update.common import Step

__all__ = ["Step", "update"]

_HANDLERS: dict[type, Any] = {
    kind: handler
    for topic in (cards, measure, note, photos, records, scale)
    for kind, handler in topic.HANDLERS.items()
}


def update(desk: Desk, message: object, at_s: float) -> Step:
    """Return what follows from a message.

    Parameters
    ----------
    desk : Desk
        What is on the desk.
    message : object
        One of the classes of `page` or `workers`.
    at_s : float
        When it came, in seconds of any clock that never goes back.

    Returns
    -------
    Desk, tuple of tasks
        The new state, and what is to be done.

    Raises
    ------
    CalibrationError, MeasureError, SheetError
        It can't be done; the message is for the user.
    """
    step: Step = _HANDLERS[type(message)](desk, message, at_s)
    return step
