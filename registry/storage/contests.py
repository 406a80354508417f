"""
What two machines recorded apart and contradicts itself: what stands, and what stands against it.

What comes first in the journal's order stands, until somebody who had both before them records what holds: by
an amendment, a correction or a withdrawal, or by ``conflict.settled``. So nothing is lost, and nothing hangs
on the order in which bundles came in.
"""

import sqlite3
from datetime import datetime
from typing import NamedTuple

from registry.records.branches import Branches
from registry.records.entry import Entry

__all__ = ["Contests", "Lost"]


class Lost(NamedTuple):
    """An entry whose facts do not stand, and its position in the journal."""

    position: int
    entry: Entry


class Contests:
    """
    The open contests of a registry, as entries are played.

    Parameters
    ----------
    connection : sqlite3.Connection
        With the tables, within a transaction of the caller.
    branches : Branches or None
        What each entry knew; None where each knew all before it, as what is written here and now does.
    """

    def __init__(self, connection: sqlite3.Connection, branches: Branches | None) -> None:
        self._connection = connection
        self._branches = branches
        self._lost: dict[str, Lost] = {}
        self._position = 0
        self._entry: Entry | None = None

    def begin(self, position: int, entry: Entry) -> None:
        """Go on to the next entry."""
        self._position, self._entry = position, entry

    def unknown(self, position: int | None) -> bool:
        """Tell whether there is an entry at a position and who wrote the present one did not know it."""
        if self._branches is None or position is None:
            return False
        return not self._knows(self._branches.name(position))

    def unknown_by_name(self, reference: str) -> bool:
        """Tell the same of the entry of a name."""
        return self._branches is not None and not self._knows(_parts(reference))

    def yields(self, subject: str, name: str, holder: int | None, sentence: str) -> bool:
        """
        Tell whether the present entry gives way to what an entry that it did not know has recorded.

        If it says something else, that is an open contest from now on; if it does not give way, those
        contests of the same name are closed that it knew.

        Parameters
        ----------
        subject, name : str
            Of what, as "module" and its tag.
        holder : int or None
            Position of the entry that holds now; None where there is none.
        sentence : str
            What is contested, for people.
        """
        if not self.unknown(holder):
            self.settle(subject, name)
            return False
        assert self._branches is not None
        assert self._entry is not None
        assert holder is not None
        if not self._branches.says_the_same(holder, self._entry.body):
            origin, sequence = self._branches.name(holder)
            self.record(subject, name, stands=f"{origin}-{sequence}", sentence=sentence)
        return True

    def record(self, subject: str, name: str, *, stands: str, sentence: str, against: str = "") -> None:
        """Open a contest between what stands and what is `against` it: by default the present entry."""
        assert self._entry is not None
        against = against or self._entry.reference
        if against == self._entry.reference:
            self._lost[against] = Lost(self._position, self._entry)
        # What the same hand said before about the same is no contest of its own any more.
        for fid, was_against in self._connection.execute(
            "SELECT fid, against FROM contests WHERE subject = ? AND name = ? AND stands = ?",
            (subject, name, stands),
        ).fetchall():
            if was_against == against or not self.unknown_by_name(was_against):
                self._connection.execute("DELETE FROM contests WHERE fid = ?", (fid,))
        self._connection.execute(
            "INSERT INTO contests (subject, name, stands, against, sentence, entry)"
            " VALUES (?, ?, ?, ?, ?, ?)",
            (subject, name, stands, against, sentence, self._position),
        )

    def settle(self, subject: str, name: str) -> list[tuple[str, str]]:
        """Close the contests of a name of which the present entry knew both sides, and give these sides."""
        closed = []
        for fid, stands, against in self._connection.execute(
            "SELECT fid, stands, against FROM contests WHERE subject = ? AND name = ? ORDER BY fid",
            (subject, name),
        ).fetchall():
            if not (self.unknown_by_name(stands) or self.unknown_by_name(against)):
                self._connection.execute("DELETE FROM contests WHERE fid = ?", (fid,))
                closed.append((stands, against))
        return closed

    def lost(self, reference: str) -> Lost | None:
        """Give an entry whose facts gave way."""
        if reference in self._lost:
            return self._lost[reference]
        row = self._connection.execute(
            "SELECT position, origin, sequence, time, actor, kind, body, previous, digest FROM journal"
            " WHERE origin = ? AND sequence = ?",
            _parts(reference),
        ).fetchone()
        if row is None:
            return None
        position, origin, sequence, time, actor, kind, body, previous, digest = row
        entry = Entry(
            origin=origin,
            sequence=sequence,
            time=datetime.fromisoformat(time),
            actor=actor,
            kind=kind,
            body=body,
            previous=previous,
            digest=digest,
        )
        return Lost(position, entry)

    def _knows(self, name: tuple[str, int]) -> bool:
        assert self._branches is not None
        assert self._entry is not None
        return self._branches.knows((self._entry.origin, self._entry.sequence), name)


def _parts(reference: str) -> tuple[str, int]:
    origin, _, sequence = reference.rpartition("-")
    return origin, int(sequence) if sequence.isdigit() else 0
