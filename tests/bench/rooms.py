"""The rooms of the house and the arrows between them, counted from the code.

    python -m tests.bench.rooms [--root FOLDER] [--arrows]

A room is what stands right under a package: a folder with all below it, or a module that stands there by
itself. An arrow goes from a room to another of the same package that it imports from, if only for types;
the storeys are the rooms on the longest way down, where rooms in a circle share one. The same is counted for
single modules. Lines of a function leave its docstring out; complexity is McCabe's (rule C901).
"""

import argparse
import ast
import json
import subprocess
import sys
from collections import Counter, defaultdict
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path

PACKAGES = ("calibration", "measure", "references")
LONG_LINES = 50
COMPLEX = 8

Arrows = Counter[tuple[str, str]]


@dataclass(frozen=True)
class House:
    """What the code of the packages says of itself.

    Parameters
    ----------
    lines : dict of str to int
        Lines of each module, by its dotted name.
    folders : dict of str to str
        The folder of each module, as a dotted name.
    modules : Counter of (str, str)
        How often each module imports from another, within one package.
    long_functions : list of str
        Functions of more than `LONG_LINES` lines, docstrings not counted.
    """

    lines: Mapping[str, int]
    folders: Mapping[str, str]
    modules: Arrows
    long_functions: list[str]

    def arrows(self, package: str) -> Arrows:
        """Return the arrows between the rooms of one package, each with the number of its imports."""
        found: Arrows = Counter()
        for (here, there), times in self.modules.items():
            pair = room_of(here), room_of(there)
            if pair[0] != pair[1] and here.split(".")[0] == package:
                found[pair] += times
        return found


def room_of(name: str) -> str:
    """Return the room that a module lies in."""
    return ".".join(name.split(".")[:2])


def name_of(path: Path, root: Path) -> str:
    """Return the dotted name of a source file."""
    parts = path.relative_to(root).with_suffix("").parts
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


def imported(tree: ast.Module, known: Mapping[str, object]) -> Iterator[str]:
    """Yield each known module that a module imports, wherever in it the import stands."""
    for node in ast.walk(tree):
        if isinstance(node, ast.ImportFrom) and node.module and not node.level:
            inner = [f"{node.module}.{alias.name}" for alias in node.names]
            yield from (name for name in inner if name in known)
            if node.module in known and any(name not in known for name in inner):
                yield node.module
        elif isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names if alias.name in known)


def read_house(root: Path) -> House:
    """Read all modules of the three packages under a folder."""
    paths = {name_of(path, root): path for top in PACKAGES for path in sorted((root / top).rglob("*.py"))}
    texts = {name: path.read_text("utf-8") for name, path in paths.items()}
    trees = {name: ast.parse(text) for name, text in texts.items()}
    folders = {
        name: name if path.name == "__init__.py" else name.rpartition(".")[0] for name, path in paths.items()
    }
    modules: Arrows = Counter(
        (name, other)
        for name, tree in trees.items()
        for other in imported(tree, paths)
        if other != name and other.split(".")[0] == name.split(".")[0]
    )
    long_functions = [
        f"{name}.{node.name} ({length})"
        for name, tree in trees.items()
        for node in ast.walk(tree)
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef)
        and (length := lines_of(node)) > LONG_LINES
    ]
    lines = {name: len(text.splitlines()) for name, text in texts.items()}
    return House(lines, folders, modules, long_functions)


def lines_of(function: ast.FunctionDef | ast.AsyncFunctionDef) -> int:
    """Return the lines of a function without its docstring."""
    lines = (function.end_lineno or function.lineno) - function.lineno + 1
    if ast.get_docstring(function) is None:
        return lines
    told = function.body[0]
    return lines - ((told.end_lineno or told.lineno) - told.lineno + 1)


def storeys(nodes: set[str], arrows: Arrows) -> tuple[int, list[set[str]]]:
    """Return the number of nodes on the longest way down, and the circles, each counted as one storey."""
    below: dict[str, set[str]] = defaultdict(set)
    for here, there in arrows:
        below[here].add(there)
    reach = {node: _reached(node, below) for node in nodes}
    together = {node: frozenset({node} | {o for o in reach[node] if node in reach[o]}) for node in nodes}
    height: dict[frozenset[str], int] = {}
    # Those that reach least come first, so that all below is known when a node's turn comes.
    for node in sorted(nodes, key=lambda each: len(reach[each] | {each})):
        own = together[node]
        under = {together[other] for member in own for other in below[member]} - {own}
        height[own] = 1 + max((height[each] for each in under), default=0)
    return max(height.values(), default=0), [set(each) for each in height if len(each) > 1]


def _reached(start: str, below: Mapping[str, set[str]]) -> set[str]:
    found: set[str] = set()
    waiting = [start]
    while waiting:
        new = below.get(waiting.pop(), set()) - found
        found |= new
        waiting += new
    return found


def complex_functions(root: Path) -> list[str]:
    """Return the functions that ruff calls more complex than `COMPLEX`, with their measure."""
    command = [
        sys.executable,
        "-m",
        "ruff",
        "check",
        "--select",
        "C901",
        "--output-format",
        "json",
        "--exit-zero",
    ]
    command += ["--no-cache", "--config", f"lint.mccabe.max-complexity={COMPLEX}", *PACKAGES]
    done = subprocess.run(command, cwd=root, capture_output=True, text=True, check=True)
    return [f"{Path(each['filename']).stem}: {each['message']}" for each in json.loads(done.stdout)]


def describe(house: House, package: str) -> Iterator[str]:
    """Yield the lines on one package: its sums, then a line a folder."""
    own = {name: folder for name, folder in house.folders.items() if name.split(".")[0] == package}
    arrows = house.arrows(package)
    inner: Arrows = Counter({pair: n for pair, n in house.modules.items() if pair[0] in own})
    rooms = {room_of(name) for name in own}
    yield f"{package}/: {len(own)} files, {sum(house.lines[name] for name in own)} lines"
    for what, nodes, between in (("rooms", rooms, arrows), ("modules", set(own), inner)):
        tall, circles = storeys(nodes, between)
        told = "; ".join(" ".join(sorted(circle)) for circle in circles) or "none"
        yield f"  {len(nodes)} {what}, {len(between)} arrows, {tall} storeys, circles: {told}"
    largest = max(own, key=lambda name: house.lines[name])
    yield f"  largest file: {largest}, {house.lines[largest]} lines"
    for folder, files in sorted(Counter(own.values()).items()):
        lines = sum(house.lines[name] for name in own if own[name] == folder)
        down = sorted({there.rpartition(".")[2] for here, there in arrows if here == folder})
        yield f"  {folder:36s} {files:3d} files {lines:6d} lines  {', '.join(down)}".rstrip()


def main() -> None:
    """Print the map."""
    parser = argparse.ArgumentParser(
        description="Print the rooms of the packages and the arrows between them."
    )
    parser.add_argument("--root", type=Path, default=Path(__file__).resolve().parents[2], help="the checkout")
    parser.add_argument(
        "--arrows", action="store_true", help="print also each arrow with its number of imports"
    )
    given = parser.parse_args()
    house = read_house(given.root)
    for package in PACKAGES:
        print("\n".join(describe(house, package)))
        if given.arrows:
            for (here, there), times in sorted(house.arrows(package).items()):
                print(f"    {here} -> {there}: {times}")
    for title, names in (
        (f"functions of more than {LONG_LINES} lines", house.long_functions),
        (f"functions more complex than {COMPLEX}", complex_functions(given.root)),
    ):
        print(f"{title}: {len(names)}", *names, sep="\n  ")


if __name__ == "__main__":
    main()
