"""Damaged photos on the command line: refused, or measured with a caution."""

import json
from pathlib import Path

import cv2
import numpy as np
import pytest
from click.testing import CliRunner

from measure.cameras.learning import learn_from_photos
from measure.cli import cli
from tests.synthetic.from_above import left_over, plain_photo


def spoilt(folder: Path, *, card: bool = True) -> str:
    path = plain_photo(folder / "spoilt.jpg", card=card)
    path.write_bytes(left_over(path.read_bytes()))
    return str(path)


@pytest.mark.parametrize("arguments", [(), ("--object", "length=100", "--at", "300,640 800,640")])
def test_a_damaged_photo_is_measured_with_a_caution(tmp_path: Path, arguments: tuple[str, ...]) -> None:
    done = CliRunner().invoke(cli, ["locate", spoilt(tmp_path), *arguments, "--json"])
    assert done.exit_code == 0
    assert "file is damaged" in json.loads(done.stdout)["cautions"][0]
    assert "Caution: The photo's file is damaged" in done.stderr


def test_a_damaged_photo_without_a_card_says_so_too(tmp_path: Path) -> None:
    done = CliRunner().invoke(cli, ["locate", spoilt(tmp_path, card=False)])
    assert done.exit_code == 3
    assert "Caution: The photo's file is damaged" in done.output


def test_a_damaged_png_is_refused_in_one_line(tmp_path: Path) -> None:
    data = bytearray(cv2.imencode(".png", np.full((200, 300, 3), 90, np.uint8))[1].tobytes())
    data[len(data) // 2] ^= 1
    path = tmp_path / "toy.png"
    path.write_bytes(data)
    done = CliRunner().invoke(cli, ["locate", str(path)])
    assert type(done.exception).__name__ == "PhotoError"
    assert "the photo is damaged or cut short" in str(done.exception)


def test_no_camera_is_learnt_from_a_damaged_photo(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("calibration.lens_profiles.learn_profile", lambda views, *size: len(views))
    learnt = learn_from_photos([spoilt(tmp_path)], name="bench camera")
    assert learnt.profile == 0
    assert "spoilt.jpg: The photo's file is damaged" in learnt.unused[0]
