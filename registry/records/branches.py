"""
The journal of several devices: what each entry had before it, and the one order in which all stand.

Every entry cites what was the end of the journal on the device that wrote it. Where two devices wrote apart,
the journal branches; where one of them has taken in the other's entries, it has several ends, and the next
entry cites them all. So what somebody knew who wrote an entry follows from the entries alone. The order does
too, and hangs on nothing but the entries that are there: whoever holds the same, holds them in that order.
"""

import hashlib
import heapq
from bisect import bisect_right
from collections.abc import Iterable, Mapping, Sequence
from typing import NamedTuple

from registry.errors import RejectedError
from registry.records.entry import GENESIS

__all__ = ["Branches", "Link", "cited", "in_order", "joined", "open_ends", "printed_head"]

_BETWEEN = ","


class Link(NamedTuple):
    """As much of an entry as its place in the journal hangs on; `time` is UTC as the journal writes it."""

    origin: str
    sequence: int
    time: str
    previous: str
    digest: str

    @property
    def reference(self) -> str:
        """The name of the entry."""
        return f"{self.origin}-{self.sequence}"


def cited(previous: str) -> tuple[str, ...]:
    """Give the digests that an entry cites as what stood before it; none for the first."""
    return () if previous == GENESIS else tuple(previous.split(_BETWEEN))


def joined(heads: Iterable[str]) -> str:
    """Write the ends of a journal as the next entry cites them."""
    return _BETWEEN.join(sorted(set(heads)))


def printed_head(previous: str) -> str:
    """
    Give the one digest that a paper prints for the ends of a journal.

    Definition: the digest itself of one end; of several, the SHA-256 of how the next entry cites them.

    Examples
    --------
    >>> printed_head("ab" * 32) == "ab" * 32
    True
    >>> len(printed_head(joined(["ab" * 32, "cd" * 32])))
    64
    """
    return hashlib.sha256(previous.encode()).hexdigest() if _BETWEEN in previous else previous


def open_ends(links: Iterable[Link]) -> tuple[str, ...]:
    """Give the digests of the entries that no other one cites, in their order."""
    ends: dict[str, None] = {}
    gone: set[str] = set()
    for link in links:
        gone.update(cited(link.previous))
        ends[link.digest] = None
    return tuple(sorted(ends.keys() - gone))


def in_order(links: Iterable[Link]) -> list[Link]:
    """
    Put the entries of several devices in the one order in which they are played.

    Definition: no entry stands before one that it builds on, or before the one that its device wrote before
    it; of those that may come next, the earliest by its own clock comes first, then the one with the lower
    origin. Fewer entries, if what they build on is among them, stand in the same order without the others.

    Parameters
    ----------
    links : iterable of Link
        In any order, each once, with everything that they build on.

    Raises
    ------
    RejectedError
        If some build on each other in a circle, or on what is not there.

    Notes
    -----
    Topological sorting with a heap: A. B. Kahn, Topological sorting of large networks, Communications of the
    ACM 5 (1962), 558-562; by memory.
    """
    entries = list(links)
    by_digest = {link.digest: i for i, link in enumerate(entries)}
    by_name = {(link.origin, link.sequence): i for i, link in enumerate(entries)}
    waits = [0] * len(entries)
    followers: list[list[int]] = [[] for _ in entries]
    for i, link in enumerate(entries):
        before = {by_digest.get(digest) for digest in cited(link.previous)}
        if link.sequence > 1:
            before.add(by_name.get((link.origin, link.sequence - 1)))
        for j in before:
            if j is None:
                raise _unfounded(link)
            followers[j].append(i)
        waits[i] = len(before)

    def rank(i: int) -> tuple[str, str, int, int]:
        return (entries[i].time, entries[i].origin, entries[i].sequence, i)

    ready = [rank(i) for i, count in enumerate(waits) if not count]
    heapq.heapify(ready)
    ordered: list[Link] = []
    while ready:
        i = heapq.heappop(ready)[-1]
        ordered.append(entries[i])
        for j in followers[i]:
            waits[j] -= 1
            if not waits[j]:
                heapq.heappush(ready, rank(j))
    if len(ordered) < len(entries):
        raise _unfounded(next(link for link, count in zip(entries, waits, strict=True) if count))
    return ordered


def _unfounded(link: Link) -> RejectedError:
    what = f"Entry {link.reference} builds on an entry that is not there."
    return RejectedError(what, remedy="Find what is wrong with: leadline journal verify.")


class Branches:
    """
    What each entry of a journal knew of the others, told entry by entry in their order.

    What an entry knew is kept only where it is more than the entry of its device before it knew: a device
    that goes on by itself costs little.
    """

    def __init__(self) -> None:
        self._names: list[tuple[str, int]] = []
        self._bodies: list[int] = []
        self._places: dict[str, int] = {}
        self._known: dict[str, list[tuple[int, Mapping[str, int]]]] = {}

    def __len__(self) -> int:
        """Give how many entries were told."""
        return len(self._names)

    def add(self, link: Link, body: str = "") -> bool:
        """
        Take note of the next entry; tell whether it follows from those before it.

        It does if all that it cites stands before it, and the entry that its device wrote before it is among
        what it knew.
        """
        places = [self._places.get(digest) for digest in cited(link.previous)]
        before = [self._names[place] for place in places if place is not None]
        if before != [(link.origin, link.sequence - 1)]:
            known: dict[str, int] = {}
            for origin, sequence in before:
                for other, up_to in (*self.known_to(origin, sequence).items(), (origin, sequence)):
                    known[other] = max(known.get(other, 0), up_to)
            self._known.setdefault(link.origin, []).append((link.sequence, known))
            follows = None not in places and known.get(link.origin, 0) == link.sequence - 1
        else:
            follows = True
        self._places[link.digest] = len(self._names)
        self._names.append((link.origin, link.sequence))
        self._bodies.append(hash(body))
        return follows

    def name(self, position: int) -> tuple[str, int]:
        """Give origin and sequence of the entry at a position, from 1."""
        return self._names[position - 1]

    def position(self, digest: str) -> int | None:
        """Give the position, from 1, of the entry with a digest."""
        place = self._places.get(digest)
        return None if place is None else place + 1

    def says_the_same(self, position: int, body: str) -> bool:
        """Tell whether the entry at a position has this body."""
        return self._bodies[position - 1] == hash(body)

    def known_to(self, origin: str, sequence: int) -> dict[str, int]:
        """Give the last sequence of each device that an entry knew, itself included."""
        steps = self._known.get(origin, [])
        at = bisect_right(steps, sequence, key=lambda step: step[0])
        return {**(steps[at - 1][1] if at else {}), origin: sequence}

    def knows(self, entry: tuple[str, int], other: tuple[str, int]) -> bool:
        """Tell whether who wrote one entry had the other before them, or it is the same."""
        if entry[0] == other[0]:
            return other[1] <= entry[1]
        steps: Sequence[tuple[int, Mapping[str, int]]] = self._known.get(entry[0], ())
        at = bisect_right(steps, entry[1], key=lambda step: step[0])
        return bool(at) and steps[at - 1][1].get(other[0], 0) >= other[1]
