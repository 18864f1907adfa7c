"""What the doors hand out says what a caller needs: parameters, and what comes back."""

import ast
import re
from collections.abc import Iterator

import pytest

from tests.test_rooms import OPEN_ROOMS, PACKAGES, ROOMS, SOURCES

Function = ast.FunctionDef | ast.AsyncFunctionDef
TREES = {name: ast.parse(path.read_text("utf-8")) for name, path in SOURCES.items()}

# Still to be written. It only shrinks: a name that is complete fails here until it is removed.
TO_WRITE: set[str] = set()


def imported(tree: ast.AST) -> Iterator[tuple[str, str, str]]:
    """Yield the module, the thing and the name it gets, of each import from a module of ours."""
    for node in ast.walk(tree):
        if isinstance(node, ast.ImportFrom) and node.module in SOURCES:
            yield from ((node.module, alias.name, alias.asname or alias.name) for alias in node.names)


def definition(module: str, name: str) -> Iterator[tuple[str, ast.stmt]]:
    """Yield where a name of a module is defined, followed through the doors that hand it on."""
    if f"{module}.{name}" in SOURCES:
        inner = f"{module}.{name}"
        yield from ((inner, node) for node in TREES[inner].body if isinstance(node, Function | ast.ClassDef))
        return
    for node in TREES[module].body:
        if isinstance(node, Function | ast.ClassDef) and node.name == name:
            yield module, node
    for origin, thing, given in imported(TREES[module]):
        if given == name and (origin, thing) != (module, name):
            yield from definition(origin, thing)


def handed_out() -> Iterator[tuple[str, ast.stmt]]:
    """Yield what doors hand out, and what others import from a module that stands in an open room."""
    for room in ROOMS:
        yield from ((room, node) for node in TREES[room].body if isinstance(node, Function | ast.ClassDef))
        for origin, thing, _ in imported(TREES[room]):
            yield from definition(origin, thing)
    for name, tree in TREES.items():
        for origin, thing, _ in imported(tree):
            inner = f"{origin}.{thing}"
            standing = inner if inner in SOURCES else origin
            if standing != name and standing not in ROOMS and standing.rpartition(".")[0] in OPEN_ROOMS:
                yield from definition(origin, thing)


def parameters(function: Function) -> list[str]:
    """Return the names of what a function takes."""
    taken = function.args
    names = [argument.arg for argument in (*taken.posonlyargs, *taken.args)]
    names += [taken.vararg.arg] if taken.vararg else []
    names += [argument.arg for argument in taken.kwonlyargs]
    names += [taken.kwarg.arg] if taken.kwarg else []
    return [name for name in names if name not in {"self", "cls"}]


def tells_elsewhere(function: Function) -> bool:
    """Tell whether another definition of this name has the docstring, as for an overload or a setter."""
    return any(ast.unparse(one).endswith(("overload", ".setter")) for one in function.decorator_list)


def public_functions() -> dict[str, Function]:
    """Return the public functions on doors, and those methods of classes there that take something."""
    found: dict[str, Function] = {}
    for module, node in handed_out():
        if isinstance(node, Function) and not node.name.startswith("_"):
            found[f"{module}.{node.name}"] = node
        elif isinstance(node, ast.ClassDef) and not node.name.startswith("_"):
            for method in node.body:
                if isinstance(method, Function) and not method.name.startswith("_") and parameters(method):
                    found[f"{module}.{node.name}.{method.name}"] = method
    return {name: node for name, node in found.items() if not tells_elsewhere(node)}


def sections(function: Function | ast.ClassDef | ast.Module) -> dict[str, str]:
    """Return the sections of a docstring, in numpydoc's form."""
    parts = re.split(r"^(\w[\w ]*)\n-{3,}$", ast.get_docstring(function) or "", flags=re.MULTILINE)
    return dict(zip(parts[1::2], parts[2::2], strict=True))


def told_parameters(section: str) -> list[str]:
    """Return the names that a section of parameters describes."""
    heads = re.findall(r"^(\S.*)$", section, flags=re.MULTILINE)
    return [name.strip(" *") for head in heads for name in head.partition(" :")[0].split(",")]


def gives_back(function: Function) -> bool:
    """Tell whether a function returns something."""
    return function.returns is not None and ast.unparse(function.returns) not in {"None", "NoReturn", "Never"}


def raises_itself(function: Function) -> bool:
    """Tell whether a function's own lines raise an error."""
    waiting, found = list[ast.AST](function.body), False
    while waiting:
        node = waiting.pop()
        if isinstance(node, Function | ast.Lambda | ast.ClassDef):
            continue
        if isinstance(node, ast.Raise) and node.exc is not None:
            name = ast.unparse(node.exc).partition("(")[0]
            found = found or name not in {"AssertionError", "NotImplementedError"}
        waiting += ast.iter_child_nodes(node)
    return found


def missing(function: Function) -> list[str]:
    """Return the sections that a function's docstring should have and lacks."""
    told = sections(function)
    needed = {
        "Parameters": bool(parameters(function)),
        "Returns": gives_back(function) and "Yields" not in told,
        "Raises": raises_itself(function),
    }
    return [name for name, is_needed in needed.items() if is_needed and name not in told]


PUBLIC = public_functions()


def test_the_doors_are_found() -> None:
    assert set(PUBLIC) > {
        "calibration.locate.locate",
    }


@pytest.mark.parametrize("top", PACKAGES)
def test_each_public_function_tells_what_it_takes_and_gives(top: str) -> None:
    lacking = {
        name: missing(node)
        for name, node in PUBLIC.items()
        if name.startswith(top + ".") and name not in TO_WRITE and missing(node)
    }
    assert lacking == {}


def test_the_list_of_those_to_write_only_shrinks() -> None:
    done = [name for name in sorted(TO_WRITE) if name not in PUBLIC or not missing(PUBLIC[name])]
    assert done == [], "documented, or gone: remove these from TO_WRITE"


@pytest.mark.parametrize("module", SOURCES)
def test_sections_are_needed_and_name_the_function_s_own_parameters(module: str) -> None:
    wrong = []
    for node in ast.walk(TREES[module]):
        if isinstance(node, Function):
            told = sections(node)
            own, named = parameters(node), told_parameters(told.get("Parameters", ""))
            if "Parameters" in told and (not own or sorted(named) != sorted(own)):
                wrong.append(f"{node.name}: Parameters")
            if "Returns" in told and not gives_back(node):
                wrong.append(f"{node.name}: Returns")
    assert wrong == []


def words_of_the_code() -> set[str]:
    """Return each name and each short text that the code itself uses, and the names of modules."""
    words = {"None", *(part for name in SOURCES for part in name.split("."))}
    for tree in TREES.values():
        for node in ast.walk(tree):
            for field in ("id", "attr", "arg", "name", "value"):
                word = getattr(node, field, None)
                words |= set(word.split(".")) if isinstance(word, str) and " " not in word else set()
    return words


def test_docstrings_name_only_what_there_is() -> None:
    known, gone = words_of_the_code(), []
    for module, tree in TREES.items():
        for node in ast.walk(tree):
            if isinstance(node, Function | ast.ClassDef | ast.Module):
                quoted = re.findall(r"(?<!`)`([A-Za-z_][\w.]*)`(?!`)", ast.get_docstring(node) or "")
                types = " ".join(
                    re.findall(r"^\S.* : (.*)$", sections(node).get("Parameters", ""), re.MULTILINE)
                )
                words = [*quoted, *re.findall(r"\b[A-Z][a-z]\w*", types)]
                missing_words = [word for word in words if not set(word.split(".")) <= known]
                gone += [
                    f"{module}: {word}" for word in missing_words if not re.fullmatch(r"[A-Za-z]_\w", word)
                ]
    assert gone == []
