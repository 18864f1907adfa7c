"""Why nothing is named: the same sentence in the command, its JSON, the page and every document."""

import json
import re
from io import BytesIO
from pathlib import Path
from typing import Any

import pypdf
import pytest
from click.testing import CliRunner

from measure.cli import cli
from measure.desk.view.verdict import verdict_json as shown
from measure.record.file import write_specimen
from measure.record.specimen import BudgetEntry, MeasurementEntry, ObservationEntry, ResultEntry, Specimen
from measure.record.verdict_entry import VerdictEntry
from measure.redo.judging import findings_of, judge_specimen
from references import shipped_sheet

# fpdf2's own use of what newer versions of its dependencies deprecate is not ours to mend.
pytestmark = pytest.mark.filterwarnings("default::DeprecationWarning")

FERRY = shipped_sheet("saltmarsh-ferry")
FIRST = {
    ("bow-plate", "width"): 177.6,
    ("bow-plate", "depth"): 20.4,
    ("wheelhouse", "height"): 82.1,
    ("paddle-wheel", "diameter"): 62.1,
    ("funnel-cap", "tip-radius"): 0.6,
}
SECOND = {("bow-plate", "width"): 160.1, ("wheelhouse", "height"): 88.3}
NOTED = (
    ("lifeboat", "screws", 5),
    ("paddle-wheel", "axle", "through-rod"),
    ("deck-rail", "posts", 12),
    ("hull", "stamp", "none"),
)


def entry(key: tuple[str, str], mm: float, number: int, photo: str | None = None) -> MeasurementEntry:
    u_mm = 0.4 if mm > 30 else 0.2 if mm > 5 else 0.1
    budget = (BudgetEntry("scale", 0.6 * u_mm, True), BudgetEntry("click", 0.8 * u_mm))
    result = ResultEntry(mm, u_mm, 1.96 * u_mm, 1.96, budget)
    return MeasurementEntry(f"m{number}", "span", photo, *key, "", (), result=result)


def toy(lengths: dict[tuple[str, str], float], *more: MeasurementEntry, noted: Any = NOTED) -> Specimen:
    entries = [entry(key, mm, number) for number, (key, mm) in enumerate(lengths.items())]
    seen = tuple(ObservationEntry(*each) for each in noted)
    return Specimen("A ferry", sheet="saltmarsh-ferry", measurements=(*entries, *more), observations=seen)


def times(factor: float) -> dict[tuple[str, str], float]:
    return {key: mm * factor for key, mm in FIRST.items()}


HALF = toy({**times(0.5), ("funnel-cap", "tip-radius"): 0.6})
LONG = toy(times(1.03))
TWICE = toy({**FIRST, ("bow-plate", "width"): 177.5}, entry(("bow-plate", "width"), 160.3, 9))
SLIPS = toy({**FIRST, ("bow-plate", "width"): 1776.0, ("wheelhouse", "height"): 12.0})
BETWEEN = toy(
    {
        ("bow-plate", "width"): 169.0,
        ("bow-plate", "depth"): 22.8,
        ("wheelhouse", "height"): 85.0,
        ("funnel-cap", "tip-radius"): 1.6,
    },
    noted=(),
)
CASES = {
    "half": (HALF, "common factor", r"0\.50\d\d ± 0\.00\d\d times the size they should have"),
    "3 % long": (LONG, "common factor", r"3\.0 ± 1\.\d % too long .*or a stand-off that was not stated"),
    "readings": (
        TWICE,
        "contradiction",
        r"Bow plate, width contradict each other: 160\.30 ± 0\.78 mm and 177\.50 ± 0\.78 mm",
    ),
    "slips": (
        SLIPS,
        "slips",
        r"2 lengths lie so far .*Bow plate, width 1776\.00 ± 0\.78 mm; Wheelhouse, height 12\.00",
    ),
    "between": (BETWEEN, "nothing fits", r"None of the lengths lies where any release has it: Bow plate"),
}


def judged(specimen: Specimen) -> VerdictEntry:
    return judge_specimen(specimen, FERRY)


@pytest.mark.parametrize(("specimen", "code", "said"), CASES.values(), ids=CASES.keys())
def test_the_command_cannot_tell_and_says_why(
    specimen: Specimen, code: str, said: str, tmp_path: Path
) -> None:
    record = tmp_path / "toy.specimen.json"
    write_specimen(record, specimen)
    plain = CliRunner().invoke(cli, ["judge", str(record)])
    assert plain.exit_code == 3
    outcome = "scale in doubt" if code == "common factor" else "cannot tell"
    assert f"{outcome}: " in plain.stdout.splitlines()[0]
    assert re.search(said, plain.stdout)
    assert "First release: " not in plain.stdout  # no probability of what is not believed
    assert "does not belong" not in plain.stdout
    result = CliRunner().invoke(cli, ["judge", str(record), "--json"])
    assert result.exit_code == 3
    found = json.loads(result.stdout)
    assert (found["outcome"], found["release"]) == (outcome, None)
    assert found["doubts"][0]["code"] == code
    assert re.search(said, found["doubts"][0]["text"])
    assert found["reasons"][0] == f"{outcome.capitalize()}. {found['doubts'][0]['text']}"


@pytest.mark.parametrize(("specimen", "code", "said"), CASES.values(), ids=CASES.keys())
def test_the_page_says_the_same(specimen: Specimen, code: str, said: str) -> None:
    view = shown(judged(specimen), specimen, FERRY)
    assert view["sign"] == "?"
    outcome = "Scale in doubt" if code == "common factor" else "Cannot tell"
    assert view["headline"].startswith(f"{outcome}: ")
    assert view["chances"] == []
    assert re.search(said, view["doubts"][0])
    assert not any(re.search(said, reason) for reason in view["reasons"])
    assert not any(part["tag"] == "from another release" for part in view["parts"])


@pytest.mark.parametrize("name", ["half", "readings"])
def test_the_documents_say_the_same(name: str, tmp_path: Path) -> None:
    specimen, _, said = CASES[name]
    record = tmp_path / "toy.specimen.json"
    write_specimen(record, specimen)
    result = CliRunner().invoke(cli, ["write-up", str(record), "--out", str(tmp_path / "out")])
    assert result.exit_code == 0, result.output
    files = {path.name: path for path in (tmp_path / "out").rglob("*") if path.is_file()}
    listings = [path.read_text("utf-8") for file, path in files.items() if file.startswith("listing")]
    pages = [path.read_text("utf-8") for file, path in files.items() if file.endswith(".html")]
    pdfs = [path.read_bytes() for file, path in files.items() if file.endswith(".pdf")]
    texts = [pypdf.PdfReader(BytesIO(data)).pages for data in pdfs]
    told = [*listings, *pages, *("\n".join(page.extract_text() for page in pages) for pages in texts)]
    assert len(told) >= 4
    for text in told:
        line = " ".join(text.replace("\N{NO-BREAK SPACE}", " ").replace("\\", "").split())
        assert re.search(said, line)
        assert "What was checked fits" not in line
        assert "Still possible" not in line
        assert "168.9" not in line


def test_both_contradicting_readings_are_drawn() -> None:
    view = shown(judged(TWICE), TWICE, FERRY)
    plate = next(part for part in view["parts"] if part["id"] == "bow-plate")
    assert [band["value"] for band in plate["bands"] if band["feature"] == "width"] == [160.3, 177.5]


def test_repeats_on_one_photo_that_contradict_each_other_are_not_averaged() -> None:
    key = ("bow-plate", "width")
    apart = toy({}, entry(key, 177.5, 1, "photo-1"), entry(key, 160.3, 2, "photo-1"))
    assert [finding.value for finding in findings_of(apart)][:2] == [177.5, 160.3]
    assert judged(apart).verdict.doubts[0].code == "contradiction"
    near = toy({}, entry(key, 177.5, 1, "photo-1"), entry(key, 178.1, 2, "photo-1"))
    assert findings_of(near)[0].value == pytest.approx(177.8)
    assert judged(near).verdict.doubts == ()


def test_a_named_release_with_a_part_in_doubt_does_not_claim_that_all_fits() -> None:
    noted = (("lifeboat", "screws", 4), *NOTED[1:])
    found = judged(toy(SECOND, noted=noted))
    assert (found.verdict.outcome, found.verdict.release) == ("release", "second")
    view = shown(found, toy(SECOND), FERRY)
    assert re.fullmatch(
        r"Second release, but in doubt: Paddle wheel \(not its own with a probability of 7\d %\)",
        view["headline"],
    )
    assert (view["sign"], view["mark"]) == ("?", "in-doubt")
    wheel = next(part for part in view["parts"] if part["id"] == "paddle-wheel")
    assert wheel["tag"] == "in doubt"


def test_a_part_that_fits_none_is_not_tagged_as_from_another_release() -> None:
    lengths = {**FIRST, ("bow-plate", "width"): 140.0, ("bow-plate", "depth"): 15.0}
    found = judged(toy(lengths))
    plate = next(part for part in shown(found, toy(lengths), FERRY)["parts"] if part["id"] == "bow-plate")
    assert (plate["outcome"], plate["foreign"], plate["tag"]) == ("fits none", True, "does not belong")
