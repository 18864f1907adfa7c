"""Checking a write-up: nothing differs as written; every change is found."""

import json
import shutil

import pytest

from measure.errors import MeasureError
from measure.writeup.check.verify import verify

# Looking for the card and drawing everything anew take seconds: one test does all of it, the rest work
# without the photo, where only numbers are redone.


def states(checks):
    return {check.what: check.state for check in checks}


def differing(checks):
    return {check.what: check.detail for check in checks if check.state == "differs"}


@pytest.fixture
def moved(plain, tmp_path):
    """A copy of the folder, away from its photo."""
    return shutil.copytree(plain.folder, tmp_path / "copy")


def changed(folder, name, change):
    data = json.loads((folder / name).read_text("utf-8"))
    change(data)
    (folder / name).write_text(json.dumps(data), "utf-8")


@pytest.mark.slow
def test_a_fresh_write_up_agrees_in_everything(plain):
    found = states(verify(plain.folder))
    assert set(found.values()) == {"same"}
    assert {"evidence.pdf", "photo ferry.jpg", "photo ferry.jpg, card", "verdict", "documents"} <= set(found)
    assert sum(name.startswith("length ") for name in found) == 3


def test_without_the_photo_lengths_and_verdict_are_still_redone(moved):
    checks = verify(moved)
    assert not differing(checks)
    found = states(checks)
    assert found["photo ferry.jpg"] == found["documents"] == "not checked"
    assert found["length m1 Bow plate, width"] == found["verdict"] == "same"


def test_a_changed_and_a_missing_file_are_named(moved):
    (moved / "listing-short.txt").write_text("A first release, guaranteed", "utf-8")
    (moved / "evidence.pdf").unlink()
    found = differing(verify(moved))
    assert "changed" in found["listing-short.txt"]
    assert "missing" in found["evidence.pdf"]


def test_a_changed_length_is_measured_again(moved):
    changed(
        moved, "record.specimen.json", lambda data: data["measurements"][0]["result"].update(length_mm=177.2)
    )
    found = differing(verify(moved))
    assert found["length m1 Bow plate, width"] == "measured again 160.1 ± 1.6 mm, recorded 177.2 ± 1.6 mm"
    assert "verdict" in found  # 177.2 mm would be another release


def test_a_smaller_uncertainty_is_found_out(moved):
    changed(
        moved, "record.specimen.json",
        lambda data: data["measurements"][0]["result"].update(expanded_uncertainty_mm=0.2),
    )  # fmt: skip
    assert "length m1 Bow plate, width" in differing(verify(moved))


def test_a_changed_verdict_is_found_out(moved):
    changed(
        moved, "record.specimen.json",
        lambda data: data["verdict"].update(outcome="release", release="first"),
    )  # fmt: skip
    assert "outcome: judged again cannot tell, recorded release" in differing(verify(moved))["verdict"]


def test_what_is_no_verdict_any_more_is_named(moved):
    changed(moved, "record.specimen.json", lambda data: data["verdict"].update(parts=7))
    assert "verdict.parts: expected a list, found 7" in differing(verify(moved))["verdict"]


@pytest.mark.parametrize("odd", [{"options": 7}, {"photos": [3]}, {"made_with": ["x"]}])
def test_an_odd_manifest_is_refused(moved, odd):
    changed(moved, "write-up.json", lambda data: data.update(odd))
    with pytest.raises(MeasureError, match=r"write-up\.json: can't be used .*make the write-up again"):
        verify(moved)


def test_a_difference_is_redone_from_its_two_lengths(moved):
    def add(data):
        first, second = data["measurements"][0]["result"], data["measurements"][2]["result"]
        entry = {"id": "d", "kind": "difference", "photo": None, "part": None, "feature": None, "name": "D"}
        result = {
            key: first[key]
            for key in ("standard_uncertainty_mm", "expanded_uncertainty_mm", "coverage_factor")
        }
        result["length_mm"] = first["length_mm"] - second["length_mm"]
        data["measurements"].append({**entry, "of": ["m1", "m3"], "result": result})

    changed(moved, "record.specimen.json", add)
    # The value agrees; the uncertainty of the first length alone is not that of the difference.
    assert differing(verify(moved))["length d D"].startswith("measured again 71.8 ± 1.")


def test_another_photo_of_the_same_name_is_refused(moved):
    (moved / "ferry.jpg").write_bytes(b"something else")
    found = [check for check in verify(moved) if check.what == "photo ferry.jpg"]
    assert found[0].state == "not checked"
    assert "SHA-256 differs" in found[0].detail


def test_photos_are_found_by_their_digest_under_any_name(plain, tmp_path):
    from measure.writeup.gather.finding_photos import found_photos

    (tmp_path / "deep").mkdir()
    shutil.copy(plain.photo, tmp_path / "deep" / "renamed.JPG")
    ((photo, trouble),) = found_photos(plain.specimen.photos, tmp_path / "none", tmp_path)
    assert photo is not None
    assert trouble == ""


def test_a_folder_that_is_no_write_up_is_refused(tmp_path):
    with pytest.raises(MeasureError, match="expected the folder of a write-up"):
        verify(tmp_path)
    (tmp_path / "write-up.json").write_text(
        '{"format": "cardspan-write-up/1", "files": {"../x": ""}}', "utf-8"
    )
    with pytest.raises(MeasureError, match="bare file names"):
        verify(tmp_path)
