"""What the entries of a registry knew of each other, and what of them was known here at an instant."""

import json
import sqlite3
from collections.abc import Iterator

from registry.records.branches import Branches, Link
from registry.storage.machine import has_received

__all__ = ["branches_of", "has_several_devices", "known_here", "links"]


def has_several_devices(connection: sqlite3.Connection) -> bool:
    """Tell whether the entries of a journal come from more than one device."""
    (lowest,) = connection.execute("SELECT min(origin) FROM journal").fetchone()
    (highest,) = connection.execute("SELECT max(origin) FROM journal").fetchone()
    return bool(lowest != highest)


def links(connection: sqlite3.Connection) -> Iterator[tuple[Link, str]]:
    """Give what the place of each entry hangs on, and its body, in order."""
    for *fields, body in connection.execute(
        "SELECT origin, sequence, time, previous, digest, body FROM journal ORDER BY position"
    ):
        yield Link(*fields), body


def branches_of(connection: sqlite3.Connection) -> Branches:
    """Give what each entry of a journal knew of the others."""
    branches = Branches()
    for link, body in links(connection):
        branches.add(link, body)
    return branches


def known_here(connection: sqlite3.Connection, time: str) -> dict[str, int] | None:
    """
    Tell what of the journal this file held at an instant: the last sequence of each device.

    What was written here, or stood in the file that this one was copied from, counts from its own
    time; what came in a bundle, from the import on. Whatever an entry built on was known with it, even
    where a clock says otherwise.

    Parameters
    ----------
    connection : sqlite3.Connection
        The registry.
    time : str
        UTC, as the journal writes it.

    Returns
    -------
    dict or None
        None where no bundle was ever taken in: then everything up to the last entry written by then.
    """
    if not has_received(connection):
        return None
    came: dict[str, list[tuple[int, int, str]]] = {}
    for brought, received_at in connection.execute("SELECT brought, received_at FROM received ORDER BY fid"):
        for origin, (first, last) in json.loads(brought).items():
            came.setdefault(origin, []).append((first, last, received_at))
    branches = Branches()
    known: dict[str, int] = {}
    for link, _ in links(connection):
        branches.add(link)
        arrived = next((at for first, last, at in came.get(link.origin, ())
                        if first <= link.sequence <= last), link.time)  # fmt: skip
        if arrived <= time:
            known[link.origin] = max(known.get(link.origin, 0), link.sequence)
    for origin, sequence in list(known.items()):
        for other, up_to in branches.known_to(origin, sequence).items():
            known[other] = max(known.get(other, 0), up_to)
    return known
