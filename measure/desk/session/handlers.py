"""The requests that the page may send to the session, and the answers."""

import threading
from collections.abc import Callable, Mapping
from dataclasses import replace
from typing import Any, Protocol

from measure.desk.changes import Ask, AskError, History, actions
from measure.desk.library import Library
from measure.desk.photos import PhotoStore
from measure.desk.session.in_hand import InHand
from measure.desk.session.instrument import Reading
from measure.desk.session.judgement import Judgement
from measure.desk.session.measures import Measures
from measure.desk.session.scale_sources import Sources
from measure.desk.view import question, texts
from measure.record import Specimen


class Desk(Protocol):
    """What is needed of the session."""

    lock: threading.RLock
    history: History[Specimen]
    library: Library
    photo_store: PhotoStore
    measures: Measures
    judgement: Judgement
    in_hand: InHand
    version: int

    @property
    def specimen(self) -> Specimen:
        """The present state."""

    def commit(self, after: Specimen, title: str, *, join: str = "") -> None:
        """Make a new state."""

    def step(self, *, back: bool) -> None:
        """Undo or redo."""

    def save(self) -> None:
        """Keep the present state."""

    def write_up(self) -> None:
        """Write the record up."""


class MessageHandlers:
    """Answers the page's messages.

    Parameters
    ----------
    desk : Desk
        The session.
    """

    def __init__(self, desk: Desk) -> None:
        self._desk = desk
        sources, cards = Sources(desk), desk.photo_store.cards
        self._known: dict[str, Callable[[Ask], dict[str, Any] | None]] = {
            "try": self._try,
            "try corners": self._try_corners,
            "undo": lambda ask: desk.step(back=True),
            "redo": lambda ask: desk.step(back=False),
            "sheet": desk.judgement.choose,
            "fit": cards.fit,
            "find": cards.find,
            "kind": cards.set_kind,
            "add source": sources.add,
            "prefer source": sources.prefer,
            "nearer side": sources.nearer,
            "printed lengths": sources.printed,
            "second card": sources.second_card,
            "add straight": sources.straight,
            "camera": sources.camera,
            "leave out": sources.remove,
            "sample": self._open_sample,
            "record": self._open_record,
        }

    def handle(self, ask: Ask) -> dict[str, Any]:
        """Do what the page asks and return the answer.

        Raises
        ------
        CalibrationError, MeasureError, SheetError
            It can't be done; the message is for the user.
        """
        name = ask.get("do")
        if name == "write-up":
            # It takes seconds and reads the record on disk: the page stays usable meanwhile.
            self._desk.write_up()
            return {}
        with self._desk.lock, self._desk.history.unless_it_fails():
            if isinstance(name, str) and name in actions.ACTIONS:
                answer: dict[str, Any] | None = self._act(name, ask)
            elif isinstance(name, str) and name in self._known:
                answer = self._known[name](ask)
            else:
                raise AskError("The desk does not know this request; reload the page.")
            # The version lets the page wait for the state that goes with the answer.
            follows = {} if name in ("try", "try corners") else {"version": self._desk.version}
            return {**(answer or {}), **follows}

    def _act(self, name: str, ask: Ask) -> dict[str, Any]:
        desk = self._desk
        title, change = actions.ACTIONS[name]
        if name == "add":
            self._settled(ask)
        if name == "corners" and ask.get("fit"):
            return desk.photo_store.cards.fit(ask)
        after = change(desk.specimen, ask)
        if name == "remove photo" and not after.photos and not desk.photo_store.opening():
            desk.in_hand.clear()
            return {}
        join = f"{name}:{ask.get('id') or ask.get('photo')}" if ask.get("join") is True else ""
        desk.commit(after, title, join=join)
        if name in ("corners", "turn card"):
            desk.photo_store.cards.appraise_later(str(ask["photo"]))
        if name not in ("add", "change"):
            return {}
        touched = desk.specimen.measurements[-1].id if name == "add" else str(ask["id"])
        return {"id": touched, **_answer(desk.measures.reading(touched))}

    def _settled(self, ask: Ask) -> None:
        """Refuse to measure by an outline of which it is asked what it is.

        Raises
        ------
        AskError
            The user has not said.
        """
        shot = actions.photo_of(self._desk.specimen, ask)
        if question(shot, self._desk.measures.scale(shot)) is not None:
            raise AskError("Say first, under Scale, what the outline is: lengths depend on it.")

    def _try(self, ask: Ask) -> dict[str, Any]:
        specimen = self._desk.specimen
        if "draft" in ask:
            if not isinstance(ask["draft"], Mapping):
                raise AskError("draft: expected an object")
            self._settled(ask["draft"])
            entry = actions.drafted(specimen, ask["draft"])
        else:
            entry = actions.with_measurement(actions.measurement_of(specimen, ask), specimen, ask)
        return _answer(self._desk.measures.trial(specimen, entry))

    def _try_corners(self, ask: Ask) -> dict[str, Any]:
        photo = actions.photo_of(self._desk.specimen, ask)
        tried = replace(photo, reference=actions.by_hand(photo, ask))
        return self._desk.measures.with_corners(self._desk.specimen, tried)

    def _open_sample(self, ask: Ask) -> None:
        desk = self._desk
        sample = desk.library.sample(ask.get("sample"))
        if sample is None:
            raise AskError("This sample is not on the shelf.")
        # A sample is a toy of its own.
        desk.in_hand.begin()
        if desk.specimen.sheet is None and sample.sheet is not None:
            desk.judgement.lay(sample.sheet)
            desk.history.amend(lambda state: replace(state, sheet=sample.sheet))
        if not desk.specimen.name:
            desk.history.amend(lambda state: replace(state, name=sample.name))
        desk.save()
        for path in sample.photos:
            desk.photo_store.take(path.name, path.read_bytes())

    def _open_record(self, ask: Ask) -> None:
        path = self._desk.library.record(ask.get("record"))
        if path is None:
            raise AskError("This record is not on the shelf.")
        self._desk.in_hand.take_up(path)


def _answer(reading: Reading | None) -> dict[str, Any]:
    if reading is None:
        return {}
    if reading.length is None:
        return {"error": reading.trouble} if reading.trouble else {}
    return {
        "text": texts(reading.length),
        "used_px": [list(point) for point in reading.entry.used_px],
        "curves_px": [[list(point) for point in curve] for curve in reading.curves_px],
    }
