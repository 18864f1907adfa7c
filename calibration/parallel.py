"""Independent pieces of work on several processors at once."""

import os
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from functools import cache
from typing import Any

# Threads beyond these would wait for each other: OpenCV works outside the interpreter's lock, numpy in part.
_MOST_HELPERS = 3


def run_in_parallel(*tasks: Callable[[], Any]) -> list[Any]:
    """Run independent tasks, each ideally one long call into OpenCV.

    The caller works too, beginning with the first, and takes over what no helper has begun, so tasks may
    themselves call this function.

    Parameters
    ----------
    *tasks : callable
        At least one; each takes nothing and touches nothing that another one changes.

    Returns
    -------
    list
        What the tasks returned, in their order.
    """
    helpers = _helpers()
    if helpers is None:
        return [task() for task in tasks]
    begun = [helpers.submit(task) for task in tasks[1:]]
    results = [tasks[0]()]
    for task, future in zip(tasks[1:], begun, strict=True):
        results.append(task() if future.cancel() else future.result())
    return results


@cache
def _helpers() -> ThreadPoolExecutor | None:
    count = min(_processors() - 1, _MOST_HELPERS)
    return ThreadPoolExecutor(count, "cardspan") if count > 0 else None


def _processors() -> int:
    """Return how many processors this process may use."""
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1
