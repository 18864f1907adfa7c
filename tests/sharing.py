"""What takes long to make is made by one of the workers, and all of them use it."""

import os
import pickle
from collections.abc import Callable
from pathlib import Path
from typing import TypeVar

import pytest
from filelock import FileLock

T = TypeVar("T")


def made_once(factory: pytest.TempPathFactory, name: str, make: Callable[[Path], T]) -> T:
    """Return what `make` makes in an empty folder, one for all workers of this run; no test may change it."""
    if "PYTEST_XDIST_WORKER" not in os.environ:
        return make(factory.mktemp(name))
    # Each worker's own folder lies in the one of the run.
    folder = factory.getbasetemp().parent / name
    kept = folder.with_name(f"{name}.pickle")
    with FileLock(folder.with_name(f"{name}.lock")):
        if kept.exists():
            one: T = pickle.loads(kept.read_bytes())
            return one
        folder.mkdir()
        made = make(folder)
        kept.write_bytes(pickle.dumps(made))
        return made
