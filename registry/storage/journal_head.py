"""
The digest on an old paper, held against the journal: what the registry said on the day of that paper.

A digest of the journal's head covers every entry up to it. Whoever holds a paper with that digest can so show
what the file alone cannot: a journal that was written anew from some entry on has other digests from there.
"""

import re
import sqlite3
from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass, field

from registry.errors import RequestError
from registry.records.branches import printed_head
from registry.records.entry import GENESIS
from registry.storage.journal_links import branches_of, has_several_devices
from registry.storage.machine import has_received
from registry.storage.register import GeoPackageRegister
from registry.storage.sqlite_errors import told_plainly

__all__ = ["LEAST_DIGITS", "Head", "find_head", "like_heads", "read_digest"]

#: Fewer digits of a digest could be met by chance, or by somebody who tries long enough.
LEAST_DIGITS = 16
_DIGITS = len(GENESIS)


@dataclass(frozen=True, slots=True, kw_only=True)
class Head:
    """An entry that was the head of the journal when a paper was printed."""

    #: Position in the journal, from 1.
    position: int
    #: So many entries the digest covers: all that it builds on, and itself.
    covered: int
    reference: str
    #: UTC, as written in the journal.
    time: str
    digest: str
    #: What was added since, by kind in order of first appearance; and when the last of it was written.
    since: Mapping[str, int] = field(default_factory=dict)
    last_time: str = ""

    @property
    def added(self) -> int:
        """How many entries were added since."""
        return sum(self.since.values())


def read_digest(text: str) -> str:
    """
    Read a digest as it is printed: blanks, hyphens and capitals do not matter.

    Raises
    ------
    RequestError
        If it is no hexadecimal number of 16 to 64 digits.

    Examples
    --------
    >>> read_digest("A1B2 c3d4-e5f6 0718")
    'a1b2c3d4e5f60718'
    """
    digits = re.sub(r"[\s\u00ad\u200b\u2010-\u2014-]", "", text).lower()
    if not re.fullmatch(f"[0-9a-f]{{{LEAST_DIGITS},{_DIGITS}}}", digits):
        what = (
            f"{text!r} is not a digest: that has {LEAST_DIGITS} to {_DIGITS} digits from 0 to 9 and a to f."
        )
        raise RequestError(what, remedy="Type it as the paper prints it, best all 64 digits.")
    return digits


def find_head(register: GeoPackageRegister, digits: str) -> Head | None:
    """
    Find the entry with a digest, or the one whose digest begins with the digits given.

    Parameters
    ----------
    register : GeoPackageRegister
        The registry; whether its journal is as it was written is for ``journal_proof`` to say.
    digits : str
        As :func:`read_digest` gives them.

    Returns
    -------
    Head or None
        None where no entry has it.
    """
    with register.reading(), told_plainly(register.place):
        connection = register.connection
        found = connection.execute(
            "SELECT position, origin || '-' || sequence, time, digest FROM journal"
            " WHERE digest >= ?1 AND digest < ?1 || 'g' ORDER BY position LIMIT 1",
            (digits,),
        ).fetchone()
        if has_several_devices(connection):
            return _among_branches(connection, found[3] if found else _printed_ends(connection, digits))
        if found is None:
            return None
        added = connection.execute(
            "SELECT kind, count(*), max(time) FROM journal WHERE position > ?"
            " GROUP BY kind ORDER BY min(position)",
            found[:1],
        ).fetchall()
    position, reference, time, digest = found
    return Head(
        position=position,
        covered=position,
        reference=reference,
        time=time,
        digest=digest,
        since={kind: count for kind, count, _ in added},
        last_time=max((last for _, _, last in added), default=""),
    )


def _printed_ends(connection: sqlite3.Connection, digits: str) -> str | None:
    """Find the ends of the journal that a paper gave one digest: an entry cites them, or an import told."""
    ends = [row[0] for row in connection.execute("SELECT previous FROM journal WHERE previous LIKE '%,%'")]
    if has_received(connection):
        ends += [row[0] for row in connection.execute("SELECT ends FROM received")]
    return next((each for each in ends if printed_head(each).startswith(digits)), None)


def _among_branches(connection: sqlite3.Connection, ends: str | None) -> Head | None:
    """Tell of an end of the journal, or of several, what they cover, where machines wrote apart."""
    if ends is None:
        return None
    branches = branches_of(connection)
    positions = [branches.position(digest) for digest in ends.split(",")]
    names = [branches.name(position) for position in positions if position]
    if len(names) < len(positions):
        return None
    known: dict[str, int] = {}
    for name in names:
        for origin, sequence in branches.known_to(*name).items():
            known[origin] = max(known.get(origin, 0), sequence)
    since: Counter[str] = Counter()
    times: list[str] = []
    for origin, sequence, time, kind in connection.execute(
        "SELECT origin, sequence, time, kind FROM journal ORDER BY position"
    ):
        if sequence > known.get(origin, 0):
            since[kind] += 1
            times.append(time)
    position = max(filter(None, positions))
    (time,) = connection.execute("SELECT time FROM journal WHERE position = ?", (position,)).fetchone()
    return Head(
        position=position,
        covered=sum(known.values()),
        reference=" with ".join(f"{origin}-{sequence}" for origin, sequence in sorted(names)),
        time=time,
        digest=printed_head(ends),
        since=dict(since),
        last_time=max(times, default=""),
    )


def like_heads(register: GeoPackageRegister, digits: str) -> tuple[str, ...]:
    """Give the names of entries whose digest begins or ends as the digits do: of one that was mistyped."""
    with register.reading(), told_plainly(register.place):
        rows = register.connection.execute(
            "SELECT origin || '-' || sequence FROM journal"
            " WHERE substr(digest, 1, 8) = ?1 OR substr(digest, -8) = ?2 ORDER BY position LIMIT 3",
            (digits[:8], digits[-8:] if len(digits) == _DIGITS else ""),
        ).fetchall()
    return tuple(row[0] for row in rows)
