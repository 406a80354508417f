"""What was read of a registry, kept for as long as nobody writes to it."""

import sqlite3
from collections.abc import Callable, Hashable
from typing import Any, TypeVar

__all__ = ["KeptReads"]

T = TypeVar("T")

#: More than so many things are not kept: a permit with its areas takes some ten kilobytes.
MOST = 256


class KeptReads:
    """
    Records by what was asked for; forgotten as soon as anything was written, here or by another process.

    Only records that never change may be kept, since all who ask are given the same.

    Parameters
    ----------
    connection : sqlite3.Connection
        That of the registry. What it sees of others' writing is told by ``PRAGMA data_version``, and what it
        wrote itself by the number of rows that it has changed.
    """

    def __init__(self, connection: sqlite3.Connection) -> None:
        self._connection = connection
        self._state: tuple[int, int] | None = None
        self._kept: dict[Hashable, Any] = {}

    def give(self, asked: Hashable, read: Callable[[], T]) -> T:
        """Give what was kept of a question, or read it now and keep it; an error is not kept."""
        # Looked up before reading: what somebody writes meanwhile makes the next state another one.
        (version,) = self._connection.execute("PRAGMA data_version").fetchone()
        state = (version, self._connection.total_changes)
        if state != self._state or len(self._kept) >= MOST:
            self._state, self._kept = state, {}
        if asked not in self._kept:
            self._kept[asked] = read()
        found: T = self._kept[asked]
        return found
