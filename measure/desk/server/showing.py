"""The state as it goes to the pages: always something that can be sent; an older one is told to be that."""

import json
import threading
from typing import Any

from measure.desk.failures import sentence
from measure.desk.session import Session


def to_text(value: Any) -> str:
    """Return a value as JSON text that can be sent, whatever texts it holds.

    Raises
    ------
    ValueError, TypeError
        It holds a number or a thing that JSON has not.
    """
    text = json.dumps(value, ensure_ascii=False, allow_nan=False, separators=(",", ":"))
    # A path may hold what isn't UTF-8. Only halves of pairs are replaced: a bare line break would break JSON.
    return text.encode("utf-16-le", "surrogatepass").decode("utf-16-le", "replace")


class Showing:
    """Makes the state's text; where that fails, the last one that could be made, with the reason.

    Parameters
    ----------
    session : Session
        What is on the desk.
    """

    def __init__(self, session: Session) -> None:
        self._session = session
        self._last: dict[str, Any] | None = None
        self._lock = threading.Lock()

    def texts(self, sheet_sent: str) -> tuple[list[str], str]:
        """Return the messages that bring a page up to date, and the mark of the sheet that it knows then.

        Parameters
        ----------
        sheet_sent : str
            Mark of the sheet that was sent last.
        """
        try:
            return self._made(sheet_sent)
        except Exception as error:  # a page that hears nothing would stay as it is, or blank, for ever
            text = sentence("Showing what is on the desk", error)
            self._session.complain(text)
            return [self._instead(text)], sheet_sent

    def _made(self, sheet_sent: str) -> tuple[list[str], str]:
        state = self._session.state()
        mark = state["sheet_mark"]
        sheets = [to_text({"sheet": self._session.sheet_view()})] if mark != sheet_sent else []
        found = [*sheets, to_text({"state": {**state, "trouble": None}})]
        with self._lock:
            self._last = state
        return found, mark

    def _instead(self, text: str) -> str:
        with self._lock:
            last = self._last
        if last is None:
            return to_text({"trouble": text})
        trouble = f"{text} What you see is how it was before."
        # Answers wait for the version that they led to.
        return to_text({"state": {**last, "version": self._session.version, "trouble": trouble}})
