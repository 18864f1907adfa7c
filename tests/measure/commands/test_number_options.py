"""Numbers and names among the options: what is no number or no part is a sentence, and nothing is kept."""

import json
from collections.abc import Iterator
from pathlib import Path

import click
import pytest
from click.testing import CliRunner, Result

from measure.cli import COMMANDS, cli
from measure.commands.common import exit_status
from measure.commands.options import Number
from measure.demo.samples import read_register, samples_folder

SHOT = next(photo for photo in read_register(samples_folder())["photos"] if photo["id"] == "mixed-bow")
PHOTO = str(samples_folder() / SHOT["file"])
SPAN = " ".join(f"{x},{y}" for x, y in SHOT["spans"][0]["points_px"])
CARD = (
    "--object",
    SHOT["card"]["kind"],
    "--corners",
    " ".join(f"{x},{y}" for x, y in SHOT["card"]["corners_px"]),
)


def run(*arguments: str) -> Result:
    return CliRunner().invoke(cli, list(arguments))


def options(command: click.Command, name: str) -> Iterator[tuple[str, click.Option]]:
    if isinstance(command, click.Group):
        for key, one in command.commands.items():
            yield from options(one, f"{name} {key}")
    for one in command.params:
        if isinstance(one, click.Option):
            yield name, one


EVERY = [
    pair
    for name in COMMANDS
    for pair in options(cli.get_command(click.Context(cli), name) or click.Command(name), name)
]
NUMBERS = [(name, one) for name, one in EVERY if isinstance(one.type, Number)]


def test_every_number_among_the_options_goes_by_one_type() -> None:
    others = (click.types.FloatParamType, click.types.IntParamType)
    bare = [(name, one.name) for name, one in EVERY if isinstance(one.type, others)]
    assert [pair for pair in bare if pair not in [(name, one.name) for name, one in NUMBERS]] == [
        # Whole numbers within bounds, by click's own type.
        ("locate", "pick"),
        ("span", "pick"),
        ("desk", "port"),
    ]
    assert len(NUMBERS) >= 8


@pytest.mark.parametrize("given", ["nan", "inf", "-inf", "1e400", "9" * 400, "-1e300", "1e300", "x", ""])
@pytest.mark.parametrize(("name", "option"), NUMBERS, ids=lambda one: getattr(one, "name", one))
def test_a_number_that_is_none_is_wrong_usage(name: str, option: click.Option, given: str) -> None:
    done = run(*name.split(), f"{option.opts[0]}={given}", "a", "b")
    assert done.exit_code == 2
    assert "is not a number" in done.output
    assert option.opts[0] in done.output


@pytest.mark.parametrize("given", ["²x9", "9x" + "9" * 5000, "9x2"])
def test_a_chessboard_that_is_none_is_wrong_usage(given: str) -> None:
    done = run("camera", "learn", "a.jpg", "--chessboard", given)
    assert done.exit_code == 2
    assert "such as 9x6" in done.output


@pytest.mark.parametrize(
    "key", ["length=50±" + "9" * 400, "length=50±51", "length=" + "9" * 400, "9" * 400 + "x5"]
)
def test_a_known_length_or_size_that_is_none_is_wrong_usage(key: str) -> None:
    done = run("locate", PHOTO, "--object", key, "--at", SPAN)
    assert "from 1 to 5000 mm" in str(done.exception)
    assert exit_status(done.exception) == 2


def kept(tmp_path: Path, *arguments: str) -> tuple[Result, Path]:
    record = tmp_path / "toy.specimen.json"
    done = run(
        "span", PHOTO, SPAN, *CARD, "--specimen", str(record), "--sheet", "saltmarsh-ferry", *arguments
    )
    return done, record


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (("--part", "nope"), "its parts are bow-plate, wheelhouse"),
        (("--part", "nope", "--feature", "width"), "its parts are bow-plate, wheelhouse"),
        (("--part", "bow-plate", "--feature", "nope"), "its dimensions are width, depth"),
        (("--part", "deck-rail", "--feature", "posts"), "its dimensions are none"),
        (("--feature", "width"), "of which part?"),
    ],
)
def test_a_part_or_feature_that_the_sheet_lacks_is_wrong_usage_and_nothing_is_kept(
    tmp_path: Path, arguments: tuple[str, ...], said: str
) -> None:
    done, record = kept(tmp_path, *arguments)
    assert said in str(done.exception)
    assert exit_status(done.exception) == 2
    assert not record.exists()


def test_the_parts_of_the_record_s_own_sheet_count_and_it_stays_as_it_was(tmp_path: Path) -> None:
    done, record = kept(tmp_path, "--part", "bow-plate", "--feature", "width")
    assert done.exit_code == 0, done.exception
    before = record.read_bytes()
    again = run("span", PHOTO, SPAN, *CARD, "--specimen", str(record), "--part", "nope")
    assert "its parts are bow-plate" in str(again.exception)
    assert record.read_bytes() == before


def test_a_file_of_spans_that_names_no_part_of_the_sheet_is_unusable(tmp_path: Path) -> None:
    spans = tmp_path / "spans.json"
    points = [list(point) for point in SHOT["spans"][0]["points_px"]]
    spans.write_text(json.dumps({"spans": [{"name": "Bow", "p_px": points, "part": "nope"}]}))
    done, record = kept(tmp_path, "--spans", str(spans))
    assert "Bow: sheet saltmarsh-ferry has no part" in str(done.exception)
    assert exit_status(done.exception) == 4
    assert not record.exists()
