"""Fetch the real photographs from their public repositories with git, and check every byte.

    python -m tests.real_photos.fetch --into FOLDER

What is there already and right is kept, so that a broken run resumes; what is there and wrong is fetched
anew. Of each repository only the named files of the named commit are fetched. A photograph appears under its
name only when its checksum has been found right. Then set CARDSPAN_REAL_PHOTOS to the folder. Exit status
0: all are there; 1: some are missing, and the last lines say which and why.
"""

import argparse
import hashlib
import os
import subprocess
import sys
import tempfile
from collections import defaultdict
from collections.abc import Sequence
from pathlib import Path

from tests.real_photos.manifest import HERE, VARIABLE, Photo, read_manifest


class FetchError(Exception):
    """A photograph could not be had; the text says why, in one line."""


def run_git(where: Path, *arguments: str) -> bytes:
    """Run git in a folder and return what it prints; the last line of its complaint becomes the error."""
    # Asks for no password: a repository that has gone private fails at once.
    environment = os.environ | {"GIT_TERMINAL_PROMPT": "0", "LC_ALL": "C"}
    try:
        done = subprocess.run(
            ["git", "-C", str(where), *arguments], capture_output=True, check=False, env=environment
        )
    except OSError as error:
        raise FetchError(f"git cannot be run: {error}") from error
    if done.returncode:
        complaint = done.stderr.decode("utf-8", "replace").strip().splitlines()
        raise FetchError(complaint[-1] if complaint else f"git {arguments[0]} failed")
    return done.stdout


def prepare(where: Path, repository: str, commit: str) -> None:
    """Fetch one commit's trees, without the files' contents, into an empty folder."""
    run_git(where, "init", "--quiet", "--bare")
    run_git(where, "remote", "add", "origin", repository)
    # The contents that are asked for later come from the same place, one by one.
    run_git(where, "config", "remote.origin.promisor", "true")
    run_git(where, "config", "remote.origin.partialclonefilter", "blob:none")
    run_git(where, "fetch", "--quiet", "--depth=1", "--filter=blob:none", "--no-tags", "origin", commit)


def is_right(path: Path, photo: Photo) -> bool:
    """Tell whether a photograph is there, byte for byte."""
    return path.is_file() and hashlib.sha256(path.read_bytes()).hexdigest() == photo.sha256


def place(content: bytes, photo: Photo, into: Path) -> None:
    """Write a photograph under its name, whole or not at all."""
    found = hashlib.sha256(content).hexdigest()
    if found != photo.sha256:
        raise FetchError(f"the checksum is {found[:12]}…, expected {photo.sha256[:12]}…")
    path = into / photo.file
    path.parent.mkdir(parents=True, exist_ok=True)
    unfinished = path.with_name(path.name + ".part")
    unfinished.write_bytes(content)
    unfinished.replace(path)


def fetch_commit(photos: Sequence[Photo], into: Path) -> dict[str, str]:
    """Fetch photographs of one commit of one repository.

    Returns
    -------
    dict of str to str
        Why each photograph that could not be had is missing, by its file.
    """
    repository, commit = photos[0].repository, photos[0].commit
    if commit is None:
        return {photo.file: "its commit is not known" for photo in photos}
    missing: dict[str, str] = {}
    with tempfile.TemporaryDirectory(prefix="cardspan-photos-") as folder:
        try:
            prepare(Path(folder), repository, commit)
        except FetchError as error:
            return {photo.file: str(error) for photo in photos}
        for photo in photos:
            try:
                place(run_git(Path(folder), "cat-file", "blob", f"{commit}:{photo.path}"), photo, into)
            except FetchError as error:
                missing[photo.file] = str(error)
    return missing


def fetch(photos: Sequence[Photo], into: Path) -> dict[str, str]:
    """Fetch what is not there yet, print one line a repository, and return what is missing and why."""
    groups = defaultdict(list)
    for photo in photos:
        if not is_right(into / photo.file, photo):
            groups[photo.repository, photo.commit].append(photo)
    wanted = sum(map(len, groups.values()))
    print(f"{len(photos) - wanted} of {len(photos)} photographs are there; {wanted} to fetch", flush=True)
    missing: dict[str, str] = {}
    for (repository, commit), group in groups.items():
        failed = fetch_commit(group, into)
        missing |= failed
        print(f"  {len(group) - len(failed)} of {len(group)} from {repository} at {commit}", flush=True)
    return missing


def main(arguments: Sequence[str] | None = None) -> int:
    """Fetch the photographs of the list; the exit status."""
    parser = argparse.ArgumentParser(
        prog="python -m tests.real_photos.fetch",
        description="Fetch the real photographs that tests use from their public repositories (40 MB).",
    )
    parser.add_argument("--into", required=True, type=Path, metavar="FOLDER", help="put them here")
    parser.add_argument(
        "--manifest", type=Path, default=HERE / "manifest.json", help="another list than ours"
    )
    given = parser.parse_args(arguments)
    try:
        photos = read_manifest(given.manifest)
        given.into.mkdir(parents=True, exist_ok=True)
        missing = fetch(photos, given.into)
    except (OSError, ValueError, KeyError) as error:
        print(f"{given.manifest} or {given.into} cannot be used: {error}", file=sys.stderr)
        return 1
    for file, why in missing.items():
        print(f"missing: {file}: {why}", file=sys.stderr)
    print(f"{len(photos) - len(missing)} of {len(photos)} photographs are in {given.into}")
    if not missing:
        print(f"Now set {VARIABLE}={given.into.resolve()}")
    return 1 if missing else 0


if __name__ == "__main__":
    sys.exit(main())
