"""What the page is answered."""

from typing import Any

from measure.desk.messages import tasks, workers
from measure.desk.state import Desk, Reading
from measure.desk.view.readouts import texts
from measure.desk.view.scale import card_words, expected_words


def answer_json(answer: tasks.Answer, desk: Desk) -> dict[str, Any]:
    """Return an answer for the page.

    Parameters
    ----------
    answer : Answer
        What is answered.
    desk : Desk
        The state that goes with it.

    Returns
    -------
    dict
        JSON values.
    """
    if isinstance(answer.tried, workers.CornersTried):
        return _corners(answer.tried)
    found: dict[str, Any] = {}
    if answer.id is not None:
        found["id"] = answer.id
    reading = answer.reading or (None if answer.id is None else desk.reading(answer.id))
    found.update(_reading(reading))
    if answer.given is not None:
        scale = desk.scale(answer.given)
        words = None if scale is None else expected_words(scale)
        found["say"] = f"Added. Now {words}." if words else "Added."
    if answer.say is not None:
        found["say"] = answer.say
    return found


def _reading(reading: Reading | None) -> dict[str, Any]:
    if reading is None:
        return {}
    if reading.length is None:
        return {"error": reading.trouble} if reading.trouble else {}
    return {
        "text": texts(reading.length),
        "used_px": [list(point) for point in reading.entry.used_px],
        "curves_px": [[list(point) for point in curve] for curve in reading.curves_px],
    }


def _corners(tried: workers.CornersTried) -> dict[str, Any]:
    """Return the card's facts and the photo's lengths as they would be with other corners."""
    assert tried.shot.reference is not None
    lengths = {
        key: texts(one.length) if one.length else {"mm": one.trouble} for key, one in tried.readings.items()
    }
    return {"lengths": lengths, "facts": card_words(tried.shot.reference, tried.scale)[1]}
