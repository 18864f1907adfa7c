"""The script that fetches real photographs, against a repository made here: nothing goes over a network."""

import hashlib
import json
import os
import subprocess
from pathlib import Path
from typing import Any

import pytest

from tests.real_photos.fetch import main
from tests.real_photos.manifest import VARIABLE, folder, having, lacking_files, photos

CONTENTS = {"one.jpg": b"\xff\xd8one\r\n", "deep/two words.PNG": b"\x89PNG two\n", "three.jpg": b"three"}


def git(where: Path, *arguments: str) -> str:
    named = {
        f"GIT_{who}_{what}": "test@example.org"
        for who in ("AUTHOR", "COMMITTER")
        for what in ("NAME", "EMAIL")
    }
    done = subprocess.run(
        ["git", "-C", str(where), *arguments],
        capture_output=True,
        text=True,
        check=True,
        env=os.environ | named | {"GIT_CONFIG_GLOBAL": os.devnull},
    )
    return done.stdout.strip()


@pytest.fixture
def origin(tmp_path: Path) -> tuple[Path, str]:
    """Return a repository with three files, whose last commit no longer has them, and the commit that has."""
    where = tmp_path / "origin"
    where.mkdir()
    git(where, "init", "--quiet")
    # What a public host allows: partial clones, and any commit by its name.
    for key in ("uploadpack.allowFilter", "uploadpack.allowAnySHA1InWant"):
        git(where, "config", key, "true")
    for name, content in CONTENTS.items():
        (where / name).parent.mkdir(exist_ok=True)
        (where / name).write_bytes(content)
    # Line ends must not be changed on the way.
    (where / ".gitattributes").write_text("*.jpg text eol=lf\n")
    git(where, "-c", "core.safecrlf=false", "add", ".gitattributes")
    for name in CONTENTS:
        blob = git(where, "hash-object", "-w", "--no-filters", name)
        git(where, "update-index", "--add", "--cacheinfo", f"100644,{blob},{name}")
    git(where, "commit", "--quiet", "-m", "photographs")
    commit = git(where, "rev-parse", "HEAD")
    git(where, "rm", "--quiet", "-r", "-f", "--cached", ".")
    git(where, "commit", "--quiet", "--allow-empty", "-m", "gone")
    return where, commit


def entry(repository: Path | str, commit: str | None, name: str, **other: Any) -> dict[str, Any]:
    known = {
        "file": f"photos/{Path(name).name.replace(' ', '_')}",
        "repository": str(repository) if "://" in str(repository) else f"file://{repository}",
        "commit": commit,
        "path": name,
        "sha256": hashlib.sha256(CONTENTS.get(name, b"")).hexdigest(),
        "truth": {"use": ["negative"]},
    }
    return known | other


def run(tmp_path: Path, *entries: dict[str, Any]) -> tuple[int, Path]:
    manifest, into = tmp_path / "manifest.json", tmp_path / "fetched"
    manifest.write_text(json.dumps({"photos": entries}))
    return main(["--into", str(into), "--manifest", str(manifest)]), into


def files(into: Path) -> set[str]:
    return {path.name for path in into.rglob("*") if path.is_file()}


def test_files_of_an_old_commit_arrive_byte_for_byte(tmp_path, origin, capsys):
    status, into = run(tmp_path, *(entry(*origin, name) for name in CONTENTS))
    assert status == 0
    assert (into / "photos/one.jpg").read_bytes() == CONTENTS["one.jpg"]
    assert (into / "photos/two_words.PNG").read_bytes() == CONTENTS["deep/two words.PNG"]
    assert f"{VARIABLE}={into}" in capsys.readouterr().out


def test_what_is_there_is_kept_and_what_is_broken_comes_anew(tmp_path, origin, capsys):
    entries = [entry(*origin, "one.jpg"), entry(*origin, "three.jpg")]
    _, into = run(tmp_path, *entries)
    kept = (into / "photos/one.jpg").stat().st_ino
    (into / "photos/three.jpg").write_bytes(b"thr")
    capsys.readouterr()
    status, _ = run(tmp_path, *entries)
    assert status == 0
    assert "1 of 2 photographs are there; 1 to fetch" in capsys.readouterr().out
    assert (into / "photos/one.jpg").stat().st_ino == kept
    assert (into / "photos/three.jpg").read_bytes() == b"three"


def test_nothing_is_fetched_when_all_is_there(tmp_path, origin):
    entries = [entry(*origin, "one.jpg")]
    run(tmp_path, *entries)
    origin[0].rename(tmp_path / "moved away")
    assert run(tmp_path, *entries)[0] == 0


def test_a_wrong_checksum_leaves_nothing_behind(tmp_path, origin, capsys):
    status, into = run(tmp_path, entry(*origin, "one.jpg", sha256="0" * 64), entry(*origin, "three.jpg"))
    assert status == 1
    assert files(into) == {"three.jpg"}
    assert "missing: photos/one.jpg: the checksum is" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("change", "why"),
    [
        ({"commit": None}, "its commit is not known"),
        ({"path": "moved.jpg"}, "moved.jpg"),
        ({"commit": "1" * 40}, "1111"),
        ({"repository": "file:///no/such/repository"}, "missing: photos/one.jpg: "),
    ],
)
def test_what_cannot_be_had_is_named_and_the_rest_is_fetched(tmp_path, origin, capsys, change, why):
    status, into = run(tmp_path, entry(*origin, "one.jpg") | change, entry(*origin, "three.jpg"))
    assert status == 1
    assert files(into) == {"three.jpg"}
    complaint = capsys.readouterr().err
    assert why in complaint
    assert len(complaint.splitlines()) == 1


def test_a_list_that_cannot_be_read_is_one_line(tmp_path, capsys):
    assert main(["--into", str(tmp_path), "--manifest", str(tmp_path / "none.json")]) == 1
    assert "none.json" in capsys.readouterr().err


def test_our_list_can_be_fetched_and_has_a_truth_for_each_photograph():
    assert len({photo.file for photo in photos()}) == len(photos()) == 101
    for photo in photos():
        assert len(photo.sha256) == 64
        assert photo.commit is None or len(photo.commit) == 40
        assert photo.repository.startswith("https://")
        assert set(photo.truth["use"]) <= {"metrology", "detection", "negative"}
        assert Path(photo.file).parent.name in {"photos", "photos2"}


def test_the_variable_names_the_folder_and_absent_photographs_the_command(tmp_path, monkeypatch):
    monkeypatch.setenv(VARIABLE, str(tmp_path))
    assert folder() == tmp_path
    assert having("detection") == []
    why = lacking_files(photos()[0].file)
    assert "python -m tests.real_photos.fetch --into" in why
    assert "\n" not in why
    (tmp_path / photos()[0].file).parent.mkdir()
    (tmp_path / photos()[0].file).touch()
    assert lacking_files(photos()[0].file) == ""
    assert [truth["path"] for truth in having("metrology")] == [tmp_path / photos()[0].file]
