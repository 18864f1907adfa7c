"""Telling pages and terminal that something has changed, from any thread."""

import threading
from collections.abc import Callable


class Telling:
    """Whoever listens, and the terminal.

    Parameters
    ----------
    say : callable
        Takes what the terminal is to say, a sentence at a time, from any thread.
    """

    def __init__(self, say: Callable[[str], None]) -> None:
        self._say = say
        self._complaints: set[str] = set()
        # Not the lock of the state: who waits for a save while holding that one must not keep the saver from
        # telling.
        self._listening = threading.Lock()
        self._listeners: list[Callable[[], None]] = []

    def listen(self, told: Callable[[], None]) -> Callable[[], None]:
        """Call something after every change.

        Parameters
        ----------
        told : callable
            Called without arguments, from any thread.

        Returns
        -------
        callable
            Stops that.
        """
        with self._listening:
            self._listeners.append(told)

        def forget() -> None:
            with self._listening:
                self._listeners.remove(told)

        return forget

    def tell(self) -> None:
        """Tell the listeners that something changed."""
        with self._listening:
            listeners = list(self._listeners)
        for told in listeners:
            told()

    def complain(self, text: str) -> None:
        """Say on the terminal, once, what the page can't be told by its state.

        Parameters
        ----------
        text : str
            A sentence.
        """
        if text not in self._complaints:
            self._complaints.add(text)
            self._say(text)

    def announce(self, text: str) -> None:
        """Say on the terminal what the page shows for as long as it holds.

        Parameters
        ----------
        text : str
            A sentence.
        """
        self._say(text)
        self.tell()
