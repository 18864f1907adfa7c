"""The rules of the house that a reader can't check at a glance."""

import ast
import re
import subprocess
import sys
from functools import cache
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent
PACKAGES = ("calibration", "measure", "references")
SOURCES = [path for package in PACKAGES for path in sorted((ROOT / package).rglob("*.py"))]
TOP_LEVEL = {
    "README.md", "DEVELOPERS.md", "pyproject.toml",
    "calibration", "measure", "references", "sample_images", "tests",
}  # fmt: skip


def tracked() -> list[str]:
    listed = subprocess.run(["git", "ls-files"], cwd=ROOT, capture_output=True, text=True, check=False)
    if listed.returncode:
        pytest.skip("not a git checkout")
    return listed.stdout.splitlines()


def test_the_top_level_holds_what_was_agreed() -> None:
    assert {name.split("/")[0] for name in tracked() if not name.startswith(".")} == TOP_LEVEL


@pytest.mark.parametrize("path", SOURCES, ids=lambda path: str(path.relative_to(ROOT)))
def test_a_module_stays_short_enough_to_read(path: Path) -> None:
    assert len(path.read_text("utf-8").splitlines()) <= 400


SCRIPTS = sorted((ROOT / "measure" / "desk" / "static").rglob("*.js"))


@pytest.mark.parametrize("path", SCRIPTS, ids=lambda path: path.name)
def test_a_script_of_the_page_stays_readable(path: Path) -> None:
    lines = path.read_text("utf-8").splitlines()
    assert [number for number, line in enumerate(lines, 1) if len(line) > 120] == []
    assert len(lines) <= 400


@pytest.mark.parametrize("package", PACKAGES)
def test_each_error_is_documented_in_the_tree_of_its_package(package: str) -> None:
    tree = ast.parse((ROOT / package / "errors.py").read_text("utf-8"))
    named = ast.get_docstring(tree) or ""
    assert all(node.name in named for node in tree.body if isinstance(node, ast.ClassDef))


def test_the_help_imports_nothing_heavy() -> None:
    code = (
        "import sys; from click.testing import CliRunner; from measure.cli import cli\n"
        "assert CliRunner().invoke(cli, ['--help']).exit_code == 0\n"
        "print([m for m in ('numpy', 'cv2', 'scipy', 'matplotlib', 'PIL', 'starlette') if m in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"


CORE = [path for path in SOURCES if path.relative_to(ROOT).parts[0] != "measure"]


def texts_of(path: Path) -> list[tuple[int, str]]:
    """Return the texts that stand in a module, with the lines they begin on."""
    tree = ast.parse(path.read_text("utf-8"))
    constants = [node for node in ast.walk(tree) if isinstance(node, ast.Constant)]
    return [(node.lineno, node.value) for node in constants if isinstance(node.value, str)]


@pytest.mark.parametrize("path", CORE, ids=lambda path: str(path.relative_to(ROOT)))
def test_the_core_knows_no_option_of_the_command_line(path: Path) -> None:
    assert [(line, text) for line, text in texts_of(path) if re.search(r"--[a-z]", text)] == []


DESK = [path for path in SOURCES if path.is_relative_to(ROOT / "measure" / "desk")]
# What takes a text apart by what it says, each with the text or pattern looked for as its first argument.
TAKING_APART = {
    "compile", "sub", "search", "match", "fullmatch", "findall", "split", "partition", "replace",
    "startswith", "endswith", "removeprefix", "removesuffix", "find", "index",
}  # fmt: skip


def words_taken_apart(tree: ast.AST) -> list[tuple[int, set[str]]]:
    """Return the words by which a module takes texts apart, with their lines."""
    found = []
    for node in ast.walk(tree):
        looked_for: ast.expr | None = None
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute) and node.args:
            looked_for = node.args[0] if node.func.attr in TAKING_APART else None
        elif isinstance(node, ast.Compare) and isinstance(node.ops[0], ast.In | ast.NotIn):
            # One word beside `in` is as often a key of a mapping.
            looked_for = node.left if " " in str(getattr(node.left, "value", "")) else None
        if isinstance(looked_for, ast.Constant) and isinstance(looked_for.value, str):
            found.append((looked_for.lineno, set(re.findall(r"[a-z]{4,}", looked_for.value))))
    return found


@cache
def words_of_cautions() -> set[str]:
    """Return the words of four letters or more that cautions and reasons for no answer are made of."""
    rooms = sorted((ROOT / "measure" / "wording").glob("*.py"))
    texts = [text for path in rooms for _, text in texts_of(path) if " " in text]
    return {word for text in texts for word in re.findall(r"[a-z]{4,}", text)}


@pytest.mark.parametrize(
    "text",
    [
        "import re\nre.sub(r'\\b(the |its )?stand-off', 'height', text)",
        "told.replace('give its corners by hand', 'mark them')",
        "'seems cropped' in told",
    ],
)
def test_a_caution_taken_apart_is_seen(text: str) -> None:
    known = words_of_cautions()
    assert any(words & known for _, words in words_taken_apart(ast.parse(text)))


@pytest.mark.parametrize("path", DESK, ids=lambda path: str(path.relative_to(ROOT)))
def test_the_page_reads_codes_and_no_sentences(path: Path) -> None:
    known = words_of_cautions()
    found = words_taken_apart(ast.parse(path.read_text("utf-8")))
    assert [(line, words & known) for line, words in found if words & known] == []


TERMINAL = ROOT / "measure" / "terminal.py"
WRITERS = {
    "click": {"echo", "secho", "echo_via_pager", "prompt", "confirm", "getchar", "pause", "progressbar"},
    "sys": {"stdout", "stderr", "__stdout__", "__stderr__"},
    "os": {"write", "system"},
    "traceback": {"print_exc", "print_exception", "print_stack"},
    "warnings": {"warn", "warn_explicit"},
    "logging": {"basicConfig", "StreamHandler"},
}


def writes_past_the_terminal(tree: ast.AST) -> list[str]:
    """Return what in a module writes to the terminal by itself."""
    found = []
    for node in ast.walk(tree):
        if (
            isinstance(node, ast.Call)
            and isinstance(node.func, ast.Name)
            and node.func.id in ("print", "input")
        ):
            found.append(f"{node.lineno}: {node.func.id}")
        if isinstance(node, ast.Attribute) and isinstance(node.value, ast.Name):
            found += [f"{node.lineno}: {node.attr}"] * (node.attr in WRITERS.get(node.value.id, ()))
        if isinstance(node, ast.ImportFrom):
            names = WRITERS.get(node.module or "", set()) & {alias.name for alias in node.names}
            found += [f"{node.lineno}: {node.module}.{name}" for name in names]
    return found


@pytest.mark.parametrize(
    "text",
    [
        "print(1)", "input()", "import click\nclick.echo(1)", "from click import prompt",
        "import sys\nsys.stderr.write('')", "from sys import stdout", "import warnings\nwarnings.warn('')",
    ],
)  # fmt: skip
def test_what_writes_past_the_terminal_is_seen(text: str) -> None:
    assert writes_past_the_terminal(ast.parse(text))


@pytest.mark.parametrize(
    "path", [path for path in SOURCES if path != TERMINAL], ids=lambda path: str(path.relative_to(ROOT))
)
def test_only_one_module_writes_to_the_terminal(path: Path) -> None:
    assert writes_past_the_terminal(ast.parse(path.read_text("utf-8"))) == []


def test_the_readme_and_the_checks_run_the_same_test_command() -> None:
    readme = (ROOT / "README.md").read_text("utf-8")
    found = re.search(r"^python3 -m venv .*pytest$", readme, re.MULTILINE)
    assert found, "the README must name the command that sets up and passes the tests"
    assert found[0] in (ROOT / ".ci" / "run").read_text("utf-8")
    assert found[0] in (ROOT / "DEVELOPERS.md").read_text("utf-8")


def test_the_readme_names_every_command() -> None:
    from measure.cli import COMMANDS

    readme = (ROOT / "README.md").read_text("utf-8")
    assert [name for name in COMMANDS if f"cardspan {name}" not in readme] == []


SILENT = [
    path for room in ("verdict", "inference") for path in sorted((ROOT / "references" / room).glob("*.py"))
]


def sentences(tree: ast.AST) -> list[str]:
    """Return the texts that read like sentences, or pieces of some; docstrings and errors may be some."""
    allowed = {
        part
        for node in ast.walk(tree)
        if isinstance(node, ast.Raise)
        or (isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant))
        for part in ast.walk(node)
    }
    texts = [
        node.value
        for node in ast.walk(tree)
        if isinstance(node, ast.Constant) and isinstance(node.value, str) and node not in allowed
    ]
    return [text for text in texts if re.search(r"\s\S.*[.:;]\s*$|^[A-Z]\w*(\s\S+){2}|(\S+\s){3}", text)]


@pytest.mark.parametrize(
    "text",
    ["'it was lost.'", "'Cannot tell which'", "f'{a}: does not belong to {b}'", "f'{a} is a copy of it.'"],
)
def test_a_sentence_is_seen(text: str) -> None:
    assert sentences(ast.parse(f"told = {text}"))


@pytest.mark.parametrize("path", SILENT, ids=lambda path: str(path.relative_to(ROOT)))
def test_the_verdict_is_values_and_no_sentences(path: Path) -> None:
    assert sentences(ast.parse(path.read_text("utf-8"))) == []
