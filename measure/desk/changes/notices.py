"""Short messages for the page, each shown once."""

from typing import Any

_MOST = 20


class Notices:
    """The last few messages, numbered so that a page shows each once."""

    def __init__(self) -> None:
        self._all: list[dict[str, Any]] = []
        self._count = 0

    def add(self, text: str, *, wrong: bool = False) -> None:
        """Add a message.

        Parameters
        ----------
        text : str
            A sentence for the page.
        wrong : bool
            Whether something did not work.
        """
        self._count += 1
        self._all = [*self._all, {"id": self._count, "text": text, "wrong": wrong}][-_MOST:]

    def to_json(self) -> list[dict[str, Any]]:
        """Return them, oldest first."""
        return list(self._all)
