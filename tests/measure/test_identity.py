"""An outline that may be something else: told by the commands, in the record, and in the write-up."""

import json
from dataclasses import replace
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from measure.cli import cli
from measure.record.file import parse_specimen, read_specimen, specimen_to_json, write_specimen
from measure.record.specimen import PhotoEntry, Specimen
from measure.scale.from_record import scale_of
from measure.wording import Audience, all_worded
from measure.writeup.evidence_sheet import evidence_sheet
from measure.writeup.gather.gathering import gather
from measure.writeup.listing import long_listing, short_listing
from measure.writeup.pages.text import markdown
from tests.synthetic.from_above import BRIDGE, bar_ends, plain_photo

DOUBT, NAMED, CHANGE = "may be something else", "bridge playing card, 57.2 x 88.9 mm", "4.9 % longer"
SPAN = " ".join(f"{x},{y}" for x, y in bar_ends())


def run(*arguments: str) -> Result:
    return CliRunner().invoke(cli, list(arguments))


def told_by(shot: PhotoEntry) -> tuple[str, ...]:
    """Return the cautions of a photo's scale in words."""
    return all_worded(scale_of(shot).cautions, Audience.BUYER)


@pytest.fixture(scope="module")
def bridge(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A photo of a playing card, which is taken for a bank card."""
    return plain_photo(tmp_path_factory.mktemp("bridge") / "bridge.jpg", box=BRIDGE)


@pytest.fixture(scope="module")
def record(bridge: Path) -> Path:
    """Its record, with one length, of a program that took it for a bank card without asking."""
    path = bridge.parent / "toy.specimen.json"
    told = run("span", str(bridge), SPAN, "--object", "id1", "--specimen", str(path))
    assert told.exit_code == 0
    specimen = read_specimen(path)
    (shot,) = specimen.photos
    assert shot.reference is not None
    write_specimen(
        path, replace(specimen, photos=(replace(shot, reference=replace(shot.reference, said=False)),))
    )
    return path


@pytest.mark.parametrize("more", [("locate",), ("span", SPAN)])
def test_what_is_more_likely_something_else_is_not_measured_by_until_someone_says_what_it_is(
    bridge: Path, more: tuple[str, ...]
) -> None:
    command, *points = more
    told = run(command, str(bridge), *points)
    assert told.exit_code == 3
    assert "more likely something else" in told.output
    assert NAMED in told.output
    assert CHANGE in told.output
    assert "--object id1, or bridge" in told.output


@pytest.mark.parametrize("more", [("locate",), ("span", SPAN)])
def test_the_json_has_each_rival_with_its_probability_and_factor(bridge: Path, more: tuple[str, ...]) -> None:
    command, *points = more
    told = run(command, str(bridge), *points, "--json")
    found = json.loads(told.stdout)
    assert found["plane"] is None
    first = found["candidates"][0]["rivals"][0]
    assert first["kind"] == "bridge"
    assert 0.2 < first["probability"] < 1.0
    assert first["scale_factor"] == pytest.approx(1.04857, abs=1e-4)


@pytest.mark.parametrize("more", [("locate",), ("span", SPAN)])
def test_picking_an_outline_says_nothing_of_what_it_is(bridge: Path, more: tuple[str, ...]) -> None:
    command, *points = more
    assert run(command, str(bridge), *points, "--pick", "1").exit_code == 3
    assert run(command, str(bridge), *points, "--pick", "1", "--object", "bridge").exit_code == 0


def test_naming_what_it_is_settles_it(bridge: Path) -> None:
    found = json.loads(run("locate", str(bridge), "--object", "bridge", "--json").stdout)
    assert found["object"]["kind"] == "bridge"
    assert not any(DOUBT in text for text in found["cautions"])


def test_naming_what_it_is_not_is_told(bridge: Path) -> None:
    found = json.loads(run("locate", str(bridge), "--object", "id1", "--json").stdout)
    assert any("said to be a bank card" in text and NAMED in text for text in found["cautions"])


def test_a_bank_card_is_measured_by_with_what_else_it_may_be_if_that_is_above_one_percent(
    tmp_path: Path,
) -> None:
    found = json.loads(run("locate", str(plain_photo(tmp_path / "plain.jpg")), "--json").stdout)
    assert found["object"]["kind"] == "id1"
    others = sum(one["probability"] for one in found["object"]["rivals"])
    assert others < 0.1
    assert any(DOUBT in text for text in found["cautions"]) == (others >= 0.01)


def test_the_record_keeps_that_nobody_said_and_tells_it_without_the_photo(record: Path) -> None:
    (shot,) = read_specimen(record).photos
    assert shot.reference is not None
    assert not shot.reference.said
    assert any(NAMED in text for text in told_by(shot))


def said(record: Path) -> Specimen:
    specimen = read_specimen(record)
    (shot,) = specimen.photos
    assert shot.reference is not None
    bridge = replace(shot.reference, kind="bridge", width_mm=88.9, height_mm=57.15, said=True)
    return replace(specimen, photos=(replace(shot, reference=bridge),))


def test_what_a_person_said_survives_the_record(record: Path) -> None:
    again = parse_specimen(json.loads(json.dumps(specimen_to_json(said(record)))))
    assert again == said(record)
    assert not any(DOUBT in text for text in told_by(again.photos[0]))


def test_a_record_of_an_older_program_is_asked_about(record: Path) -> None:
    data = json.loads(record.read_text("utf-8"))
    for name in ("said", "radii"):
        data["photos"][0]["reference"].pop(name)
    shot = parse_specimen(data).photos[0]
    assert any(DOUBT in text for text in told_by(shot))


@pytest.mark.filterwarnings("default::DeprecationWarning")
def test_the_write_up_tells_it_until_a_person_said_what_it_is(record: Path, tmp_path: Path) -> None:
    def texts(path: Path) -> list[str]:
        evidence = gather(path, photos=record.parent).evidence
        sheet = evidence_sheet(evidence, (), (), ())
        return [markdown(each) for each in (sheet.blocks, short_listing(evidence), long_listing(evidence))]

    assert all(NAMED in text and CHANGE in text for text in texts(record))
    settled = tmp_path / "toy.specimen.json"
    write_specimen(settled, said(record))
    assert not any(DOUBT in text for text in texts(settled))
