"""Background work of which only the newest task matters: saving, judging."""

import threading
from collections.abc import Callable


class Latest:
    """Runs one task at a time in a thread; of the tasks requested meanwhile only the newest is run.

    Parameters
    ----------
    name : str
        Of the thread.
    idle : callable
        Called from that thread whenever all is done.
    failed : callable
        Called from that thread with what a task raised; the next task is run all the same.
    """

    def __init__(self, name: str, idle: Callable[[], None], failed: Callable[[Exception], None]) -> None:
        self._wake = threading.Condition()
        self._idle = idle
        self._failed = failed
        self._wanted: Callable[[], None] | None = None
        self._busy = False
        self._closing = False
        threading.Thread(target=self._run, name=name, daemon=True).start()

    @property
    def busy(self) -> bool:
        """Whether a task runs or waits."""
        with self._wake:
            return self._busy or self._wanted is not None

    def ask(self, task: Callable[[], None]) -> None:
        """Request a task; it replaces one that has not begun."""
        with self._wake:
            self._wanted = task
            self._wake.notify_all()

    def drop(self) -> None:
        """Forget what has not begun."""
        with self._wake:
            self._wanted = None

    def flush(self, timeout_s: float = 10.0) -> bool:
        """Wait until all is done; False if it took too long."""
        with self._wake:
            return self._wake.wait_for(lambda: self._wanted is None and not self._busy, timeout_s)

    def close(self) -> None:
        """Stop after the tasks requested so far."""
        with self._wake:
            self._closing = True
            self._wake.notify_all()

    def _run(self) -> None:
        while True:
            with self._wake:
                self._wake.wait_for(lambda: self._wanted is not None or self._closing)
                if self._wanted is None:
                    return
                task, self._wanted, self._busy = self._wanted, None, True
            try:
                task()
            except Exception as error:  # a thread that ended here would never save or judge again
                self._failed(error)
            finally:
                with self._wake:
                    self._busy = False
                    idle = self._wanted is None
                    self._wake.notify_all()
            if idle:
                self._idle()
