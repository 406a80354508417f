"""How far a long command has come: shown on a terminal, and only to those who have waited a while."""

import sys
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

__all__ = ["Watch", "watched"]

#: How long a person waits without a sign before one is given. Units: s.
PATIENCE_S = 2.0


class Watch:
    """What is being done and how much of it is done; safe to be told of where nobody watches."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._bar: Any = None
        self._task: Any = None
        self._doing = "Beginning"
        self._total: int | None = None
        self._done = 0

    def begin(self, doing: str, *, total: int | None = None) -> None:
        """Begin a step of so many parts; None where nobody can tell how many."""
        with self._lock:
            self._doing, self._total, self._done = doing, total, 0
            if self._bar is not None:
                # A bar keeps its total where it is told of none: so one that pulses is made anew.
                self._bar.remove_task(self._task)
                self._task = self._bar.add_task(doing, total=total)

    def advance(self, count: int = 1) -> None:
        """Tell that so many more parts are done."""
        self._done += count
        if self._bar is not None:
            self._bar.update(self._task, completed=self._done)

    def say(self, doing: str) -> None:
        """Begin a step of which nobody can tell how long it takes."""
        self.begin(doing)

    def show(self) -> None:
        """Draw the bar on standard error."""
        from rich.console import Console
        from rich.progress import BarColumn, Progress, TaskProgressColumn, TextColumn, TimeElapsedColumn

        bar = Progress(
            TextColumn("{task.description}"),
            BarColumn(bar_width=24),
            TaskProgressColumn(show_speed=False),
            TimeElapsedColumn(),
            console=Console(stderr=True),
            transient=True,
        )
        with self._lock:
            self._task = bar.add_task(self._doing, total=self._total, completed=self._done)
            bar.start()
            self._bar = bar

    def hide(self) -> None:
        """Take the bar away and give the cursor back."""
        with self._lock:
            if self._bar is not None:
                self._bar.stop()


@contextmanager
def watched(*, shown: bool = True) -> Iterator[Watch]:
    """
    Watch a long step: after two seconds a bar appears, where standard error is a terminal and it is `shown`.

    Nothing of it goes to standard output.
    """
    watch = Watch()
    if not (shown and sys.stderr.isatty()):
        yield watch
        return
    timer = threading.Timer(PATIENCE_S, watch.show)
    timer.daemon = True
    timer.start()
    try:
        yield watch
    finally:
        timer.cancel()
        timer.join()
        watch.hide()
