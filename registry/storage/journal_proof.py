"""
Whether the journal is what was written: every digest, link and sequence computed again.

What this cannot see: a journal written anew from some entry on, every digest with it. Against that,
compare the digest
of the last entry with one that left the machine: on a certificate, in a backup, on paper.
"""

import sqlite3
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from registry.errors import InvalidRecordError
from registry.records.entry import GENESIS, Entry
from registry.storage.register import GeoPackageRegister
from registry.storage.sqlite_errors import told_plainly

__all__ = ["Problem", "verify_journal"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Problem:
    """One thing that is not as it was written."""

    #: Position in the journal as it lies in the file, from 1; 0 for the journal as a whole.
    position: int
    #: The entry by its name, as "a1b2c3d4-17", or the table.
    reference: str
    #: "changed", "removed", "reordered" or "inserted".
    kind: str
    sentence: str


@dataclass(frozen=True, slots=True, kw_only=True)
class _Line:
    """One row of the journal, as much as the chain needs."""

    position: int
    origin: str
    sequence: int
    previous: str
    digest: str
    sound: bool

    @property
    def reference(self) -> str:
        return f"{self.origin}-{self.sequence}"


def verify_journal(register: GeoPackageRegister) -> tuple[Problem, ...]:
    """
    Recompute every digest, link and sequence of the journal.

    Parameters
    ----------
    register : GeoPackageRegister
        The registry, which may be in use.

    Returns
    -------
    tuple of Problem
        In order of position; empty for a journal that is as it was written.

    Notes
    -----
    The entries are followed by their links, from the first; what the links do not reach,
    or reach in another order
    than that of the file, is named.
    """
    with register.reading(), told_plainly(register.place):
        lines, highest = _lines(register.connection)
    problems = [_changed(line) for line in lines if not line.sound]
    problems += _follow(lines)
    if not problems:
        problems += _sequences(lines)
    last = lines[-1].position if lines else 0
    if highest > last:
        name = lines[-1].reference if lines else "nothing"
        what = f"Entries after {name} were removed from the end of the journal: {highest - last} of them."
        problems.append(Problem(position=last, reference=name, kind="removed", sentence=what))
    return tuple(sorted(problems, key=lambda problem: problem.position))


def _lines(connection: sqlite3.Connection) -> tuple[list[_Line], int]:
    """Read the journal, one entry in memory at a time, and the highest position that was ever given."""
    lines = []
    rows = connection.execute(
        "SELECT position, origin, sequence, previous, digest, time, actor, kind, body FROM journal"
        " ORDER BY position"
    )
    for row in rows:
        position, origin, sequence, previous, digest = row[:5]
        lines.append(
            _Line(
                position=position,
                origin=str(origin),
                sequence=sequence if isinstance(sequence, int) else 0,
                previous=str(previous),
                digest=str(digest),
                sound=_is_sound(row),
            )
        )
    highest = connection.execute("SELECT seq FROM sqlite_sequence WHERE name = 'journal'").fetchone()
    return lines, int(highest[0]) if highest else 0


def _is_sound(row: Sequence[Any]) -> bool:
    """Tell whether an entry carries the digest of what it says."""
    _, origin, sequence, previous, digest, time, actor, kind, body = row
    try:
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
        return entry.expected_digest() == str(digest)
    except (TypeError, ValueError, AttributeError, OverflowError, InvalidRecordError):
        return False


def _changed(line: _Line) -> Problem:
    what = f"Entry {line.reference} was changed: its digest is not that of what it says."
    return Problem(position=line.position, reference=line.reference, kind="changed", sentence=what)


def _follow(lines: Sequence[_Line]) -> list[Problem]:
    """Follow the links from the first entry, and name where they break, turn back or leave something out."""
    after: dict[str, list[_Line]] = {}
    for line in lines:
        after.setdefault(line.previous, []).append(line)
    digests = {line.digest for line in lines}
    problems: list[Problem] = []
    seen: set[int] = set()
    last: _Line | None = None
    # Where a link leads nowhere, the next to be followed is one whose own predecessor is missing.
    waiting = (line for line in lines if line.previous not in digests or not line.sound)
    while True:
        following = _successor(last, after, seen)
        if following is None:
            following = next((line for line in waiting if line.position not in seen), None)
            if following is None:
                break
            problem = _broken(last, following)
            if problem:
                problems.append(problem)
        elif last and following.position < last.position:
            what = f"Entry {following.reference} stands before {last.reference}, though written after it."
            problems.append(_problem(following, "reordered", what))
        seen.add(following.position)
        last = following
    for line in lines:
        if line.position not in seen and line.sound:
            what = f"Entry {line.reference} was inserted: no entry after it builds on it."
            problems.append(_problem(line, "inserted", what))
    return problems


def _successor(last: _Line | None, after: dict[str, list[_Line]], seen: set[int]) -> _Line | None:
    """Give the entry that builds on the last; of several, the one that counts on and is built on."""
    candidates = [
        line for line in after.get(last.digest if last else GENESIS, ()) if line.position not in seen
    ]
    if len(candidates) < 2:
        return candidates[0] if candidates else None
    expected = f"{last.origin}-{last.sequence + 1}" if last else ""
    return max(candidates, key=lambda line: (line.reference == expected, line.digest in after))


def _problem(line: _Line, kind: str, sentence: str) -> Problem:
    return Problem(position=line.position, reference=line.reference, kind=kind, sentence=sentence)


def _broken(before: _Line | None, line: _Line) -> Problem | None:
    """Name what happened between two entries whose link does not hold, unless it was named already."""
    if not line.sound:
        return None
    counted = before.sequence if before and before.origin == line.origin else 0
    if before is None or counted == 0 or line.sequence > counted + 1:
        missing = line.sequence - counted - 1
        number = "1 entry was" if missing == 1 else f"{missing} entries were"
        where = f"between {before.reference} and {line.reference}" if before else f"before {line.reference}"
        return _problem(line, "removed", f"{number} removed {where}.")
    if line.sequence == counted + 1:
        if not before.sound:
            return None
        what = f"Entry {before.reference} was replaced: {line.reference} builds on one with another digest."
        return _problem(before, "changed", what)
    what = f"Entry {line.reference} was inserted after {before.reference}: what it builds on is not there."
    return _problem(line, "inserted", what)


def _sequences(lines: Sequence[_Line]) -> list[Problem]:
    """Check that positions, and the entries of each device, count from 1 without a gap."""
    last: dict[str, int] = {}
    for position, line in enumerate(lines, start=1):
        expected = last.get(line.origin, 0) + 1
        if line.sequence != expected or line.position != position:
            where = f"at position {line.position}"
            what = f"Entry {line.reference} {where} stands where {line.origin}-{expected} belongs."
            return [_problem(line, "reordered", what)]
        last[line.origin] = line.sequence
    return []
