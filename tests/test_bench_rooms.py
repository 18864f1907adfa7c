"""The script that counts rooms and arrows, on a house of a few lines."""

from pathlib import Path

import pytest

from tests.bench.rooms import House, read_house, room_of, storeys

HOUSE = {
    "calibration/__init__.py": "from calibration.locate import find",
    "calibration/locate.py": "from calibration.cards import finder\nfrom calibration.image import read",
    "calibration/image/__init__.py": "from calibration.image.photo import read",
    "calibration/image/photo.py": "def read(): ...",
    "calibration/cards/__init__.py": "",
    "calibration/cards/finder.py": 'def find():\n    """Told\n    here."""\n'
    "    from calibration.image.photo import read\n" + "    read()\n" * 49,
    "measure/__init__.py": "import calibration.locate",
}


@pytest.fixture
def house(tmp_path: Path) -> House:
    for name, text in HOUSE.items():
        (tmp_path / name).parent.mkdir(parents=True, exist_ok=True)
        (tmp_path / name).write_text(text)
    return read_house(tmp_path)


def test_arrows_go_between_rooms_of_one_package(house: House) -> None:
    assert house.arrows("calibration") == {
        ("calibration", "calibration.locate"): 1,
        ("calibration.locate", "calibration.cards"): 1,
        ("calibration.locate", "calibration.image"): 1,
        ("calibration.cards", "calibration.image"): 1,
    }
    assert house.arrows("measure") == {}


def test_a_function_is_long_from_51_lines_on(house: House) -> None:
    assert house.long_functions == ["calibration.cards.finder.find (51)"]


def test_storeys_count_the_longest_way_down_and_a_circle_once(house: House) -> None:
    arrows = house.arrows("calibration")
    rooms = {room_of(name) for name in house.lines if name.startswith("calibration")}
    assert storeys(rooms, arrows) == (4, [])
    arrows["calibration.image", "calibration.cards"] = 1
    assert storeys(rooms, arrows) == (3, [{"calibration.cards", "calibration.image"}])
