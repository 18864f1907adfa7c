"""The command line as other programs use it: JSON, exit status, and one line for what is wrong."""

import json
import re
import sys
from collections.abc import Callable
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from click.testing import CliRunner, Result

import references
from measure.cli import cli, main
from measure.demo.samples import read_register, samples_folder

FOLDER = samples_folder()
SHOT = next(photo for photo in read_register(FOLDER)["photos"] if photo["id"] == "mixed-house")
PHOTO = str(FOLDER / SHOT["file"])
SHEET = str(Path(references.__file__).parent / "sheets" / "saltmarsh-ferry.toml")
SPAN = " ".join(f"{x},{y}" for x, y in SHOT["spans"][0]["points_px"])
HEIGHT = str(SHOT["spans"][0]["true_standoff_mm"][0])


def run(*arguments: str) -> Result:
    return CliRunner().invoke(cli, list(arguments))


@cache
def located() -> dict[str, Any]:
    return dict(json.loads(run("locate", PHOTO, "--json").stdout))


Failed = Callable[..., tuple[int, str]]


@pytest.fixture
def failed(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Failed:
    """Run the program's entry point and return exit status and standard error."""

    def run_main(*arguments: str) -> tuple[int, str]:
        monkeypatch.setattr(sys, "argv", ["cardspan", *arguments])
        with pytest.raises(SystemExit) as ended:
            main()
        return int(ended.value.code or 0), capsys.readouterr().err.strip()

    return run_main


def test_locate_finds_the_corners_that_the_renderer_knows() -> None:
    corners = np.array(located()["object"]["corners_px"])
    truth = np.array(SHOT["card"]["corners_px"])
    misses = [np.abs(np.roll(corners, turn, axis=0) - truth).max() for turn in range(4)]
    assert min(misses) < 1.0


WITH_CARD = [photo for photo in read_register(FOLDER)["photos"] if photo["card"]]


@pytest.mark.parametrize("shot", WITH_CARD, ids=lambda shot: shot["id"])
def test_each_sample_card_is_found_within_a_pixel(shot: dict[str, Any]) -> None:
    done = run("locate", str(FOLDER / shot["file"]), "--object", shot["card"]["kind"], "--json")
    corners = np.array(json.loads(done.stdout)["object"]["corners_px"])
    truth = np.array(shot["card"]["corners_px"])
    assert min(np.abs(np.roll(corners, turn, axis=0) - truth).max() for turn in range(4)) < 1.0


def test_locate_gives_the_agreed_fields() -> None:
    found = located()
    assert {"width_px", "height_px", "focal_px", "focal_source"} <= found["photo"].keys()
    wanted = {"kind", "width_mm", "height_mm", "corners_px", "corner_std_px", "confidence"}
    assert wanted <= found["object"].keys()
    plane = found["plane"]
    for value, std in (
        ("tilt_deg", "tilt_std_deg"),
        ("distance_mm", "distance_std_mm"),
        ("mm_per_px_at_object", "mm_per_px_std"),
    ):
        assert 0.0 < plane[std] < plane[value]
    assert found["reason"] is None
    assert found["object"]["kind"] == SHOT["card"]["kind"]


def test_locate_tells_people_each_figure_of_the_view_with_its_uncertainty() -> None:
    told = run("locate", PHOTO).stdout
    number = r"[\d.]+ ± [\d.]+"
    assert re.search(rf"tilt {number}°, camera {number} mm above it, {number} mm per pixel at the card", told)


def test_a_span_agrees_with_the_truth_within_its_own_uncertainty() -> None:
    done = run("span", PHOTO, SPAN, "--standoff-mm", HEIGHT, "--standoff-std-mm", "0.5", "--json")
    span = json.loads(done.stdout)["spans"][0]
    assert abs(span["length_mm"] - SHOT["spans"][0]["true_mm"]) < span["expanded_uncertainty_mm"]
    total = sum(line["u_mm"] ** 2 for line in span["budget"]) ** 0.5
    assert total == pytest.approx(span["standard_uncertainty_mm"], rel=1e-6)
    assert span["expanded_uncertainty_mm"] == pytest.approx(
        span["coverage_factor"] * span["standard_uncertainty_mm"], rel=1e-6
    )


def test_spans_come_from_a_file_with_a_stand_off_for_each_end(tmp_path: Path) -> None:
    spans = {
        "spans": [
            {
                "name": "plate",
                "p_px": SHOT["spans"][0]["points_px"],
                "standoff_mm": [14.0, 14.0],
                "standoff_std_mm": 0.5,
            }
        ]
    }
    path = tmp_path / "spans.json"
    path.write_text(json.dumps(spans))
    span = json.loads(run("span", PHOTO, "--spans", str(path), "--no-snap", "--json").stdout)["spans"][0]
    assert span["name"] == "plate"
    assert span["standoff_mm"] == [14.0, 14.0]


def test_corners_by_hand_take_the_place_of_the_search() -> None:
    corners = " ".join(f"{x:.1f},{y:.1f}" for x, y in SHOT["card"]["corners_px"])
    done = run("locate", PHOTO, "--corners", corners, "--object", SHOT["card"]["kind"], "--json")
    assert json.loads(done.stdout)["plane"]["tilt_deg"] == pytest.approx(
        located()["plane"]["tilt_deg"], abs=1.0
    )


def test_a_straight_edge_marked_narrows_what_the_lens_may_do() -> None:
    (x0, y0), (x1, y1) = SHOT["card"]["corners_px"][:2]
    corners = " ".join(f"{x:.1f},{y:.1f}" for x, y in SHOT["card"]["corners_px"])
    edge = f"{x0},{y0} {(x0 + x1) / 2},{(y0 + y1) / 2} {x1},{y1}"
    common = (
        "span",
        PHOTO,
        SPAN,
        "--corners",
        corners,
        "--object",
        SHOT["card"]["kind"],
        "--no-snap",
        "--json",
    )

    def of_the_lens(*more: str) -> float:
        budget = json.loads(run(*common, *more).stdout)["spans"][0]["budget"]
        return float(sum(line["u_mm"] for line in budget if line["source"] == "lens distortion"))

    assert 0 < of_the_lens("--straight", edge) <= of_the_lens()


def test_messages_go_to_standard_error_beside_json() -> None:
    done = run("locate", PHOTO, "--json")
    assert "Reference:" in done.stderr
    json.loads(done.stdout)


def test_a_picture_of_the_outline_is_drawn(tmp_path: Path) -> None:
    path = tmp_path / "outline.png"
    run("locate", PHOTO, "--picture", str(path))
    assert path.read_bytes().startswith(b"\x89PNG")


@pytest.mark.parametrize(
    ("arguments", "status", "said"),
    [
        (("locate", "missing.jpg"), 4, "missing.jpg: no such file"),
        (("locate", PHOTO, "--object", "poster"), 2, "no reference object 'poster'"),
        (("locate", PHOTO, "--corners", "1,2 3,4"), 2, "4 points needed as x,y with spaces between, 2 given"),
        (("locate", PHOTO, "--corners", "1,2 3,4 a,b 1,1"), 2, "'a,b' is not a point"),
        (("locate", PHOTO, "--straight", "1,2 3,4"), 2, "three points or more"),
        (("span", PHOTO), 2, "no span given"),
        (("span", PHOTO, "1,2"), 2, "2 points needed as x,y with spaces between, 1 given"),
        (("span", PHOTO, "1,2 99999,3"), 2, "is outside the photo"),
        (("span", PHOTO, "1,2 nan,3"), 2, "is not a point"),
        (("span", PHOTO, "9,9 400,500", "--standoff-mm", "inf"), 2, "is not a number of mm from -100000"),
        (("span", PHOTO, "9,9 400,500", "--standoff-mm", "9000"), 2, "reaches the camera"),
        (("sheet", "show", "nosuch"), 4, "the key of one that comes along: saltmarsh-ferry"),
        (("span", PHOTO, "--spans", "missing.json"), 4, "missing.json: can't be read"),
        (("judge", "missing.json"), 4, "missing.json: no such file"),
        (("judge", SHEET), 4, "this is no specimen record; give a *.specimen.json file"),
        (("target", "--out", "target.png"), 2, "give one that ends in .pdf"),
        (("locate", PHOTO, "--picture", "outline.gif"), 2, "give one that ends in .png"),
        (("locate", PHOTO, "--object", "poster"), 2, "a coin such as us-quarter"),
        (("weigh",), 2, "No such command"),
        (("locate", PHOTO, "--corners", "0,0 99999,0 99999,9999 0,9999"), 2, "is outside the photo"),
        (("locate", PHOTO, "--object", "us-quarter", "--at", "99999,9"), 2, "is outside the photo"),
        (
            ("locate", PHOTO, "--object", "us-quarter"),
            2,
            "three on its rim, which can't be found without its points: add --at",
        ),
        (("locate", PHOTO, "--object", "length=50", "--at", "9,9 9,9"), 2, "mark two different points"),
        (("span", PHOTO, "-50,2 100,3"), 2, "a point begins with a minus"),
        (("span", PHOTO, "9,9 400,500", "--standoff-mm", "-9999"), 2, "negative below it"),
        (("span", PHOTO, "9,9 400,500", "--standoff-std-mm", "inf"), 2, "a number of mm from 0 to"),
        (("span", PHOTO, "9,9 400,500", "--specimen", "ferry.png"), 2, "give one that ends in .json"),
        (("sheet", "new", "ferry.json"), 2, "give one that ends in .toml"),
        (("sheet", "show", "saltmarsh-ferry", "--html", "ferry.pdf"), 2, "give one that ends in .html"),
        (("write-up", "--verify", PHOTO), 4, "expected the folder of a write-up"),
    ],
)
def test_wrong_input_gives_one_line_and_its_status(
    failed: Failed, arguments: tuple[str, ...], status: int, said: str
) -> None:
    code, message = failed(*arguments)
    assert code == status
    assert said in message
    assert "Traceback" not in message


@pytest.mark.slow
def test_a_photo_without_a_card_says_why_and_what_to_do(failed: Failed) -> None:
    code, message = failed("locate", str(FOLDER / "no-card.jpg"), "--json")
    assert code == 3
    assert "No reference found" in message


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("[]", "spans: expected a list"),
        ('{"spans": [3]}', r"spans[0]: expected an object"),
        ('{"spans": [{"p_px": [[1, 2]]}]}', "spans[0].p_px: expected two points"),
        ('{"spans": [{"p_px": [[1, 2], [3, "x"]]}]}', "spans[0].p_px[1][1]: expected a number"),
        ('{"spans": [{"p_px": [[1, 2], [3, 4]], "standoff_std_mm": -1}]}', "not negative"),
        ("{", "not valid JSON"),
    ],
)
def test_a_wrong_file_of_spans_is_named_by_field(
    failed: Failed, tmp_path: Path, text: str, said: str
) -> None:
    path = tmp_path / "spans.json"
    path.write_text(text)
    code, message = failed("span", PHOTO, "--spans", str(path))
    assert code == 4
    assert said in message
    assert len(message.splitlines()) == 1


@pytest.mark.parametrize("command", ["locate", "span", "judge", "write-up", "desk"])
def test_the_files_that_examples_start_from_are_those_of_the_demo(command: str) -> None:
    register = read_register(FOLDER)
    brought = {photo["file"] for photo in register["photos"]}
    brought |= {f"{specimen['id']}.specimen.json" for specimen in register["specimens"]}
    named = set(re.findall(r"cardspan-demo/(\S+)", run(command, "--help").stdout))
    assert named
    assert named <= brought
