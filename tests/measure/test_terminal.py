"""What others wrote is shown on the terminal, never obeyed: every command, every place such a text is from.

The codes tried: ECMA-48 (ESC [ 2 J clears the screen, CR goes back to the line's start, BEL rings, the C1
control CSI begins a code without ESC), DEL, and the right-to-left override of Unicode's UAX 9.
"""

import json
import re
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import click
import numpy as np
import pytest
from click.testing import CliRunner
from PIL import Image

import references
from measure import terminal
from measure.cli import main
from measure.demo.samples import read_register, samples_folder
from measure.errors import MeasureError

EVIL = "Evil\x1b[2J\r\x07\x9b1m\u202e\n\x7fend"
RAW = re.compile("[\x00-\x09\x0b-\x1f\x7f-\x9f\u202a-\u202e\u2066-\u2069\ud800-\udfff]")
FOLDER = samples_folder()
PHOTO = next(photo for photo in read_register(FOLDER)["photos"] if photo["id"] == "mixed-house")
CORNERS = " ".join(f"{x:.1f},{y:.1f}" for x, y in PHOTO["card"]["corners_px"])
HELD = ("--corners", CORNERS, "--object", PHOTO["card"]["kind"])
SPAN = " ".join(f"{x},{y}" for x, y in PHOTO["spans"][0]["points_px"])
SHEET = (Path(references.__file__).parent / "sheets" / "saltmarsh-ferry.toml").read_text("utf-8")
# As a TOML and as a JSON string.
QUOTED = json.dumps(EVIL)

Ran = Callable[..., tuple[int, str, str]]


@pytest.fixture
def ran(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Ran:
    """Run the program's entry point and return exit status, standard output and standard error."""

    def run(*arguments: object) -> tuple[int, str, str]:
        capsys.readouterr()
        monkeypatch.setattr(sys, "argv", ["cardspan", *map(str, arguments)])
        with pytest.raises(SystemExit) as ended:
            main()
        said = capsys.readouterr()
        return int(ended.value.code or 0), said.out, said.err

    return run


@pytest.fixture(autouse=True)
def here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("CARDSPAN_DATA", str(tmp_path / "data"))
    monkeypatch.chdir(tmp_path)
    return tmp_path


def photo(name: str = f"{EVIL}.jpg") -> str:
    Path(name).write_bytes((FOLDER / PHOTO["file"]).read_bytes())
    return name


def blank(name: str = f"{EVIL}.png", **saved: Any) -> str:
    Image.fromarray(np.full((80, 96, 3), 200, np.uint8)).save(name, **saved)
    return name


def sheet(file: str = "s.toml", **replaced: str) -> str:
    text = SHEET
    for name, new in replaced.items():
        assert OLD[name] in text
        text = text.replace(OLD[name], new)
    Path(file).write_text(text, "utf-8")
    return file


# What a sheet says of names, each as it stands in the shipped one.
OLD = {
    "subject": '"Saltmarsh Ferry"',
    "maker": '"Tern & Tallow Toy Works"',
    "release": '"First release"',
    "part": '"Bow plate"',
    "handling": '"The clips are brittle: measure it in place."',
    "field": "swap_rate",
    "feature": '"Width"',
    "identity": 'id = "bow-plate"',
    "low": "max = 22.0",
}
ALL_NAMES = dict.fromkeys(("subject", "maker", "release", "part", "handling", "feature"), QUOTED)


def record(file: str = "r.specimen.json", **fields: Any) -> str:
    lengths = (("width", 160.1), ("depth", 24.9))
    plain = {
        "format": "cardspan-specimen/1",
        "name": EVIL,
        "sheet": "saltmarsh-ferry",
        "note": EVIL,
        "photos": [],
        "measurements": [
            {
                "id": f"m{number}",
                "kind": "span",
                "photo": None,
                "part": "bow-plate",
                "feature": feature,
                "name": EVIL,
                "result": {
                    "length_mm": length_mm,
                    "standard_uncertainty_mm": 0.5,
                    "expanded_uncertainty_mm": 1.0,
                    "coverage_factor": 2.0,
                    "budget": [],
                },
            }
            for number, (feature, length_mm) in enumerate(lengths)
        ],
        "observations": [],
        **fields,
    }
    Path(file).write_text(json.dumps(plain), "utf-8")
    return file


TABLE = "specimen,release,part,feature,length,u\n" + "".join(
    f'"{EVIL.replace(chr(10), " ").replace(chr(13), " ")}{number}",first,bow-plate,width,{length},0.3\n'
    for number, length in enumerate((177.2, 177.0, 178.1, 176.6, 160.3, 177.6))
)

ALIKE = TABLE.replace("160.3", "177.4")


def table(name: str = "t.csv", text: str = TABLE) -> str:
    Path(name).write_text(text, "utf-8", newline="")
    return name


def no_photo(**fields: Any) -> dict[str, Any]:
    return {"id": "photo-1", "file": f"{EVIL}.jpg", "sha256": "0", "width_px": 9, "height_px": 9, **fields}


def camera_named(name: str) -> str:
    store = Path("data") / "cameras.json"
    store.parent.mkdir()
    profile = {
        "width_px": 4000, "height_px": 3000, "focal_px": 3000.0, "focal_std_px": 3.0,
        "principal_point_px": [2000.0, 1500.0], "principal_point_std_px": 3.0, "distortion": [0.0] * 5,
        "k1_std": 0.001, "model": EVIL, "rms_px": 0.1, "held_out_rms_px": 0.1, "views": [],
    }  # fmt: skip
    store.write_text(json.dumps({"format": "cardspan-cameras/1", "cameras": {name: profile}}), "utf-8")
    return name


Case = Callable[[], tuple[object, ...]]
CASES: dict[str, tuple[int, Case]] = {
    # File names, in what is told of a good file and in errors about a bad one.
    "locate: name of the photo": (0, lambda: ("locate", photo(), *HELD)),
    "locate: name of a missing photo": (4, lambda: ("locate", EVIL)),
    "locate: name of the picture": (0, lambda: ("locate", photo("p.jpg"), *HELD, "--picture", f"{EVIL}.png")),
    "span: name of the photo": (0, lambda: ("span", photo(), SPAN, *HELD)),
    "span: name of the record": (
        0, lambda: ("span", photo("p.jpg"), SPAN, *HELD, "--specimen", f"{EVIL}.json"),
    ),
    "span: name of a missing file of spans": (4, lambda: ("span", "p.jpg", "--spans", EVIL)),
    "judge: name of a missing record": (4, lambda: ("judge", f"{EVIL}.json")),
    "judge: name of a missing sheet": (4, lambda: ("judge", record(), "--sheet", EVIL)),
    "write-up: name of the folder": (0, lambda: ("write-up", record(name="ok"), "--out", EVIL)),
    "write-up: name of a missing record": (4, lambda: ("write-up", f"{EVIL}.json", "--out", "o")),
    "write-up: name of a folder to check": (4, lambda: ("write-up", "--verify", EVIL)),
    "sheet check: name of the sheet": (0, lambda: ("sheet", "check", sheet(f"{EVIL}.toml"))),
    "sheet check: name of a faulty sheet": (
        4, lambda: ("sheet", "check", sheet(f"{EVIL}.toml", low="max = 2.0")),
    ),
    "sheet show: name of a missing sheet": (4, lambda: ("sheet", "show", EVIL)),
    "sheet show: name of the page": (0, lambda: ("sheet", "show", sheet(), "--html", f"{EVIL}.html")),
    "sheet new: name of a sheet that is there": (4, lambda: ("sheet", "new", sheet(f"{EVIL}.toml"))),
    "sheet learn: name of a missing table": (4, lambda: ("sheet", "learn", sheet(), f"{EVIL}.csv")),
    "sheet learn: name of the sheet": (
        0, lambda: ("sheet", "learn", sheet(f"{EVIL}.toml"), table(text=ALIKE), "--yes"),
    ),
    "target: name of the file": (0, lambda: ("target", "--out", f"{EVIL}.pdf")),
    "camera learn: name of a photo": (4, lambda: ("camera", "learn", table(f"{EVIL}.jpg"))),
    "camera forget: name of a camera": (4, lambda: ("camera", "forget", EVIL)),
    "desk: name of a missing photo": (4, lambda: ("desk", f"{EVIL}.jpg")),
    "demo: name of the folder": (4, lambda: ("demo", "--out", f"{blank('plain.png')}/{EVIL}")),
    # Sheets.
    "judge: names in a sheet": (3, lambda: ("judge", record(name="ok"), "--sheet", sheet(**ALL_NAMES))),
    "sheet show: names in a sheet": (0, lambda: ("sheet", "show", sheet(**ALL_NAMES))),
    "sheet check: a field of a sheet": (4, lambda: ("sheet", "check", sheet(field=QUOTED))),
    "sheet check: an id of a sheet": (4, lambda: ("sheet", "check", sheet(identity=f"id = {QUOTED}"))),
    "sheet learn: names in a sheet": (
        3, lambda: ("sheet", "learn", sheet(**ALL_NAMES), table(), "--yes"),
    ),
    "span: a sheet's part": (
        2,
        lambda: (
            "span", photo("p.jpg"), SPAN, "--object", f"feature={EVIL}/width", "--at", "9,9 50,50",
            "--sheet", sheet(),
        ),
    ),
    "desk: a field of a sheet": (4, lambda: ("desk", "--no-browser", "--sheet", sheet(field=QUOTED))),
    # Records, tables and the store of cameras.
    "judge: name and remark of a record": (3, lambda: ("judge", record())),
    "judge: a part that a record names": (
        4, lambda: ("judge", record(observations=[{"part": EVIL, "feature": "screws", "value": 4}])),
    ),
    "judge: a field of a record": (4, lambda: ("judge", record(photos=[no_photo(width_px=EVIL)]))),
    "write-up: a part that a record names": (
        4,
        lambda: (
            "write-up", record(observations=[{"part": EVIL, "feature": "screws", "value": 4}]), "--out", "o",
        ),
    ),
    "write-up --verify: a length that a record names": (3, lambda: ("write-up", "--verify", written_up())),
    "write-up: the name of a record in a folder": (
        0, lambda: ("write-up", record(f"{EVIL}.specimen.json", name="a") and ".", "--out", "o"),
    ),
    "sheet learn: a specimen of a table": (3, lambda: ("sheet", "learn", sheet(), table(), "--yes")),
    "sheet learn: a release of a table": (
        4, lambda: ("sheet", "learn", sheet(), table(text=TABLE.replace("first", "Evil\x1b[2J\x9b1m"))),
    ),
    "camera list: name of a camera": (0, lambda: ("camera", "list", camera_named(EVIL) and "--")),
    "span: name of a span": (0, lambda: ("span", photo("p.jpg"), *HELD, "--spans", spans())),
    "desk: a field of a record": (
        4, lambda: ("desk", "--no-browser", "--specimen", record(photos=[no_photo(width_px=EVIL)])),
    ),
    # Words of the command line itself.
    "no such command": (2, lambda: (EVIL,)),
    "no such option": (2, lambda: ("judge", f"--{EVIL}")),
    "a point that is none": (2, lambda: ("span", "p.jpg", EVIL)),
    "a date that is none": (2, lambda: ("write-up", "r.json", "--out", "o", "--date", EVIL)),
    "an address that is none": (4, lambda: ("desk", "--no-browser", "--share", EVIL)),
    "an object that is none": (2, lambda: ("locate", photo("p.jpg"), "--object", EVIL)),
}  # fmt: skip


def written_up() -> str:
    folder = Path("o")
    folder.mkdir()
    record("o/record.specimen.json")
    listed = {"format": "cardspan-write-up/1", "program": "another", "files": {}}
    (folder / "write-up.json").write_text(json.dumps(listed), "utf-8")
    return "o"


def spans() -> str:
    points = PHOTO["spans"][0]["points_px"]
    Path("spans.json").write_text(json.dumps({"spans": [{"name": EVIL, "p_px": points}]}), "utf-8")
    return "spans.json"


@pytest.mark.parametrize("case", CASES)
def test_control_characters_are_shown_and_not_obeyed(ran: Ran, case: str) -> None:
    status, arguments = CASES[case]
    code, out, err = ran(*arguments())
    said = out + err
    assert RAW.findall(said) == []
    assert "Evil" in said
    assert "Traceback" not in said
    assert code == status
    # Nothing of a value begins a line of its own.
    assert not any(line.startswith(r"\x7fend") or line.startswith("end") for line in said.splitlines())


@pytest.mark.parametrize(
    ("text", "shown"),
    [
        ("Bow plate, 160.2 ± 1.5 mm", "Bow plate, 160.2 ± 1.5 mm"),
        ("Größe שלום 船", "Größe שלום 船"),
        ("a\tb\nc\rd", r"a\tb\nc\rd"),
        ("\x00\x1b\x7f\x85\x9b", r"\x00\x1b\x7f\x85\x9b"),
        ("\u202a\u202e\u2066\u2069\u200f\u2028", r"\u202a\u202e\u2066\u2069\u200f\u2028"),
        ("\ud800", r"\ud800"),
        (b"caf\xe9.jpg".decode("utf-8", "surrogateescape"), r"caf\xe9.jpg"),
    ],
)
def test_what_a_terminal_would_obey_or_hide_becomes_its_escape(text: str, shown: str) -> None:
    assert terminal.visible(text) == shown


def test_json_is_pure_and_gives_back_what_the_name_holds(ran: Ran) -> None:
    name = f"{EVIL}\udce9.jpg"
    _, out, _ = ran("locate", photo(name), *HELD, "--json")
    assert RAW.findall(out) == []
    assert json.loads(out)["photo"]["name"] == name


def test_nobody_writes_past_the_guard(capsys: pytest.CaptureFixture[str]) -> None:
    terminal.guard()
    print("a\x1b[2J\nb", file=sys.stderr)
    # The line breaks of a whole text, such as a traceback's, stay.
    assert capsys.readouterr().err == "a\\x1b[2J\nb\n"


def test_colours_of_our_own_pass(capsys: pytest.CaptureFixture[str]) -> None:
    terminal.guard()
    terminal.draw("\x1b[97;40m▄▀\x1b[0m")
    assert capsys.readouterr().out == "\x1b[97;40m▄▀\x1b[0m\n"


def test_a_question_shows_the_names_it_holds() -> None:
    asked = click.Command("asked", callback=lambda: terminal.ask(f"On {EVIL}") and None)
    done = CliRunner().invoke(asked, input="5\n")
    assert done.exit_code == 0
    assert terminal.visible(EVIL) in done.stderr
    assert RAW.findall(done.output) == []


def test_an_answer_in_another_encoding_gives_one_line(monkeypatch: pytest.MonkeyPatch) -> None:
    def no_text(*_: object) -> str:
        return b"caf\xe9".decode("utf-8")

    monkeypatch.setattr("builtins.input", no_text)
    monkeypatch.setattr("click.termui.visible_prompt_func", no_text)
    with pytest.raises(MeasureError, match="not text in utf-8"):
        terminal.ask("What is the toy called?")
