"""Steps that belong together and are done together, whatever keys are pressed meanwhile."""

import signal
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from types import FrameType

__all__ = ["interrupts_held"]


@contextmanager
def interrupts_held() -> Iterator[None]:
    """
    Put Ctrl-C off until the block is done; then it is heard.

    For a few quick steps between which nothing must come, as two renames; and for tidying up.
    """
    before = signal.getsignal(signal.SIGINT)
    if threading.current_thread() is not threading.main_thread() or not callable(before):
        yield
        return
    pressed: list[tuple[int, FrameType | None]] = []
    signal.signal(signal.SIGINT, lambda number, frame: pressed.append((number, frame)))
    try:
        yield
    finally:
        signal.signal(signal.SIGINT, before)
        if pressed:
            before(*pressed[0])
