"""Undo and redo without limit over immutable values."""

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Generic, TypeVar

_T = TypeVar("_T")
# Arrow-key nudges that follow each other within this time are one step back.
_JOIN_S = 1.5


@dataclass(frozen=True, slots=True)
class History(Generic[_T]):
    """The states of a value, including the present one.

    Attributes
    ----------
    states : tuple of values
        From the first on.
    names : tuple of str
        What led to each of them; empty for the first.
    place : int
        Which of them is the present one.
    joined : (str, float)
        What may be joined to the present state, and when that was made, in seconds.
    """

    states: tuple[_T, ...]
    names: tuple[str, ...] = ("",)
    place: int = 0
    joined: tuple[str, float] = ("", 0.0)

    @property
    def present(self) -> _T:
        """The state shown."""
        return self.states[self.place]

    @property
    def undo_name(self) -> str | None:
        """What undoing would take back, or None at the start."""
        return self.names[self.place] if self.place else None

    @property
    def redo_name(self) -> str | None:
        """What redoing would bring back, or None at the end."""
        return self.names[self.place + 1] if self.place + 1 < len(self.states) else None

    def push(self, state: _T, name: str, *, join: str = "", at_s: float = 0.0) -> "History[_T]":
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
        at_s : float
            When, in seconds.

        Returns
        -------
        History
        """
        states, names = self.states[: self.place + 1], self.names[: self.place + 1]
        soon = at_s - self.joined[1] < _JOIN_S
        if join and join == self.joined[0] and soon and self.place > 0:
            return History((*states[:-1], state), names, self.place, (join, at_s))
        return History((*states, state), (*names, name), self.place + 1, (join, at_s))

    def amend(self, change: Callable[[_T], _T]) -> "History[_T]":
        """Change every state alike: for what the desk finds out itself, which undo must not revert.

        Parameters
        ----------
        change : callable
            Takes a state and returns it changed.

        Returns
        -------
        History
        """
        return replace(self, states=tuple(change(state) for state in self.states))

    def settle(self, state: _T) -> "History[_T]":
        """Replace the present state by an equivalent one with updated numbers.

        Parameters
        ----------
        state : value
            Takes the present one's place under its name.

        Returns
        -------
        History
        """
        if state is self.present:
            return self
        return replace(self, states=(*self.states[: self.place], state, *self.states[self.place + 1 :]))

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
        place = self.place
        while place and self.names[place] == name:
            place -= 1
        return self.states[place]

    def undo(self) -> "History[_T]":
        """Step back; at the start nothing changes."""
        return replace(self, place=max(0, self.place - 1), joined=("", 0.0))

    def redo(self) -> "History[_T]":
        """Step forward; at the end nothing changes."""
        return replace(self, place=min(len(self.states) - 1, self.place + 1), joined=("", 0.0))
