"""Waiting for what happens in the background."""

import time
from collections.abc import Callable


def wait_for(what: Callable[[], object], timeout_s: float = 30.0) -> None:
    """Wait until something holds; fail when it never does."""
    end = time.monotonic() + timeout_s
    while not what():
        assert time.monotonic() < end, "it did not happen in time"
        time.sleep(0.01)
