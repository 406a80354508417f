"""
Whether the journal is what was written: every digest, link and sequence computed again.

What this cannot see: a journal written anew from some entry on, every digest with it, or cut at its end by
someone who also set the counter of the file back. Against that, compare a digest that left the machine, on an
audit, on a certificate or in a backup: ``storage.journal_head``. The certificates in the journal are such
papers themselves: each cites the digest of the entry before it, and the family holds it signed.
"""

import json
import re
import sqlite3
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from registry.records.branches import Branches, Link, cited, in_order, joined, open_ends, printed_head
from registry.records.entry import GENESIS, digest_of
from registry.storage.machine import ENDS, has_received, notes
from registry.storage.register import GeoPackageRegister
from registry.storage.sqlite_errors import told_plainly

__all__ = ["Problem", "entry_rows", "verify_journal"]

#: Entries after which progress is told.
STEP = 1_000
#: An instant as ``instant_text`` writes it.
_INSTANT = re.compile(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d\.\d{3}Z")
_DIGEST = re.compile(r"[0-9a-f]{64}")
_ROWS = "SELECT position, origin, sequence, previous, digest, time, actor, kind, body FROM journal"
Row = tuple[Any, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Problem:
    """One thing that is not as it was written."""

    #: Position in the journal as it lies in the file, from 1; 0 for the journal as a whole.
    position: int
    #: The entry by its name, as "a1b2c3d4-17", or by its place where it has none; or the table.
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
    time: str
    previous: str
    digest: str
    sound: bool
    #: False where it is a certificate that cites another head than the entry before it.
    cites_its_place: bool

    @property
    def reference(self) -> str:
        # Where the sequence is none, the name would be that of an entry which does not exist.
        return (
            f"{self.origin}-{self.sequence}" if self.sequence > 0 else f"number {self.position} in the file"
        )


def verify_journal(
    register: GeoPackageRegister, *, progress: Callable[[int], None] = lambda _count: None
) -> tuple[Problem, ...]:
    """
    Recompute every digest, link and sequence of the journal.

    Parameters
    ----------
    register : GeoPackageRegister
        The registry, which may be in use.
    progress : callable
        Told how many more entries are done.

    Returns
    -------
    tuple of Problem
        In order of position; empty for a journal that is as it was written.

    Notes
    -----
    A journal of one machine that is as it was written is read once and kept nowhere. Only where it is not are
    the entries followed by their links, from the first; what the links do not reach, or reach in another
    order than that of the file, is named. Where bundles were taken in, all links are in memory.
    """
    with register.reading(), told_plainly(register.place):
        ends = notes(register.connection).get(ENDS)
        if ends is None and _is_as_written(register.connection, progress):
            return ()
        lines, highest = _lines(register.connection), _counter(register.connection)
        branched = ends is not None or has_received(register.connection)
    problems = [_changed(line) for line in lines if not line.sound]
    if branched or any("," in line.previous for line in lines):
        problems += _branch(lines, ends)
    else:
        problems += _follow(lines)
    if not problems:
        problems += _sequences(lines)
        problems += [_foreign(line) for line in lines if not line.cites_its_place]
    problems += _ending(lines, highest, alone=not problems)
    return tuple(sorted(problems, key=lambda problem: problem.position))


def entry_rows(connection: sqlite3.Connection) -> Iterator[Row]:
    """
    Give position, origin, sequence, previous, digest, time, actor, kind and body of each entry, in order.

    By position, so that one entry is in memory at a time.
    """
    return connection.execute(f"{_ROWS} ORDER BY position")


def _is_as_written(connection: sqlite3.Connection, progress: Callable[[int], None]) -> bool:
    """Tell whether every entry follows from the one before it."""
    before, count = GENESIS, 0
    last: dict[str, int] = {}
    for row in entry_rows(connection):
        count += 1
        position, origin, sequence, previous, digest = row[:5]
        if not (position == count and previous == before and sequence == last.get(origin, 0) + 1):
            return False
        if not (_is_sound(row) and _cites_its_place(row)):
            return False
        before, last[origin] = digest, sequence
        if count % STEP == 0:
            progress(STEP)
    progress(count % STEP)
    return _counter(connection) == count


def _counter(connection: sqlite3.Connection) -> int:
    """Give the highest position that was ever given, as the file keeps it beside the journal."""
    found = connection.execute("SELECT seq FROM sqlite_sequence WHERE name = 'journal'").fetchall()
    return max((int(row[0]) for row in found if isinstance(row[0], int)), default=0)


def _lines(connection: sqlite3.Connection) -> list[_Line]:
    """Read the journal, the body of one entry in memory at a time."""
    lines: list[_Line] = []
    for row in entry_rows(connection):
        position, origin, sequence, previous, digest = row[:5]
        lines.append(
            _Line(
                position=position,
                origin=str(origin),
                sequence=sequence if isinstance(sequence, int) else 0,
                time=str(row[5]),
                # The same text twice is kept once: there may be millions.
                previous=lines[-1].digest if lines and lines[-1].digest == previous else str(previous),
                digest=str(digest),
                sound=_is_sound(row),
                cites_its_place=_cites_its_place(row),
            )
        )
    return lines


def _is_sound(row: Row) -> bool:
    """Tell whether an entry carries the digest of what it says."""
    _, origin, sequence, previous, digest, time, actor, kind, body = row
    try:
        if not (isinstance(sequence, int) and _INSTANT.fullmatch(time)):
            return False
        return digest_of((origin, sequence, time, actor, kind, body, previous)) == str(digest)
    except (TypeError, ValueError):
        return False


def _cites_its_place(row: Row) -> bool:
    """Tell whether a certificate cites the journal's head as it was when it was issued."""
    previous, kind, body = row[3], row[7], row[8]
    if kind != "certificate.issued":
        return True
    try:
        cited = json.loads(body)["statement"]["journal"]
    except (ValueError, TypeError, KeyError):
        return True
    return bool(cited == printed_head(previous)) or not (isinstance(cited, str) and _DIGEST.fullmatch(cited))


def _changed(line: _Line) -> Problem:
    what = f"Entry {line.reference} was changed: its digest is not that of what it says."
    return Problem(position=line.position, reference=line.reference, kind="changed", sentence=what)


def _foreign(line: _Line) -> Problem:
    what = (
        f"Entries before {line.reference} were written anew: the certificate that it issued cites another"
        " head of the journal than that of the entry before it."
    )
    return Problem(position=line.position, reference=line.reference, kind="changed", sentence=what)


def _ending(lines: Sequence[_Line], highest: int, *, alone: bool) -> list[Problem]:
    """Hold the end of the journal against the counter that the file keeps; where it is `alone`, both ways."""
    last = lines[-1].position if lines else 0
    name = lines[-1].reference if lines else "nothing"
    if highest > last:
        what = f"Entries after {name} were removed from the end of the journal: {highest - last} of them."
    elif highest < last and alone:
        what = (
            f"The counter of the journal was set back to {highest}, though {last} entries are there:"
            f" what stood after {name} may have been removed."
        )
    else:
        return []
    return [Problem(position=last, reference=name, kind="removed", sentence=what)]


def _branch(lines: Sequence[_Line], ends: str | None) -> list[Problem]:
    """Follow the links of a journal in which several machines wrote apart."""
    branches, problems = Branches(), list[Problem]()
    links = [Link(line.origin, line.sequence, line.time, line.previous, line.digest) for line in lines]
    last: dict[str, int] = {}
    there = {(line.origin, line.sequence) for line in lines}
    for line, link in zip(lines, links, strict=True):
        gap = line.sequence - last.get(line.origin, 0) - 1
        absent = [digest for digest in cited(line.previous) if branches.position(digest) is None]
        if gap > 0 and (line.origin, line.sequence - 1) in there:
            before = f"{line.origin}-{line.sequence - 1}"
            what = f"Entry {line.reference} stands before {before}, though written after it."
            problems.append(_problem(line, "reordered", what))
        elif gap > 0:
            number = "1 entry was" if gap == 1 else f"{gap} entries were"
            first = f"{line.origin}-{line.sequence - gap}"
            what = f"{number} removed before {line.reference}: {first}{' and more' if gap > 1 else ''}."
            problems.append(_problem(line, "removed", what))
        elif absent and line.sound:
            what = f"What {line.reference} builds on was removed, replaced or moved behind it."
            problems.append(_problem(line, "removed", what))
        follows = branches.add(link)
        if line.sound and not (follows or gap or absent):
            what = (
                f"Entry {line.reference} was inserted: it does not build on the one before it of its device."
            )
            problems.append(_problem(line, "inserted", what))
        last[line.origin] = line.sequence
    if problems or not all(line.sound for line in lines):
        return problems
    for line, link in zip(lines, in_order(links), strict=True):
        if line.digest != link.digest:
            return [
                _problem(line, "reordered", f"Entry {line.reference} stands where {link.reference} belongs.")
            ]
    found = open_ends(links)
    if joined(found) != (ends or (lines[-1].digest if lines else "")):
        what = (
            "The journal does not end where it was left: entries were removed from an end of it, or inserted."
        )
        return [_problem(lines[-1], "removed", what)]
    return []


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
            problem = _broken(last, following, lines)
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


def _broken(before: _Line | None, line: _Line, lines: Sequence[_Line]) -> Problem | None:
    """Name what happened between two entries whose link does not hold, unless it was named already."""
    if not line.sound:
        return None
    counted = before.sequence if before and before.origin == line.origin else 0
    if before is not None and (counted == 0 or line.sequence == counted + 1):
        # Which entry of which device is missing tells more than how one device counts.
        gone = _missing_between(before, line, lines)
        if gone:
            number = "1 entry was" if len(gone) == 1 else f"{len(gone)} entries were"
            named = ", ".join(gone[:5]) + (" and more" if len(gone) > 5 else "")
            where = f"between {before.reference} and {line.reference}: {named}"
            return _problem(line, "removed", f"{number} removed {where}.")
    if before is None or counted == 0 or line.sequence > counted + 1:
        missing = line.sequence - counted - 1
        number = "1 entry was" if missing == 1 else f"{missing} entries were"
        where = f"between {before.reference} and {line.reference}" if before else f"before {line.reference}"
        return _problem(line, "removed", f"{number} removed {where}.")
    if line.sequence == counted + 1:
        return _replaced(before, line, lines) if before.sound else None
    what = f"Entry {line.reference} was inserted after {before.reference}: what it builds on is not there."
    return _problem(line, "inserted", what)


def _missing_between(before: _Line, line: _Line, lines: Sequence[_Line]) -> list[str]:
    """Name the entries that other devices counted between two lines and that are nowhere in the journal."""
    there = {(each.origin, each.sequence) for each in lines}
    counted: dict[str, int] = {}
    for each in lines:
        if each.position <= before.position:
            counted[each.origin] = max(counted.get(each.origin, 0), each.sequence)
    gone: list[str] = []
    for each in lines:
        if each.position >= line.position and each.sound:
            last = counted.get(each.origin, 0)
            between = range(last + 1, each.sequence)
            gone += [
                f"{each.origin}-{sequence}" for sequence in between if (each.origin, sequence) not in there
            ]
            counted[each.origin] = max(last, each.sequence)
    return gone


def _replaced(before: _Line, line: _Line, lines: Sequence[_Line]) -> Problem:
    """Tell an entry that was sealed anew from one behind it, of another device, that was taken away."""
    if len({each.origin for each in lines}) > 1:
        if line.position > before.position + 1:
            what = f"An entry of another device was removed between {before.reference} and {line.reference}."
            return _problem(line, "removed", what)
        what = (
            f"Entry {before.reference} was replaced, or what another device wrote after it was removed:"
            f" {line.reference} builds on something else."
        )
        return _problem(before, "changed", what)
    what = f"Entry {before.reference} was replaced: {line.reference} builds on one with another digest."
    return _problem(before, "changed", what)


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
