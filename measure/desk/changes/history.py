"""Undo and redo without limit over immutable values."""

import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Generic, TypeVar

_T = TypeVar("_T")
# Arrow-key nudges that follow each other within this time are one step back.
_JOIN_S = 1.5


class History(Generic[_T]):
    """The states of a value, including the present one.

    Parameters
    ----------
    start : value
        The first state.
    clock : callable
        Gives a time in seconds; used only to join quick repetitions.
    """

    def __init__(self, start: _T, clock: Callable[[], float] = time.monotonic) -> None:
        self._states: list[_T] = [start]
        self._names: list[str] = [""]
        self._place = 0
        self._clock = clock
        self._joined: tuple[str, float] = ("", 0.0)

    @property
    def present(self) -> _T:
        """The state shown."""
        return self._states[self._place]

    @property
    def undo_name(self) -> str | None:
        """What undoing would take back, or None at the start."""
        return self._names[self._place] if self._place else None

    @property
    def redo_name(self) -> str | None:
        """What redoing would bring back, or None at the end."""
        return self._names[self._place + 1] if self._place + 1 < len(self._states) else None

    def push(self, state: _T, name: str, *, join: str = "") -> None:
        """Make this the present state; what was undone is dropped.

        Parameters
        ----------
        state : value
            The new state.
        name : str
            What the step is called, for undoing it.
        join : str
            If it isn't empty and equals the previous one soon after it, the present state is replaced
            instead.
        """
        now_s = self._clock()
        del self._states[self._place + 1 :], self._names[self._place + 1 :]
        same = (
            bool(join) and join == self._joined[0] and now_s - self._joined[1] < _JOIN_S and self._place > 0
        )
        self._joined = (join, now_s)
        if same:
            self._states[self._place] = state
            return
        self._states.append(state)
        self._names.append(name)
        self._place += 1

    def amend(self, change: Callable[[_T], _T]) -> None:
        """Change every state alike: for what the desk finds out itself, which undo must not revert.

        Parameters
        ----------
        change : callable
            Takes a state and returns it changed.
        """
        self._states = [change(state) for state in self._states]

    def settle(self, state: _T) -> None:
        """Replace the present state by an equivalent one with updated numbers.

        Parameters
        ----------
        state : value
            Takes the present one's place under its name.
        """
        self._states[self._place] = state

    def before(self, name: str) -> _T:
        """Return the state before the present one, and before all steps of this name that led up to it.

        Parameters
        ----------
        name : str
            The name of a step.

        Returns
        -------
        value
        """
        place = self._place
        while place and self._names[place] == name:
            place -= 1
        return self._states[place]

    @contextmanager
    def unless_it_fails(self) -> Iterator[None]:
        """Bring all states back as they were when what is done meanwhile raises."""
        kept = (list(self._states), list(self._names), self._place)
        try:
            yield
        except BaseException:
            self._states, self._names, self._place = kept
            raise

    def undo(self) -> bool:
        """Step back; False at the start."""
        self._joined = ("", 0.0)
        if self._place == 0:
            return False
        self._place -= 1
        return True

    def redo(self) -> bool:
        """Step forward; False at the end."""
        self._joined = ("", 0.0)
        if self._place + 1 >= len(self._states):
            return False
        self._place += 1
        return True
