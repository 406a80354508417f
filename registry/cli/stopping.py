"""Ctrl-C: one line and exit code 130, wherever it is heard."""

import signal
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from types import FrameType

__all__ = ["EXIT_STOPPED", "STOPPED", "Stop", "stoppable"]

#: What a shell expects of a command that was stopped by Ctrl-C.
EXIT_STOPPED = 130
STOPPED = "Stopped. What was acknowledged stands."
#: Keys pressed again so soon are the same wish; what is being tidied up is not disturbed. Units: s.
SAME_WISH_S = 2.0


class Stop:
    """Whether a person asked to stop."""

    def __init__(self) -> None:
        #: When it was asked last, by a clock that only goes on; None where it was not.
        self._asked_s: float | None = None

    @property
    def asked(self) -> bool:
        """Whether it was asked."""
        return self._asked_s is not None

    def hear(self, _number: int, _frame: FrameType | None) -> None:
        """Hear a signal; raises KeyboardInterrupt."""
        now_s = time.monotonic()
        if self._asked_s is None or now_s - self._asked_s > SAME_WISH_S:
            self._asked_s = now_s
            raise KeyboardInterrupt


@contextmanager
def stoppable() -> Iterator[Stop]:
    """
    Remember that Ctrl-C was pressed.

    A library that calls back into Python, as SQLite does, may turn the interruption into an error of its own:
    whoever then sees an error can ask here what it really was.
    """
    stop = Stop()
    heard = threading.current_thread() is threading.main_thread()
    # A process that was started in the background does not hear Ctrl-C, and is left so.
    if not heard or signal.getsignal(signal.SIGINT) is not signal.default_int_handler:
        yield stop
        return
    signal.signal(signal.SIGINT, stop.hear)
    try:
        yield stop
    finally:
        signal.signal(signal.SIGINT, signal.default_int_handler)
