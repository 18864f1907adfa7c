"""Measurements kept in a specimen's record from the command line, and the same again from there."""

import json
from dataclasses import replace
from pathlib import Path

import cv2
import numpy as np
import pytest
from click.testing import CliRunner

from measure.cli import cli
from measure.record.file import read_specimen
from measure.redo.judging import findings_of
from measure.redo.recompute import measured_again
from measure.scale.from_record import scale_of
from tests.synthetic.shapes import View

VIEW = View(tilt_deg=(8.0, -6.0, 5.0), distance_mm=300.0, looked=(60.0, 55.0))


@pytest.fixture(autouse=True)
def own_store(tmp_path, monkeypatch):
    monkeypatch.setenv("CARDSPAN_DATA", str(tmp_path / "data"))


@pytest.fixture(scope="module")
def photo(tmp_path_factory):
    """A bar of 60 x 12 mm."""
    pixels = VIEW.photo(lambda mm: (np.abs(mm[:, 0] - 60) < 30) & (np.abs(mm[:, 1] - 95) < 6)).pixels_bgr
    path = tmp_path_factory.mktemp("photos") / "scene.png"
    cv2.imwrite(str(path), pixels)
    return str(path)


def points(marks_mm):
    return " ".join(f"{x:.1f},{y:.1f}" for x, y in VIEW.see(marks_mm))


CORNERS = points([[0, 0], [85.6, 0], [85.6, 53.98], [0, 53.98]])


def run(*arguments):
    done = CliRunner().invoke(cli, [str(one) for one in arguments])
    assert done.exit_code == 0, done.output
    return done


REST = ("--no-snap", "--json")


@pytest.mark.parametrize(
    "source",
    [
        ("--object", "id1", "--corners", CORNERS),
        ("--object", "id1", "--corners", CORNERS, "--straight", points([[0, 95], [60, 95], [120, 95]])),
        (
            *("--object", "id1", "--corners", CORNERS, "--also"),
            "id1 " + points([[0, 0], [85.6, 0], [85.6, 53.98], [0, 53.98]]),
        ),
        ("--object", "length=60", "--at", points([[30, 95], [90, 95]])),
        (
            *("--object", "feature=paddle-wheel/diameter", "--sheet", "saltmarsh-ferry"),
            *("--at", points([[30, 95], [90, 95]])),
        ),
    ],
    ids=["card", "straight edge", "two cards", "length", "feature"],
)
def test_a_kept_measurement_is_the_same_when_measured_again(photo, tmp_path, source):
    record = tmp_path / "x.specimen.json"
    ends = points([[30, 95], [90, 95]])
    found = json.loads(run("span", photo, ends, *source, *REST, "--specimen", record).stdout)["spans"][0]
    kept = read_specimen(record)
    (entry,) = kept.measurements
    again = measured_again(entry, scale_of(kept.photos[0]), None, kept.photos[0].id)
    assert again is not None
    assert again.value_mm == pytest.approx(found["length_mm"], rel=1e-9)
    assert again.standard_uncertainty_mm == pytest.approx(found["standard_uncertainty_mm"], rel=1e-9)
    assert (tmp_path / kept.photos[0].file).resolve() == Path(photo).resolve()


def test_the_record_keeps_how_well_each_point_is_known_as_json_says_it(photo, tmp_path):
    record = tmp_path / "x.specimen.json"
    ends = points([[30, 95], [90, 95]])
    card = ("--object", "id1", "--corners", CORNERS)
    stated = []
    for more in ((), ("--click-std-px", "2.5")):
        found = run("span", photo, ends, *card, *REST, *more, "--no-snap", "--specimen", record).stdout
        stated.append(json.loads(found)["spans"][0]["click_std_px"])
    kept = read_specimen(record).measurements
    assert [list(one.click_std_px) for one in kept] == stated
    assert stated[1] == [2.5, 2.5]
    assert max(stated[0]) < 2.5


def test_an_older_record_keeps_the_points_as_it_knew_them(photo, tmp_path):
    record = tmp_path / "x.specimen.json"
    card = ("--object", "id1", "--corners", CORNERS)
    run("span", photo, points([[30, 95], [90, 95]]), *card, *REST, "--no-snap", "--specimen", record)
    kept = read_specimen(record)
    scale, (entry,) = scale_of(kept.photos[0]), kept.measurements
    stds = [(1.0, 1.0), (2.0, 2.0), ()]
    one, two, none = (
        measured_again(replace(entry, click_std_px=std), scale, None, kept.photos[0].id) for std in stds
    )
    clicks = [next(line.u_mm for line in each.budget if line.source == "click") for each in (one, two, none)]
    assert clicks[1] == pytest.approx(2.0 * clicks[0])
    assert clicks[2] == clicks[0]


def test_more_measurements_by_the_same_references_join_the_photo(photo, tmp_path):
    record = tmp_path / "x.specimen.json"
    card = ("--object", "id1", "--corners", CORNERS)
    for ends in (points([[30, 95], [90, 95]]), points([[30, 95], [60, 95]])):
        run("span", photo, ends, *card, *REST, "--specimen", record)
    run("span", photo, ends, "--object", "length=60", "--at", ends, *REST, "--specimen", record)
    kept = read_specimen(record)
    assert [one.photo for one in kept.measurements] == ["photo-1", "photo-1", "photo-2"]
    assert [one.id for one in kept.measurements] == ["m1", "m2", "m3"]


def test_a_kept_difference_knows_its_lengths(photo, tmp_path):
    record = tmp_path / "x.specimen.json"
    ends = (points([[30, 95], [90, 95]]), points([[30, 95], [60, 95]]))
    card = ("--object", "id1", "--corners", CORNERS)
    found = json.loads(run("span", photo, *ends, "--difference", *card, *REST, "--specimen", record).stdout)
    last = read_specimen(record).measurements[-1]
    assert last.kind == "difference"
    assert last.extra["of"] == ["m2", "m1"]
    assert last.result.length_mm == found["differences"][0]["length_mm"]


def test_repeats_give_their_mean_and_one_finding(photo, tmp_path):
    record = tmp_path / "x.specimen.json"
    turns = [points([[30 + 0.1 * n, 95], [90, 95.2]]) for n in (-1, 0, 1)]
    place = ("--sheet", "saltmarsh-ferry", "--part", "paddle-wheel", "--feature", "diameter")
    card = ("--object", "id1", "--corners", CORNERS)
    found = json.loads(
        run("span", photo, *turns, "--repeat", *card, *REST, "--specimen", record, *place).stdout
    )
    lengths = [one["length_mm"] for one in found["spans"]]
    assert found["mean"]["length_mm"] == pytest.approx(np.mean(lengths))
    assert found["mean"]["standard_uncertainty_mm"] < found["spans"][0]["standard_uncertainty_mm"]
    (finding,) = findings_of(read_specimen(record))
    assert finding.value == pytest.approx(np.mean(lengths))
    assert finding.standard_uncertainty_mm == pytest.approx(
        found["mean"]["standard_uncertainty_mm"], rel=0.02
    )


def test_repeats_that_contradict_each_other_have_no_mean(photo):
    turns = [points([[30, 95], [90, 95.2]]), points([[30, 95], [72, 95.2]])]
    card = ("--object", "id1", "--corners", CORNERS)
    found = json.loads(run("span", photo, *turns, "--repeat", *card, *REST).stdout)
    assert found["mean"] is None
    assert "contradict each other" in found["reason"]
    text = run("span", photo, *turns, "--repeat", *card, *[r for r in REST if r != "--json"]).stdout
    assert "no mean" in text
    assert "mean of" not in text


def test_a_photo_whose_name_no_record_can_hold_is_refused(photo, tmp_path):
    odd = tmp_path / "bell\x07.png"
    try:
        odd.write_bytes(Path(photo).read_bytes())
    except OSError:
        pytest.skip("this file system takes only names that are text")
    card = ("--object", "id1", "--corners", CORNERS)
    record = str(tmp_path / "x.specimen.json")
    done = CliRunner().invoke(
        cli, ["span", str(odd), points([[30, 95], [90, 95]]), *card, *REST, "--specimen", record]
    )
    assert (
        str(done.exception)
        == "'bell\\x07.png': no record can hold this file name; rename the photo or its folder"
    )
    assert [one.name for one in tmp_path.iterdir()] == [odd.name]


def test_a_part_without_a_record_is_wrong_usage(photo):
    done = CliRunner().invoke(cli, ["span", str(photo), "1,1 2,2", "--part", "bow-plate"])
    assert done.exit_code == 2
    assert "--specimen" in done.output
