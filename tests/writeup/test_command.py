"""`cardspan write-up`: what it writes, its exit statuses and its one-line errors."""

import csv
import hashlib
import json

import pytest
from click.testing import CliRunner

from measure.commands.write_up import command
from measure.errors import MeasureError
from measure.writeup import write_up
from measure.writeup.contact_sheet import records_in
from measure.writeup.produce import put
from tests.writeup import scene


def run(*arguments):
    return CliRunner().invoke(command, [str(argument) for argument in arguments])


@pytest.fixture(scope="module")
def records(tmp_path_factory):
    """Two records without photos, in one folder; one has no findings."""
    folder = tmp_path_factory.mktemp("records")
    specimen = scene.specimen(folder, name="=1+1 Größe")
    (folder / "ferry.jpg").unlink()
    few = scene.replace(specimen, measurements=specimen.measurements[:1])
    scene.save(folder, few, "b.specimen.json")
    bare = scene.replace(specimen, name="", sheet=None, photos=(), measurements=(), observations=())
    scene.save(folder, bare, "a.specimen.json")
    return folder


@pytest.fixture(scope="module")
def several(records, tmp_path_factory):
    out = tmp_path_factory.mktemp("several")
    return out, run(records, "--out", out, "--json")


@pytest.mark.slow
def test_the_folder_holds_what_a_listing_and_a_buyer_need(plain):
    names = {path.name for path in plain.product.files}
    assert names == {
        "photo-1.jpg", "close-up-1.jpg", "close-up-3.jpg", "chart-ranges-1.png", "chart-ranges-1.svg",
        "chart-budget-1.png", "chart-budget-1.svg", "listing-short.txt", "listing-short.md",
        "listing-long.txt", "listing-long.md", "evidence.html", "evidence.pdf", "findings.csv",
        "record.specimen.json",
        "saltmarsh-ferry.toml", "write-up.json",
    }  # fmt: skip


def test_a_folder_of_records_gets_a_contact_sheet_and_tables(several):
    out, result = several
    assert result.exit_code == 0
    assert {"contact-sheet.html", "contact-sheet.pdf", "specimens.csv", "findings.csv", "a", "b"} <= {
        path.name for path in out.iterdir()
    }
    shown = json.loads(result.stdout)
    assert "b/evidence.pdf" in shown["files"]
    assert any("photo was not found" in text for text in shown["warnings"])


def test_tables_open_in_a_spreadsheet(several):
    # RFC 4180, and the byte-order mark by which spreadsheet programs know UTF-8 (common practice).
    data = (several[0] / "specimens.csv").read_bytes()
    assert data.startswith(b"\xef\xbb\xbf")
    assert data.count(b"\r\n") == 3
    rows = list(csv.DictReader(data.decode("utf-8-sig").splitlines()))
    assert [row["record"] for row in rows] == ["a.specimen.json", "b.specimen.json"]
    assert rows[1]["specimen"] == "'=1+1 Größe"  # never run as a formula
    with (several[0] / "findings.csv").open(encoding="utf-8-sig", newline="") as stream:
        (length, *_) = csv.DictReader(stream)
    assert float(length["length_mm"]) == pytest.approx(160.1, abs=0.2)
    assert float(length["U_mm"]) == pytest.approx(1.6, abs=0.1)


def test_a_check_that_leaves_something_open_ends_with_3_and_a_change_with_4(several):
    folder = several[0] / "a"
    result = run("--verify", folder, "--json")
    assert result.exit_code == 3  # there is no verdict to judge again
    assert json.loads(result.stdout)["differences"] == 0
    (folder / "findings.csv").write_text("other", "utf-8")
    result = run("--verify", folder)
    assert result.exit_code == 4
    assert "differs      findings.csv" in result.output


@pytest.mark.parametrize(
    "arguments",
    [
        (), ("x.json",), ("--out", "o"), ("--verify", "o", "x.json"),
        ("x.json", "--out", "o", "--paper", "a5"), ("x.json", "--out", "o", "--date", "31.3.2026"),
        ("x.json", "--out", "o", "--photos", "/no/such/folder"),
    ],
)  # fmt: skip
def test_wrong_usage_ends_with_2(arguments):
    assert run(*arguments).exit_code == 2


def test_unusable_input_is_one_line_that_names_the_file(tmp_path):
    (tmp_path / "x.specimen.json").write_text("{", "utf-8")
    for path in (tmp_path / "x.specimen.json", tmp_path / "none.json"):
        error = run(path, "--out", tmp_path / "out").exception
        assert isinstance(error, MeasureError)
        assert path.name in str(error)
        assert "\n" not in str(error)
    assert not (tmp_path / "out").exists()


def test_a_folder_without_records_is_refused(tmp_path):
    with pytest.raises(MeasureError, match="no specimen record"):
        records_in((tmp_path,))


def test_files_of_an_earlier_write_up_go_unless_they_were_changed(tmp_path):
    def listed(**files):
        digests = {name: hashlib.sha256(data).hexdigest() for name, data in files.items()}
        text = json.dumps({"format": "cardspan-write-up/1", "files": digests})
        return {**files, "write-up.json": text.encode()}

    put(tmp_path, listed(old=b"1", kept=b"2", changed=b"3"))
    (tmp_path / "mine.txt").write_text("mine", "utf-8")
    (tmp_path / "changed").write_text("by the user", "utf-8")
    put(tmp_path, listed(kept=b"2", new=b"4"))
    assert {path.name for path in tmp_path.iterdir()} == {
        "kept",
        "new",
        "write-up.json",
        "mine.txt",
        "changed",
    }


def test_an_unknown_paper_is_refused():
    with pytest.raises(MeasureError, match="paper 'a5'"):
        write_up("x", "y", paper="a5")
