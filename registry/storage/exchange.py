"""The port ``Exchange``: what a registry hands to other machines and takes in from them."""

import json
import sqlite3
from collections.abc import Iterator, Mapping, Sequence

from registry.errors import RejectedError
from registry.records.branches import Link, in_order, joined, open_ends, printed_head
from registry.records.bundle import Contest, Receipt, Twice
from registry.records.device import Device
from registry.records.entry import Entry, instant_text
from registry.storage.geopackage_schema import create_local
from registry.storage.journal_doubts import restore_guards
from registry.storage.journal_links import branches_of, links
from registry.storage.journal_proof import verify_journal
from registry.storage.machine import ENDS, has_received, is_copy, mark_as_copy, note, notes, take_fresh_origin
from registry.storage.projected_tables import link_of
from registry.storage.projection import Projection
from registry.storage.register import GeoPackageRegister, insert_entry
from registry.storage.replay import fill_tables
from registry.storage.sqlite_errors import told_plainly

__all__ = ["RegisterExchange"]


class RegisterExchange:
    """
    One registry as other machines see it.

    Parameters
    ----------
    register : GeoPackageRegister
        The registry; what is written is part of its transaction.
    """

    def __init__(self, register: GeoPackageRegister) -> None:
        self._register = register

    def registry(self) -> tuple[str, str]:
        """Give the origin of the registry and the digest of its first entry."""
        row = self._rows("SELECT origin, digest FROM journal ORDER BY position LIMIT 1")[0]
        return row[0], row[1]

    def writes_as(self) -> str:
        """Give the origin of what is written here."""
        return self._register.writes_as()

    def is_copy(self) -> bool:
        """Tell whether the file is a copy to which nothing was written yet."""
        with told_plainly(self._register.place):
            return is_copy(notes(self._register.connection))

    def begin_anew(self) -> str:
        """Write under a fresh origin from now on, and give it."""
        with self._register.writing(), told_plainly(self._register.place):
            return take_fresh_origin(self._register.connection)

    def held(self) -> dict[str, int]:
        """Give the last sequence of each device."""
        rows = self._rows("SELECT origin, max(sequence) FROM journal GROUP BY origin ORDER BY origin")
        return {str(origin): int(sequence) for origin, sequence in rows}

    def digest(self, origin: str, sequence: int) -> str | None:
        """Give the digest of an entry; None where it is not here."""
        rows = self._rows("SELECT digest FROM journal WHERE origin = ? AND sequence = ?", (origin, sequence))
        return rows[0][0] if rows else None

    def is_held(self, digest: str) -> bool:
        """Tell whether an entry of a digest is here."""
        return bool(self._rows("SELECT 1 FROM journal WHERE digest = ?", (digest,)))

    def beyond(self, held: Mapping[str, int]) -> Iterator[Entry]:
        """Give the entries that somebody lacks who holds so many of each device, in order."""
        return (entry for entry in self._register.journal() if entry.sequence > held.get(entry.origin, 0))

    def devices(self) -> tuple[Device, ...]:
        """Give the machines that have a name, in order of their first entry."""
        names = tuple(Device.__dataclass_fields__)
        rows = self._rows(f"SELECT {', '.join(names)} FROM devices ORDER BY fid")
        return tuple(
            Device(**{name: value or "" for name, value in zip(names, row, strict=True)}) for row in rows
        )

    def contests(self) -> tuple[Contest, ...]:
        """Give what is open between machines, oldest first."""
        names = tuple(Contest.__dataclass_fields__)
        rows = self._rows(f"SELECT {', '.join(names)} FROM contests ORDER BY fid")
        return tuple(Contest(**dict(zip(names, row, strict=True))) for row in rows)

    def placed_twice(self) -> tuple[Twice, ...]:
        """Give the modules of which placements of several machines stand, in order of tag."""
        rows = self._rows(
            "SELECT tag, json_group_array(placement_id) FROM (SELECT tag, placement_id FROM placements"
            "  ORDER BY placed_at, placement_id) GROUP BY tag HAVING count(*) > 1 ORDER BY tag"
        )
        told = ((tag, tuple(json.loads(ids))) for tag, ids in rows)
        return tuple(
            Twice(tag=tag, placements=ids)
            for tag, ids in told
            if len({each.rpartition("-")[0] for each in ids}) > 1
        )

    def receipts(self) -> tuple[Receipt, ...]:
        """Give the bundles that were taken in here, oldest first."""
        if not has_received(self._register.connection):
            return ()
        rows = self._rows(
            "SELECT received_at, actor, bundle_sha256, key_id, sender, brought, sender_held FROM received"
            " ORDER BY fid"
        )
        return tuple(
            Receipt(
                received_at=received_at,
                actor=actor,
                bundle_sha256=sha256,
                key_id=key_id,
                sender=sender,
                brought={origin: tuple(span) for origin, span in json.loads(brought).items()},
                sender_held=json.loads(sender_held),
            )
            for received_at, actor, sha256, key_id, sender, brought, sender_held in rows
        )

    def take_in(self, entries: Sequence[Entry], receipt: Receipt) -> None:
        """
        Put entries of other machines into the journal where they belong, and bring every table up to date.

        Whether anything that stands moves or not, the tables are then those of ``journal rebuild``.

        Parameters
        ----------
        entries : sequence of Entry
            None of them is here; what each builds on is here or among them.
        receipt : Receipt
            Kept beside the journal.

        Raises
        ------
        RejectedError
            If the journal would not prove itself with them.
        LeadlineError
            If one of them cannot be played.
        """
        register, connection = self._register, self._register.connection
        with register.writing(), told_plainly(register.place):
            create_local(connection)
            own = register.writes_as()
            old = [link for link, _ in links(connection)]
            ordered = in_order([*old, *map(link_of, entries)])
            if ordered[: len(old)] == old:
                self._append(entries, ordered[len(old) :])
            else:
                self._insert(entries, ordered)
                fill_tables(register)
            ends = joined(open_ends(ordered))
            note(connection, ENDS, ends if ends != printed_head(ends) else None)
            self._keep(receipt, ends)
            if any(entry.origin == own for entry in entries):
                # Another file writes, or wrote, as this one does: from now on they count apart.
                mark_as_copy(connection)
            problems = verify_journal(register)
            if problems:
                what = f"With this bundle the journal would not be sound. {problems[0].sentence}"
                raise RejectedError(what, remedy="Nothing was taken in. Look at: leadline journal verify.")

    def _append(self, entries: Sequence[Entry], ordered: Sequence[Link]) -> None:
        """Write entries all of which stand behind those that are here."""
        register, connection = self._register, self._register.connection
        by_digest = {entry.digest: entry for entry in entries}
        projection = Projection(
            connection, frame=register.programme().frame, branches=branches_of(connection)
        )
        entry = None
        for link in ordered:
            entry = by_digest[link.digest]
            projection.add(insert_entry(connection, entry), entry)
        if entry:
            projection.finish(instant_text(entry.time))

    def _insert(self, entries: Sequence[Entry], ordered: Sequence[Link]) -> None:
        """Write entries of which some stand before others that are here: positions change, entries do not."""
        connection = self._register.connection
        places = {link.digest: position for position, link in enumerate(ordered, start=1)}
        for trigger in connection.execute(
            "SELECT name FROM sqlite_master WHERE type = 'trigger' AND tbl_name = 'journal'"
        ).fetchall():
            connection.execute(f'DROP TRIGGER "{trigger[0]}"')
        moved = [
            (position, places[digest])
            for position, digest in connection.execute(
                "SELECT position, digest FROM journal ORDER BY position"
            )
            if places[digest] != position
        ]
        # From the last, each to a place that is free by then: order is kept, so nobody is met.
        connection.executemany(
            "UPDATE journal SET position = ?2 WHERE position = ?1",
            sorted(moved, reverse=True),
        )
        for entry in entries:
            insert_entry(connection, entry, position=places[entry.digest])
        connection.execute("UPDATE sqlite_sequence SET seq = ? WHERE name = 'journal'", (len(ordered),))
        restore_guards(connection)

    def _keep(self, receipt: Receipt, ends: str) -> None:
        values = {
            "received_at": receipt.received_at,
            "actor": receipt.actor,
            "bundle_sha256": receipt.bundle_sha256,
            "key_id": receipt.key_id,
            "sender": receipt.sender,
            "brought": json.dumps(receipt.brought),
            "sender_held": json.dumps(dict(receipt.sender_held)),
            "held": json.dumps(self.held()),
            "ends": ends,
            "head": printed_head(ends),
        }
        self._register.connection.execute(
            f"INSERT INTO received ({', '.join(values)}) VALUES ({', '.join('?' * len(values))})",
            tuple(values.values()),
        )

    def _rows(self, sql: str, values: Sequence[object] = ()) -> list[sqlite3.Row]:
        with told_plainly(self._register.place):
            return self._register.connection.execute(sql, tuple(values)).fetchall()
