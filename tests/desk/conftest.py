"""Sessions over a plain photo."""

from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from measure.desk.session.session import Session
from tests.desk.waiting import wait_for
from tests.synthetic.from_above import plain_photo


@pytest.fixture(autouse=True)
def own_store(tmp_path_factory: pytest.TempPathFactory, monkeypatch: pytest.MonkeyPatch) -> None:
    """What can't be saved at its place is kept aside among the user's data: here, the test's own."""
    monkeypatch.setenv("CARDSPAN_DATA", str(tmp_path_factory.mktemp("data")))


@pytest.fixture(scope="session")
def photo_bytes(tmp_path_factory: pytest.TempPathFactory) -> bytes:
    return plain_photo(tmp_path_factory.mktemp("plain") / "plain.jpg").read_bytes()


def opened(folder: Path, data: bytes, say: Callable[[str], None] = lambda text: None) -> Session:
    photo = folder / "plain.jpg"
    photo.write_bytes(data)
    one = Session(folder, folder / "toy.specimen.json", "saltmarsh-ferry", say)
    one.open_path(photo)
    wait_for(lambda: one.specimen.photos and one.specimen.photos[0].reference is not None)
    return one


@pytest.fixture
def session(tmp_path: Path, photo_bytes: bytes) -> Iterator[Session]:
    """A desk with the plain photo open and its card found."""
    one = opened(tmp_path, photo_bytes)
    yield one
    one.close()


@pytest.fixture(scope="module")
def untouched(tmp_path_factory: pytest.TempPathFactory, photo_bytes: bytes) -> Iterator[Session]:
    """The same for tests that leave it as it is."""
    one = opened(tmp_path_factory.mktemp("desk"), photo_bytes)
    yield one
    one.close()


@pytest.fixture
def empty(tmp_path: Path) -> Iterator[Session]:
    """A desk with nothing on it."""
    one = Session(tmp_path)
    yield one
    one.close()
