"""On the page it is asked what an outline is before anything is measured by it."""

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from measure.desk.messages import AskError
from measure.desk.session.session import Session
from tests.desk.conftest import opened
from tests.synthetic.from_above import BRIDGE, bar_ends, plain_photo

BAR = {"kind": "span", "photo": "photo-1", "clicks_px": bar_ends()}


@pytest.fixture(scope="module")
def bridge_bytes(tmp_path_factory: pytest.TempPathFactory) -> bytes:
    return plain_photo(tmp_path_factory.mktemp("bridge") / "bridge.jpg", box=BRIDGE).read_bytes()


@pytest.fixture
def asked(tmp_path: Path, bridge_bytes: bytes) -> Iterator[Session]:
    """A desk with a playing card that is taken for a bank card."""
    one = opened(tmp_path, bridge_bytes)
    yield one
    one.close()


def scale(session: Session) -> dict[str, Any]:
    return dict(session.state()["photos"][0]["scale"])


def say(session: Session, kind: str) -> None:
    session.handle({"do": "what it is", "photo": "photo-1", "kind": kind})


def test_the_question_names_the_rivals_and_what_lengths_would_be(asked: Session) -> None:
    question = scale(asked)["question"]
    assert question["asks"] == "Is this really a bank card?"
    assert question["rivals"][0] == {
        "kind": "bridge",
        "name": "Bridge playing card",
        "size": "57.2 × 88.9 mm",
        "change": "every length is 4.9 % longer",
    }
    assert not scale(asked)["sure"]


def test_a_bank_card_is_not_asked_about(untouched: Session) -> None:
    assert scale(untouched)["question"] is None


def test_nothing_is_measured_by_it_until_the_user_says(asked: Session) -> None:
    for ask in ({"do": "add", **BAR}, {"do": "try", "draft": BAR}):
        with pytest.raises(AskError, match="what the outline is"):
            asked.handle(ask)
    say(asked, "id1")
    assert scale(asked)["question"] is None
    assert asked.handle({"do": "add", **BAR})["text"]["mm"]


def test_another_size_rescales_and_undo_asks_again(asked: Session) -> None:
    say(asked, "bridge")
    reference = asked.specimen.photos[0].reference
    assert reference is not None
    assert (reference.kind, reference.said) == ("bridge", True)
    assert (reference.width_mm, reference.height_mm) == (88.9, 57.15)
    length = asked.handle({"do": "add", **BAR})["text"]["mm"]
    assert abs(float(length.split()[0]) - 100.0) < 1.0
    asked.handle({"do": "undo"})
    asked.handle({"do": "undo"})
    assert scale(asked)["question"]["kind"] == "id1"


def test_lengths_that_are_there_are_marked_until_the_user_says(asked: Session) -> None:
    say(asked, "id1")
    asked.handle({"do": "add", **BAR})
    told = asked.state()["measurements"][0]["cautions"]
    assert not any("Not settled" in text for text in told)
    unsaid = _unsaid(asked)
    asked.learn(lambda state: unsaid)
    assert asked.state()["measurements"][0]["cautions"][0].startswith("Not settled")


def _unsaid(session: Session) -> Any:
    (shot,) = session.specimen.photos
    assert shot.reference is not None
    return replace(session.specimen, photos=(replace(shot, reference=replace(shot.reference, said=False)),))


def test_pulling_the_outline_to_the_edges_answers_nothing(asked: Session) -> None:
    asked.handle({"do": "fit", "photo": "photo-1"})
    assert scale(asked)["question"] is not None
    asked.handle({"do": "fit", "photo": "photo-1", "kind": "bridge"})
    assert scale(asked)["question"] is None


def test_an_answer_that_is_no_size_changes_nothing(asked: Session) -> None:
    before = asked.specimen
    for kind in ("", "a bus"):
        with pytest.raises(Exception, match=r"kind|reference"):
            say(asked, kind)
    assert asked.specimen is before
