"""The command line's kinds, sources and camera profiles, through its runner."""

import json
from pathlib import Path

import cv2
import numpy as np
import pytest
from click.testing import CliRunner

from calibration.lens_profiles.boards import BoardView
from calibration.lens_profiles.calibrate import learn_profile
from measure.cameras.store import read_store, save_profile
from measure.cli import cli
from tests.synthetic.from_above import sources_photo
from tests.synthetic.shapes import View

VIEW = View(tilt_deg=(8.0, -6.0, 5.0), distance_mm=300.0, looked=(60.0, 55.0))


@pytest.fixture(autouse=True)
def own_store(tmp_path, monkeypatch):
    monkeypatch.setenv("CARDSPAN_DATA", str(tmp_path / "data"))


@pytest.fixture(scope="module")
def photo(tmp_path_factory):
    """A disc of 30 mm and a bar of 60 x 12 mm."""

    def inside(mm):
        bar = (np.abs(mm[:, 0] - 60) < 30) & (np.abs(mm[:, 1] - 95) < 6)
        return (np.linalg.norm(mm - [60, 40], axis=1) < 15) | bar

    path = tmp_path_factory.mktemp("photos") / "scene.png"
    cv2.imwrite(str(path), VIEW.photo(inside).pixels_bgr)
    return str(path)


def points(marks_mm):
    return " ".join(f"{x:.1f},{y:.1f}" for x, y in VIEW.see(marks_mm))


CORNERS = points([[0, 0], [85.6, 0], [85.6, 53.98], [0, 53.98]])


def run(*arguments, code=0):
    done = CliRunner().invoke(cli, list(arguments))
    assert done.exit_code == code, done.output
    return done


def test_a_round_on_the_command_line(photo):
    marks = points([[75, 40], [45, 40], [60, 55]])
    done = run("span", photo, "--kind", "round", marks, "--corners", CORNERS, "--object", "id1", "--json")
    found = json.loads(done.stdout)["spans"][0]
    assert found["kind"] == "round"
    assert abs(found["length_mm"] - 30.0) < found["expanded_uncertainty_mm"]


def test_a_gap_and_the_difference_of_two(photo):
    gap = points([[50, 89], [50, 101]])
    done = run("span", photo, "--kind", "gap", gap, gap, "--difference", "--corners", CORNERS, "--json")
    found = json.loads(done.stdout)
    assert found["spans"][0]["length_mm"] == pytest.approx(12.0, abs=0.3)
    assert found["differences"][0]["length_mm"] == pytest.approx(0.0, abs=1e-6)


def test_a_tip_that_cannot_be_told_says_why_and_exits_3(photo):
    marks = points([[5, 5], [15, 5], [20, 12], [20, 20]])
    done = run("span", photo, "--kind", "tip", marks, "--corners", CORNERS, "--json", code=3)
    assert "edge" in json.loads(done.stdout)["spans"][0]["cannot_tell"]


def test_a_coin_of_the_discs_size_gives_the_bar(photo):
    done = run(
        "span",
        photo,
        points([[30, 95], [90, 95]]),
        "--object",
        "us-half",
        "--at",
        points([[60, 40]]),
        "--json",
    )
    found = json.loads(done.stdout)
    assert found["object"]["kind"] == "us-half"
    span = found["spans"][0]
    # The disc is 30.000 mm, the coin 30.607.
    assert span["length_mm"] == pytest.approx(60.0 * 30.607 / 30.0, rel=0.02)
    assert any("tilt" in line["source"] for line in span["budget"])


def test_a_known_length_gives_scale(photo):
    ends = points([[30, 95], [90, 95]])
    done = run("span", photo, ends, "--object", "length=60±0.2", "--at", ends, "--json")
    assert json.loads(done.stdout)["spans"][0]["length_mm"] == pytest.approx(60.0, abs=0.4)


@pytest.mark.parametrize("kind", ["us-quarter", "rule-mm", "length=50"])
def test_a_source_without_its_marks_asks_for_them(photo, kind):
    done = run("locate", photo, "--object", kind, code=1)
    assert "--at" in str(done.exception)


def test_the_target_is_written(tmp_path):
    out = tmp_path / "t.pdf"
    run("target", "--paper", "letter", "--out", str(out))
    assert out.read_bytes().startswith(b"%PDF")


# --------------------------------------------------------------------------------------------- cameras

K = np.array([[1500.0, 0, 660], [0, 1500.0, 440], [0, 0, 1]])
LENS = np.array([-0.12, 0.05, 0.001, -0.0008, 0.0])


def board_views(count=12, *, reach=1.0, lean=0.5, distance=520.0):
    """Views of a 14 x 10 board of 20 mm whose corners carry 0.1 px of noise."""
    rng = np.random.default_rng(4)
    x, y = np.meshgrid(np.arange(14) * 20.0, np.arange(10) * 20.0)
    flat = np.column_stack([x.ravel(), y.ravel()])
    views = []
    for index in range(count):
        angle = index * 2.4
        turn = lean * np.array([np.cos(angle), np.sin(angle), 0.3])
        R = cv2.Rodrigues(turn)[0]
        side = reach * np.array([[-1, -1], [1, -1], [-1, 1], [1, 1]][index % 4]) * [95, 60]
        move = np.array([*side, distance]) - R @ [130.0, 90.0, 0]
        seen, _ = cv2.projectPoints(np.column_stack([flat, 0 * flat[:, 0]]), turn, move, K, LENS)
        seen = np.asarray(seen).reshape(-1, 2) + rng.normal(0, 0.1, (len(flat), 2))
        inside = np.all((seen > 2) & (seen < [1317, 877]), axis=1)
        views.append(BoardView(f"board-{index}.jpg", flat[inside], seen[inside]))
    return views


def test_a_camera_is_learnt_kept_listed_and_forgotten():
    profile = learn_profile(board_views(), 1320, 880)
    assert profile.focal_px == pytest.approx(1500.0, abs=4 * profile.focal_std_px + 0.5)
    assert profile.rms_px == pytest.approx(0.14, abs=0.02)
    # What counts of a lens is where it puts things, not its coefficients.
    corner = np.array([[30.0, 30.0], [1290.0, 850.0], [660.0, 60.0]])
    true = cv2.undistortPoints(corner.reshape(-1, 1, 2), K, LENS).reshape(-1, 2)
    assert profile.camera().normalise(corner) == pytest.approx(true, abs=1e-3)
    path = save_profile("Bench camera", profile)
    assert read_store(path)["Bench camera"].camera() == profile.camera()
    assert "Bench camera" in run("camera", "list").output
    run("camera", "forget", "Bench camera")
    assert read_store(path) == {}


def test_a_profile_turns_with_the_photo():
    """A ray looks the same way whether the picture was stored upright or turned by Exif."""
    from calibration.lens_profiles.profile import as_stored

    profile = learn_profile(board_views(), 1320, 880)
    for orientation, size in ((6, (880, 1320)), (3, (1320, 880)), (8, (880, 1320))):
        upright = np.array([[100.0, 200.0], [700.0, 640.0]])
        stored = as_stored(upright, *size, orientation)
        rays, turned = profile.camera().normalise(stored), profile.camera(orientation).normalise(upright)
        back = {6: turned @ [[0, -1], [1, 0]], 3: -turned, 8: turned @ [[0, 1], [-1, 0]]}[orientation]
        assert back == pytest.approx(rays, abs=1e-9)


@pytest.mark.parametrize(
    ("how", "advice"),
    [
        ({"count": 5}, "add 3"),
        ({"reach": 0.0, "distance": 900.0}, "corner of the frame"),
        ({"lean": 0.01}, "tilted"),
    ],
)
def test_a_poor_set_is_refused_with_what_to_add(how, advice):
    from calibration.errors import ProfileError

    with pytest.raises(ProfileError, match=advice):
        learn_profile(board_views(**how), 1320, 880)


def test_photos_without_a_board_are_no_basis(photo):
    done = run("camera", "learn", photo, "--name", "x", code=1)
    assert "at least 8" in str(done.exception)


def test_a_broken_store_is_refused_in_one_line(tmp_path, photo):
    folder = tmp_path / "data"
    folder.mkdir()
    (folder / "cameras.json").write_text(
        '{"format": "cardspan-cameras/1", "cameras": {"a": {"focal_px": -1}}}'
    )
    done = run("camera", "list", code=1)
    assert "cameras.a" in str(done.exception)


def test_a_coin_beside_a_rule_takes_back_what_the_rule_says_of_the_tilt(tmp_path):
    path = tmp_path / "things.jpg"
    sources_photo(path)
    rule = ("locate", str(path), "--object", "rule-mm", "--at", "261.7,441 741.4,441")
    alone, both = run(*rule).stdout, run(*rule, "--also", "us-quarter 429,235").stdout
    assert "A rule tells no tilt" in alone
    assert "A rule tells no tilt" not in both
    assert "together with US quarter: all in one fit" in both


def test_an_unknown_profile_is_refused(photo):
    done = run("locate", photo, "--camera", "nobody", code=1)
    assert "nobody" in str(done.exception)


def test_a_second_card_by_its_corners_is_combined(photo):
    ends = points([[30, 95], [90, 95]])
    second = points([[0, 0], [85.6, 0], [85.6, 53.98], [0, 53.98]])
    plain = ("span", photo, ends, "--object", "id1", "--corners", CORNERS, "--json")
    alone = json.loads(run(*plain).stdout)["spans"][0]
    both = json.loads(run(*plain, "--also", f"id1 {second}").stdout)["spans"][0]
    assert both["length_mm"] == pytest.approx(60.0, abs=0.5)
    assert both["standard_uncertainty_mm"] < alone["standard_uncertainty_mm"]


def test_a_coin_beside_the_card_makes_a_length_no_worse_known(tmp_path):
    """A quarter 24.257 mm across, whose face lies 0.99 mm above the card's."""
    path = tmp_path / "coin.png"
    shown = VIEW.photo(lambda mm: np.linalg.norm(mm - [110, 20], axis=1) < 24.257 / 2, height_mm=0.99)
    cv2.imwrite(str(path), shown.pixels_bgr)
    plain = ("span", str(path), points([[100, 60], [100, 110]]), "--no-snap")
    plain += ("--object", "id1", "--corners", CORNERS, "--json")
    alone = json.loads(run(*plain).stdout)["spans"][0]
    done = json.loads(run(*plain, "--also", f"us-quarter {points([[110, 20]])}").stdout)
    both = done["spans"][0]
    assert not any("contradict" in text for text in done["cautions"])
    assert done["beside"] == ["US quarter"]
    assert both["expanded_uncertainty_mm"] <= alone["expanded_uncertainty_mm"]
    assert both["length_mm"] == pytest.approx(50.0, abs=both["expanded_uncertainty_mm"])


def test_a_feature_that_all_releases_share_gives_scale(photo):
    """The sample sheet's paddle wheel is 61.4 to 62.6 mm in every release; the bar stands in for it."""
    ends = points([[30, 95], [90, 95]])
    wheel = ("--object", "feature=paddle-wheel/diameter", "--sheet", "saltmarsh-ferry", "--at", ends)
    found = json.loads(run("span", photo, ends, *wheel, "--json").stdout)["spans"][0]
    assert found["length_mm"] == pytest.approx(62.0, abs=0.3)
    assert found["standard_uncertainty_mm"] > 1.2 / 12**0.5 * 0.95


def test_a_feature_that_tells_releases_apart_gives_no_scale(photo):
    plate = ("--object", "feature=bow-plate/width", "--sheet", "saltmarsh-ferry", "--at", "10,10 50,50")
    done = run("span", photo, "10,10 50,50", *plate, code=1)
    assert "over the releases" in str(done.exception)


def test_a_tip_whose_rounding_lies_outside_what_is_looked_at_is_told_in_a_sentence():
    photo = Path(__file__).parents[3] / "sample_images" / "mixed-bow.jpg"
    marks = "734,979 1469,979 1714,979 1714,2611"
    length = ("--object", "length=100", "--at", "979,1306 1469,1958")
    done = run("span", str(photo), "--kind", "tip", marks, *length, code=3)
    assert "cannot tell: no corner shows" in done.output
