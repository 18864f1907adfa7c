"""`cardspan sheet`: what each command prints, writes and returns."""

import json
import re
from xml.etree import ElementTree

import pytest
from click.testing import CliRunner

from measure.commands.sheet import command
from references import read_sheet, shipped_text
from references.errors import SheetError

TEXT = shipped_text("saltmarsh-ferry")
TABLE = """specimen, release, part, feature, length, U
blue, first, bow-plate, width, 177.2, 0.6
red, first, bow-plate, width, 6 31/32 in, 1 mm
attic, first, bow-plate, width, 178.1, 0.7
lane, first, bow-plate, width, 176.6, 0.5
fair, first, bow-plate, width, 160.3, 0.5
dock, first, bow-plate, width, 177.6, 0.5
"""


@pytest.fixture
def sheet(tmp_path):
    path = tmp_path / "ferry.toml"
    path.write_text(TEXT, encoding="utf-8")
    return path


@pytest.fixture
def table(tmp_path):
    path = tmp_path / "lengths.csv"
    path.write_text(TABLE, encoding="utf-8")
    return path


def run(*arguments, answers=None):
    return CliRunner().invoke(command, [str(argument) for argument in arguments], input=answers)


def test_check_finds_nothing_in_the_shipped_sheet():
    done = run("check", "saltmarsh-ferry")
    assert done.exit_code == 0
    assert "no fault" in done.output


def test_check_lists_every_fault_one_a_line(sheet):
    sheet.write_text(
        TEXT.replace("max = 22.0", "max = 2.0").replace("first = 5", "first = 5.5"), encoding="utf-8"
    )
    done = run("check", sheet)
    assert done.exit_code == 4
    lines = done.output.splitlines()
    assert len(lines) == 2
    assert all(re.fullmatch(rf"{re.escape(str(sheet))}:\d+: \S+: .+, expected .+", line) for line in lines)


def test_check_as_json(sheet):
    sheet.write_text(TEXT.replace("max = 22.0", "max = 2.0"), encoding="utf-8")
    done = run("check", sheet, "--json")
    found = json.loads(done.stdout)["faults"]
    assert done.exit_code == 4
    assert found[0]["field"] == "bow-plate.depth.by_release.first.min"


def test_check_goes_on_after_a_file_that_cannot_be_read(sheet):
    done = run("check", "nowhere.toml", sheet)
    assert done.exit_code == 4
    assert "nowhere.toml: cannot be read" in done.output
    assert f"{sheet}: no fault" in done.output


def test_check_misses_the_number_of_examples(sheet):
    sheet.write_text(TEXT.replace("max = 22.0, n = 6", "max = 22.0"), encoding="utf-8")
    done = run("check", sheet)
    assert done.exit_code == 0
    assert "caution: bow-plate.depth: no n for first; say how many examples" in done.output
    assert json.loads(run("check", sheet, "--json").stdout)["cautions"]


def test_one_value_for_smallest_and_largest_is_a_caution(sheet):
    sheet.write_text(TEXT.replace("min = 19.0, max = 22.0", "min = 22.0, max = 22.0"), encoding="utf-8")
    assert "caution: bow-plate.depth: min and max of first are the same" in run("check", sheet).output


def test_new_asks_how_many_examples_a_range_is_from(tmp_path):
    path = tmp_path / "tug.toml"
    answers = ["Hull", "", "n", "Length", "dimension", "end to end", "span", "0", "1", "100 to 101", "1", "7"]
    done = run(
        "new", path, "--subject", "Tug", "--maker", "", "--unit", "mm", "--release", "First",
        answers="\n".join([*answers, "", ""]) + "\n",
    )  # fmt: skip
    assert done.exit_code == 0, done.output
    assert "is no number of examples" in done.output
    value = read_sheet(path).part("hull").feature("length").by_release["first"]
    assert (value.low_mm, value.high_mm, value.examples) == (100.0, 101.0, 7)


def test_show_prints_a_guide_with_charts():
    done = run("show", "saltmarsh-ferry")
    assert done.exit_code == 0
    assert "Saltmarsh Ferry, Tern & Tallow Toy Works" in done.output
    assert re.search(
        r"First release +\|·+█+·+\|  176 to 179.5 mm, 6 examples  \(6 15/16 to 7 1/16 in\)", done.output
    )
    assert "Second release and Export release: only Hull, stamp under the stern." in done.output


def test_show_writes_a_page_that_stands_alone(tmp_path):
    page = tmp_path / "guide.html"
    assert run("show", "saltmarsh-ferry", "--html", page).exit_code == 0
    html = page.read_text("utf-8")
    assert html.count("<svg") == 5
    assert not re.search(r"""(?:src|href)=["']?https?:|@import|<script""", html)
    identifiers = re.findall(r'\bid="([^"]+)"', html)
    assert len(identifiers) == len(set(identifiers))
    for svg in re.findall(r"<svg.*?</svg>", html, re.DOTALL):
        ElementTree.fromstring(svg)


def test_show_escapes_what_people_write(sheet, tmp_path):
    sheet.write_text(TEXT.replace("Saltmarsh Ferry", "<script>x</script>"), encoding="utf-8")
    page = tmp_path / "guide.html"
    run("show", sheet, "--html", page)
    assert "<script>" not in page.read_text("utf-8")


def test_show_as_json():
    found = json.loads(run("show", "saltmarsh-ferry", "--json").stdout)
    assert found["parts"][0]["features"][0]["by_release"]["first"]["min_mm"] == 176.0


def test_a_broken_sheet_is_not_shown(sheet):
    sheet.write_text("oops", encoding="utf-8")
    assert isinstance(run("show", sheet).exception, SheetError)


def test_learn_asks_before_it_writes(sheet, table):
    done = run("learn", sheet, table, answers="n\n")
    assert done.exit_code == 0
    assert "Outlier fair" in done.output
    assert sheet.read_text("utf-8") == TEXT


def test_learn_writes_what_is_accepted_and_keeps_the_rest(sheet, table):
    done = run("learn", sheet, table, "--leave-out", "fair", answers="y\n")
    assert done.exit_code == 0
    changed = [
        pair
        for pair in zip(TEXT.splitlines(), sheet.read_text("utf-8").splitlines(), strict=True)
        if pair[0] != pair[1]
    ]
    assert len(changed) == 1
    assert 'source = "5 measured examples; left out: fair"' in changed[0][1]
    assert sheet.with_name("ferry.toml.bak").read_text("utf-8") == TEXT


def test_learn_as_json_writes_only_with_yes(sheet, table):
    found = json.loads(run("learn", sheet, table, "--json", "--as", "range").stdout)["proposals"]
    assert found[0]["n"] == 6
    assert found[0]["written"] is False
    assert sheet.read_text("utf-8") == TEXT
    found = json.loads(run("learn", sheet, table, "--json", "--yes", "--leave-out", "fair").stdout)[
        "proposals"
    ]
    assert found[0]["written"] is True
    assert read_sheet(sheet).parts[0].features[0].by_release["first"].examples == 5


def test_yes_writes_no_value_with_an_outlier(sheet, table):
    done = run("learn", sheet, table, "--as", "range", "--yes")
    assert done.exit_code == 3
    assert "--yes accepts no outlier" in done.output
    assert sheet.read_text("utf-8") == TEXT


def test_learn_takes_specimen_records(sheet, tmp_path):
    paths = []
    for number, mm in enumerate((177.0, 177.5, 178.2)):
        record = {
            "format": "cardspan-specimen/1",
            "name": f"toy {number}",
            "measurements": [
                {"id": "m1", "part": "bow-plate", "feature": "width",
                 "result": {"length_mm": mm, "standard_uncertainty_mm": 0.2}},
                {"id": "m2", "part": None, "feature": None, "result": None},
            ],
        }  # fmt: skip
        paths.append(tmp_path / f"{number}.specimen.json")
        paths[-1].write_text(json.dumps(record), encoding="utf-8")
    found = json.loads(run("learn", sheet, *paths, "--release", "first", "--json").stdout)["proposals"]
    assert (found[0]["n"], found[0]["release"]) == (3, "first")
    assert "--release" in str(run("learn", sheet, paths[0]).exception)


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        ("177.6, 0.5", "wide, 0.5", ":7: length"),
        ("lane, first", "lane, fourth", ':5: release "fourth"'),
        (
            "lane, first, bow-plate",
            "lane, first, sail",
            ':5: the sheet has no dimension "width" on a part "sail"',
        ),
        ("specimen, release", "name, release", ":1: missing column specimen"),
    ],
)
def test_a_wrong_table_is_named_by_line(sheet, table, old, new, message):
    table.write_text(TABLE.replace(old, new), encoding="utf-8")
    assert message in str(run("learn", sheet, table).exception)


def test_the_shipped_sheet_is_not_changed(table):
    done = run("learn", "saltmarsh-ferry", table, "--yes", "--leave-out", "fair")
    assert "copy it to a file first" in str(done.exception)


ANSWERS = """Gull Tram

mm
Early
1950
Late


Roof
thin
y
Length
dimension
over all
span
12
1
wide
8 7/8 to 8 15/16 in
4
absent

"""


def test_new_asks_and_writes_a_sheet_that_can_be_read(tmp_path):
    path = tmp_path / "tram.toml"
    done = run("new", path, answers=ANSWERS + "\n")
    assert done.exit_code == 0, done.output
    assert '"wide" is not a length' in done.output
    sheet = read_sheet(path)
    assert sheet.release_ids == ("early", "late")
    assert sheet.parts[0].features[0].standoff_mm == 12.0


def test_new_takes_options_for_answers(tmp_path):
    path = tmp_path / "tram.toml"
    options = [
        "--subject",
        "Gull Tram",
        "--maker",
        "",
        "--unit",
        "in",
        "--release",
        "Early",
        "--release",
        "Late",
    ]
    done = run("new", path, *options, answers="\n")
    assert done.exit_code == 0
    assert "no part is given" in done.output
    assert 'unit = "in"' in path.read_text("utf-8")


def test_new_does_not_overwrite(sheet):
    assert isinstance(run("new", sheet, "--subject", "x").exception, SheetError)
    assert sheet.read_text("utf-8") == TEXT


def test_a_feature_with_one_example_is_told_of_and_the_others_are_learnt(sheet, table):
    table.write_text(f"{TABLE.rstrip()}\nlone,first,bow-plate,depth,20.5,0.2\n", encoding="utf-8")
    done = run("learn", sheet, table, "--yes", "--leave-out", "fair")
    assert done.exit_code == 0
    assert "bow-plate, depth, first: examples 1, more needed 1" in done.output
    assert read_sheet(sheet).parts[0].features[0].by_release["first"].examples == 5
