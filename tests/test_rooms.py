"""The rooms of the house: each package has one door, and nobody climbs in by a window."""

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent
PACKAGES = ("calibration", "measure", "references")
FOLDERS = [
    folder
    for top in (*PACKAGES, "tests", "sample_images")
    for folder in (ROOT / top, *(path for path in sorted((ROOT / top).rglob("*")) if path.is_dir()))
    if "__pycache__" not in folder.parts and "node_modules" not in folder.parts
]
# The largest number of rooms that stand upon one another in each of the three.
STOREYS = {"calibration": 8, "references": 6, "measure": 9}


def module_of(path: Path) -> str:
    """Return the dotted name of a source file."""
    parts = path.relative_to(ROOT).with_suffix("").parts
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


SOURCES = {module_of(path): path for top in PACKAGES for path in sorted((ROOT / top).rglob("*.py"))}
ROOMS = {name for name, path in SOURCES.items() if path.name == "__init__.py"}
# Each command is a module of its own, imported only when it runs; the three tops hold rooms, not things.
OPEN_ROOMS = {*PACKAGES, "measure.commands", "measure.desk", "measure.writeup"}


def imports(name: str) -> Iterator[str]:
    """Yield each module of ours that a module imports from."""
    for node in ast.walk(ast.parse(SOURCES[name].read_text("utf-8"))):
        if isinstance(node, ast.ImportFrom) and node.module in SOURCES:
            for alias in node.names:
                inner = f"{node.module}.{alias.name}"
                # A module may be handed out by its room's door, as `from room import module`.
                yield (
                    node.module
                    if inner in SOURCES and node.module not in OPEN_ROOMS
                    else (inner if inner in SOURCES else node.module)
                )
        elif isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names if alias.name in SOURCES)


def room_of(name: str) -> str:
    """Return the room that a module lies in; a package lies in itself."""
    return name if name in ROOMS else name.rpartition(".")[0]


def inside(name: str, room: str) -> bool:
    """Tell whether a module lies in a room or deeper."""
    return name == room or name.startswith(room + ".")


@pytest.mark.parametrize("name", SOURCES)
def test_others_come_in_by_the_door(name: str) -> None:
    windows = [
        wanted
        for wanted in imports(name)
        for room in ROOMS - OPEN_ROOMS
        if inside(wanted, room) and wanted != room and not inside(name, room)
    ]
    assert windows == []


@pytest.mark.parametrize("folder", FOLDERS, ids=lambda path: str(path.relative_to(ROOT)))
def test_a_folder_holds_what_one_can_take_in(folder: Path) -> None:
    assert sum(path.is_file() for path in folder.iterdir()) <= 20


def on_the_map() -> set[str]:
    """Return the folders and modules that the map in DEVELOPERS.md names, as paths without an ending."""
    text = (ROOT / "DEVELOPERS.md").read_text("utf-8")
    found, above = set[str](), list[str]()
    for line in text[text.index("calibration/   ") : text.index("\ntests/  ")].splitlines():
        depth = (len(line) - len(line.lstrip())) // 2
        names = re.split(r"\s{2,}|/\s", line.strip())[0].removesuffix("/").split(", ")
        found |= {"/".join((*above[:depth], name)) for name in names}
        above = [*above[:depth], names[0]]
    return found


def test_the_map_names_each_room_and_nothing_else() -> None:
    rooms = {path.parent.relative_to(ROOT).as_posix() for path in SOURCES.values()}
    ground = {
        path.relative_to(ROOT).with_suffix("").as_posix()
        for path in SOURCES.values()
        if path.parent.parent == ROOT and not path.name.startswith("__")
    }
    assert sorted((rooms | ground) - on_the_map()) == []
    assert [
        one for one in sorted(on_the_map()) if not (ROOT / one).is_dir() and not (ROOT / f"{one}.py").exists()
    ] == []


@pytest.mark.parametrize("top", PACKAGES)
def test_rooms_stand_in_few_storeys_and_in_no_circle(top: str) -> None:
    def ground(name: str) -> str:
        """Return the room right under the top that a module lies in, or the module that stands there."""
        return ".".join(name.split(".")[:2])

    below: dict[str, set[str]] = {}
    for name in SOURCES:
        if inside(name, top) and name != top:
            below.setdefault(ground(name), set()).update(
                ground(wanted) for wanted in imports(name) if inside(wanted, top) and wanted != top
            )
    heights: dict[str, int] = {}

    def height(room: str, path: tuple[str, ...] = ()) -> int:
        assert room not in path, f"a circle: {' -> '.join((*path, room))}"
        if room not in heights:
            under = below.get(room, set()) - {room}
            heights[room] = 1 + max((height(other, (*path, room)) for other in under), default=0)
        return heights[room]

    assert max(height(room) for room in below) <= STOREYS[top]
