"""The registry of one programme, kept in a GeoPackage: the port ``Register`` over SQL."""

import json
import math
import sqlite3
from collections.abc import Callable, Hashable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from datetime import date, datetime
from itertools import groupby
from types import TracebackType
from typing import TYPE_CHECKING, Any, NoReturn, TypeVar

from registry.errors import NotFoundError, RegistryError, RequestError, UnwritableError
from registry.records.branches import printed_head
from registry.records.entry import GENESIS, Draft, Entry, instant_text, seal
from registry.records.programme import Programme
from registry.storage.kept_reads import KeptReads
from registry.storage.machine import ENDS, note, notes, settle_origin, writes_as
from registry.storage.projection import Projection
from registry.storage.sqlite_errors import told_plainly

if TYPE_CHECKING:
    from registry.ports import Clock
    from registry.records.baseline import Baseline
    from registry.records.certificate_version import CertificateVersion
    from registry.records.module import Module, ModuleType
    from registry.records.permit import KeepOut, Permit
    from registry.records.placement import Placement, PlacementTable
    from registry.records.programme_key import ProgrammeKey
    from registry.records.target import Target

__all__ = ["GeoPackageRegister", "degree_boxes", "insert_entry"]

T = TypeVar("T")
Body = Mapping[str, Any]

#: Smaller than the radius of the equator, and than the meridian's radius of curvature,
#: of any ellipsoid in use. Units: m.
_EQUATOR_M = 6_376_000.0
_MERIDIAN_M = 6_330_000.0
#: The edge of an area bulges out of the box around its corners by less than this: 0.05 degrees. Units: m.
_BULGE_M = 5_600.0
#: SQLite takes `entry` from the row that has the minimum: the first version that has not ended.
_IN_FORCE = """SELECT number, entry, min(in_force_from) FROM permits
WHERE (in_force_until IS NULL OR in_force_until >= ?) {chosen} GROUP BY number"""
_PAGE = 1000
_ENTRY = "origin, sequence, time, actor, kind, body, previous, digest"


class GeoPackageRegister:
    """
    One registry, open in one thread; ``storage.geopackage`` opens it.

    Every method raises BusyError, UnwritableError or RegistryError where the file does not do as it should.
    """

    def __init__(
        self,
        connection: sqlite3.Connection,
        *,
        place: str,
        clock: "Clock",
        writable: bool,
        why_not: str = "is open for reading only",
    ) -> None:
        self._connection = connection
        self._writable = writable
        self._why_not = why_not
        self._depth = 0
        self._wal = not writable
        #: What tells the time of every entry.
        self.clock = clock
        #: The file as the person named it.
        self.place = place
        first = self._rows("SELECT kind, body FROM journal ORDER BY position LIMIT 1")
        if not first or first[0][0] != "registry.created":
            what = f"{place} has no beginning: its journal does not start with the programme."
            raise RegistryError(what, remedy="Put the latest backup in its place.")
        with self._understood():
            body = json.loads(first[0][1])
            #: The device that made the registry: its name, wherever it was copied to.
            self.origin: str = body["origin"]
            self._programme = Programme(**{name: body[name] for name in Programme.__dataclass_fields__})
        self._projection = Projection(connection, frame=self._programme.frame)
        self._kept = KeptReads(connection)

    def __enter__(self) -> "GeoPackageRegister":
        """Use the register in a ``with`` statement."""
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        """Close it."""
        self.close()

    def close(self) -> None:
        """Close the file; afterwards nothing but the file itself is left of it."""
        with told_plainly(self.place):
            self._connection.close()

    @property
    def connection(self) -> sqlite3.Connection:
        """The connection, for the modules of this floor that copy, prove and replay."""
        return self._connection

    # Reading

    def programme(self) -> Programme:
        """Give the programme."""
        return self._programme

    def permits(self) -> "tuple[Permit, ...]":
        """Give every permit, in order of number, in the version in force on the register's day."""
        return self._permits_in_force("", ())

    def permits_near(self, *, lon_deg: float, lat_deg: float, reach_m: float) -> "tuple[Permit, ...]":
        """
        Give the permits that have an area within at least `reach_m` of a point (others may be among them).

        In order of number, and in the version in force on the register's day.
        """
        found, bounds = _in_boxes("permit_areas", degree_boxes(lon_deg, lat_deg, reach_m + _BULGE_M))
        return self._permits_in_force(
            f"AND number IN (SELECT permit FROM permit_areas WHERE fid IN ({found}))", bounds
        )

    def permit_boxes(self) -> tuple[tuple[str, tuple[float, float, float, float]], ...]:
        """
        Give number, west, south, east and north of every area of a permit in force on the register's day.

        Units: degrees. The edges of an area may bulge a little out of its box.
        """
        rows = self._rows(
            "SELECT permit, minx, miny, maxx, maxy FROM permit_areas JOIN rtree_permit_areas_geom ON id = fid"
            f" WHERE permit_areas.entry IN (SELECT entry FROM ({_IN_FORCE.format(chosen='')}))"
            " ORDER BY permit, area_id",
            (self.today().isoformat(),),
        )
        return tuple((number, (west, south, east, north)) for number, west, south, east, north in rows)

    def _permits_in_force(self, chosen: str, values: Sequence[Any]) -> "tuple[Permit, ...]":
        from registry.records.body import permit_from_body

        rows = self._rows(
            f"SELECT body FROM ({_IN_FORCE.format(chosen=chosen)}) JOIN journal ON position = entry"
            " ORDER BY number",
            (self.today().isoformat(), *values),
        )
        return tuple(self._made(permit_from_body, row[0]) for row in rows)

    def permit(self, number: str, *, on: date | None = None) -> "Permit":
        """Give one permit in the version in force on a day, by default today; NotFoundError names all."""
        from registry.records.permit import in_force_on

        versions = self.permit_versions(number)
        return versions[0] if len(versions) == 1 else in_force_on(versions, on or self.today())

    def permit_versions(self, number: str) -> "tuple[Permit, ...]":
        """Give every version of a permit, oldest in force first; NotFoundError names those there are."""
        from registry.records.body import permit_from_body

        def read() -> "tuple[Permit, ...]":
            rows = self._rows(
                "SELECT body FROM permits JOIN journal ON position = entry WHERE number = ?"
                " ORDER BY in_force_from",
                (number,),
            )
            if not rows:
                self._refuse_unknown("permits", "number", number, "permit")
            return tuple(self._made(permit_from_body, row[0]) for row in rows)

        return self._unless_written(("permit_versions", number), read)

    def permit_history(self) -> "tuple[tuple[Permit, ...], ...]":
        """Give every version of every permit: in order of number, and of each oldest in force first."""
        from registry.records.body import permit_from_body

        rows = self._rows(
            "SELECT body FROM permits JOIN journal ON position = entry ORDER BY number, in_force_from"
        )
        versions = [self._made(permit_from_body, row[0]) for row in rows]
        return tuple(tuple(of) for _, of in groupby(versions, key=lambda version: version.number))

    def targets(self) -> "tuple[Target, ...]":
        """Give where the plan wants modules now, in order of identifier: one for each tag and permit."""
        from registry.records.body import target_from_body

        return self._records(target_from_body, "targets", "target_id")

    def target_of(self, permit: str, tag: str) -> "Target | None":
        """Give where the plan wants a module of a permit now; None where it says nothing."""
        from registry.records.body import target_from_body

        rows = self._rows(
            "SELECT body FROM targets t JOIN journal ON position = entry WHERE t.permit = ? AND t.tag = ?",
            (permit, tag),
        )
        return self._made(target_from_body, rows[0][0]) if rows else None

    def baselines(self) -> "tuple[Baseline, ...]":
        """Give every baseline, in order of identifier."""
        from registry.records.body import baseline_from_body

        return self._unless_written(
            "baselines", lambda: self._records(baseline_from_body, "baselines", "baseline_id")
        )

    def declarations(self) -> tuple[Mapping[str, Any], ...]:
        """Give the bodies of what the programme declared, oldest first, with "reference", "time", "actor"."""
        return self._told("declarations", "WHERE t.kind = ?", ("programme.declared",))

    def duties_done(self) -> tuple[Mapping[str, Any], ...]:
        """Give the bodies of the duties done, oldest first, with "reference", "time" and "actor"."""
        return self._told("declarations", "WHERE t.kind = ?", ("duty.done",))

    def plaque_answers(self, tag: str) -> tuple[Mapping[str, Any], ...]:
        """Give what a family answered to proofs, oldest first, with "reference", "time" and "actor"."""
        chosen = "WHERE t.kind = ? AND json_extract(t.declared, '$.tag') = ?"
        told = [
            body | {"approved": approved}
            for kind, approved in (("plaque.approved", True), ("plaque.returned", False))
            for body in map(dict, self._told("declarations", chosen, (kind, tag)))
        ]
        return tuple(sorted(told, key=lambda body: str(body["time"])))

    def keep_outs(self) -> "tuple[KeepOut, ...]":
        """Give every keep-out, in order of identifier."""
        from registry.records.body import keep_out_from_body

        return self._unless_written(
            "keep_outs", lambda: self._records(keep_out_from_body, "keep_outs", "keep_out_id")
        )

    def module_types(self) -> "tuple[ModuleType, ...]":
        """Give every module type, in order of identifier."""
        from registry.records.body import type_from_body

        return self._unless_written(
            "module_types", lambda: self._records(type_from_body, "module_types", "type_id")
        )

    def module_type(self, type_id: str) -> "ModuleType":
        """Give one module type; NotFoundError names the types there are."""
        found = next((each for each in self.module_types() if each.type_id == type_id), None)
        if found is None:
            self._refuse_unknown("module_types", "type_id", type_id, "module type")
        return found

    def modules(self) -> "tuple[Module, ...]":
        """Give every module, in order of tag."""
        from registry.records.body import module_from_body

        return self._records(module_from_body, "modules", "tag")

    def module(self, tag: str) -> "Module":
        """Give one module; NotFoundError names the tags nearest to what was asked."""
        from registry.records.body import module_from_body

        return self._record(module_from_body, "modules", "tag", tag, "module")

    def modules_tagged(self, tags: Sequence[str]) -> "dict[str, Module]":
        """Give those of the modules named that there are, by tag."""
        from registry.records.body import module_from_body

        rows = self._rows(
            "SELECT tag, body FROM modules JOIN journal ON position = entry "
            "WHERE tag IN (SELECT value FROM json_each(?))",
            (json.dumps(list(tags)),),
        )
        return {row[0]: self._made(module_from_body, row[1]) for row in rows}

    def placements(self, *, permit: str | None = None, by_permit: bool = False) -> "PlacementTable":
        """
        Give the placements that stand (not superseded), in order of time and then of identifier.

        Where that is asked, in order of the number of their permit before all else.
        """
        if permit is None:
            return self._table("", (), by_permit=by_permit)
        return self._table("WHERE permit = ?", (permit,), by_permit=by_permit)

    def placements_near(
        self,
        *,
        lon_deg: float,
        lat_deg: float,
        reach_m: float,
        permit: str | None = None,
        less_sure_than_m: float | None = None,
    ) -> "PlacementTable":
        """
        Give the standing placements within at least `reach_m` of a point (others may be among them).

        Those of a permit are all among them where one is named; of all these only those whose position is
        less sure than `less_sure_than_m`, where that is said.
        """
        found, bounds = _in_boxes("placements", degree_boxes(lon_deg, lat_deg, reach_m))
        # A plus sign keeps an index from being asked.
        plus = "" if less_sure_than_m is None else "+"
        chosen, values = f"{plus}fid IN ({found})", list[Any](bounds)
        if permit is not None:
            chosen, values = f"{plus}permit = ? OR {chosen}", [permit, *values]
        if less_sure_than_m is not None:
            # Few are unsure: their index is asked first, and the place of these alone is looked at.
            chosen = f"fid IN (SELECT fid FROM placements WHERE r95_m > ? AND ({chosen}))"
            values = [less_sure_than_m, *values]
        return self._table(f"WHERE {chosen}", values)

    def placed_under(self, permit: str, *, until: datetime) -> tuple[int, float]:
        """Give how many modules of a permit stand that had been placed by then, and their mass (kg)."""
        rows = self._rows(
            "SELECT ifnull(m.mass_kg, t.mass_kg) FROM placements p LEFT JOIN modules m ON m.fid = p.module"
            " LEFT JOIN module_types t ON t.type_id = p.module_type WHERE permit = ? AND placed_at <= ?"
            " ORDER BY placed_at, placement_id",
            (permit, instant_text(until)),
        )
        return len(rows), sum((math.nan if mass is None else mass for (mass,) in rows), 0.0)

    def placements_tagged(self, tags: Sequence[str]) -> "PlacementTable":
        """Give the standing placements of some tags, in order of time and then of identifier."""
        return self._table("WHERE tag IN (SELECT value FROM json_each(?))", (json.dumps(list(tags)),))

    def placement_count(self, *, permit: str | None = None) -> int:
        """Give how many placements stand."""
        chosen, values = ("", ()) if permit is None else (" WHERE permit = ?", (permit,))
        return int(self._rows(f"SELECT count(*) FROM placements{chosen}", values)[0][0])

    def placement(self, placement_id: str) -> "Placement":
        """Give one placement with its observations; NotFoundError otherwise."""
        from registry.records.body import placement_from_body

        rows = self._rows(
            "SELECT body FROM observations JOIN journal ON position = fid WHERE placement_id = ?",
            (placement_id,),
        )
        if not rows:
            what = f"There is no placement {placement_id}."
            raise NotFoundError(what, remedy="Its identifier is that of its entry in the journal.")
        return self._made(placement_from_body, rows[0][0])

    def placement_ids(self, tag: str) -> tuple[str, ...]:
        """Give the identifiers of the standing placements of a tag, oldest first."""
        rows = self._rows("SELECT placement_id FROM placements WHERE tag = ? ORDER BY placed_at, fid", (tag,))
        return tuple(row[0] for row in rows)

    def source_rows(self, keys: Sequence[str]) -> frozenset[str]:
        """Give those of the row keys that were taken in before: ``source["key"]`` of a logged placement."""
        rows = self._rows(
            "SELECT row_key FROM intake_rows WHERE row_key IN (SELECT value FROM json_each(?))",
            (json.dumps(list(keys)),),
        )
        return frozenset(row[0] for row in rows)

    def source_entry(self, key: str) -> Entry | None:
        """Give the entry that a row of this key became, or None where none was taken in."""
        rows = self._rows(
            f"SELECT {_ENTRY} FROM journal"
            " WHERE position = (SELECT entry FROM intake_rows WHERE row_key = ?)",
            (key,),
        )
        with self._understood():
            return _entry(rows[0]) if rows else None

    def resurveys(self, tag: str | None = None) -> tuple[Mapping[str, Any], ...]:
        """Give the bodies of the resurveys that stand, oldest entry first, each with its "reference"."""
        chosen, values = ("AND tag = ?", (tag,)) if tag is not None else ("", ())
        rows = self._rows(
            # In this order of joining: the other way round every entry of the journal would be looked at.
            "SELECT body, resurvey_id FROM resurveys CROSS JOIN journal ON position = fid"
            f" WHERE superseded_by IS NULL {chosen} ORDER BY fid",
            values,
        )
        return tuple({**self._made(dict, body), "reference": reference} for body, reference in rows)

    def certificates(self, tag: str | None = None) -> tuple[Mapping[str, Any], ...]:
        """Give the bodies of the certificates issued, oldest first, each with its "reference"."""
        chosen, values = ("WHERE tag = ?", (tag,)) if tag is not None else ("", ())
        rows = self._rows(
            "SELECT body, origin || '-' || sequence FROM certificates JOIN journal ON position = entry"
            f" {chosen} ORDER BY position",
            values,
        )
        return tuple({**self._made(dict, body), "reference": reference} for body, reference in rows)

    def hand_overs(self, tag: str | None = None) -> tuple[Mapping[str, Any], ...]:
        """Give the bodies of the hand-overs that stand, with "reference", "time", "actor"."""
        chosen, values = ("tag = ? AND ", (tag,)) if tag is not None else ("", ())
        return self._told("hand_overs", f"WHERE {chosen}superseded_by IS NULL", values)

    def keeps_custody(self) -> bool:
        """Tell whether a hand-over of any module was ever recorded."""
        return bool(self._rows("SELECT 1 FROM hand_overs LIMIT 1"))

    def erasures(self) -> tuple[Mapping[str, Any], ...]:
        """Give the bodies of the receipts for erasures, oldest first, with "reference", "time", "actor"."""
        return self._told("erasures", "", ())

    def _told(self, table: str, chosen: str, values: Sequence[Any]) -> tuple[Mapping[str, Any], ...]:
        rows = self._rows(
            f"SELECT body, reference, time, j.actor FROM {table} t JOIN journal j ON position = entry"
            f" {chosen} ORDER BY position",
            values,
        )
        return tuple(
            {**self._made(dict, body), "reference": reference, "time": time, "actor": actor}
            for body, reference, time, actor in rows
        )

    def certificate_versions(self, tag: str | None = None) -> "tuple[CertificateVersion, ...]":
        """Give every version of every certificate with its state, oldest entry first."""
        from registry.records.certificate_version import CertificateState, CertificateVersion

        names = tuple(CertificateVersion.__dataclass_fields__)
        chosen, values = ("WHERE tag = ?", (tag,)) if tag is not None else ("", ())
        rows = self._rows(f"SELECT {', '.join(names)} FROM certificates {chosen} ORDER BY entry", values)
        with self._understood():
            found = [dict(zip(names, row, strict=True)) for row in rows]
            for each in found:
                each |= {name: datetime.fromisoformat(each[name]) for name in ("issued_at", "since")}
                each["state"] = CertificateState(each["state"])
            return tuple(CertificateVersion(**each) for each in found)

    def certificate_duplicates(self, tag: str | None = None) -> tuple[Mapping[str, Any], ...]:
        """Give the bodies of the duplicates, oldest first, each with its "reference" and "time" (as text)."""
        chosen, values = ("WHERE tag = ?", (tag,)) if tag is not None else ("", ())
        rows = self._rows(
            "SELECT body, origin || '-' || sequence, time FROM certificate_duplicates JOIN journal"
            f" ON position = entry {chosen} ORDER BY position",
            values,
        )
        return tuple(
            {**self._made(dict, body), "reference": reference, "time": time} for body, reference, time in rows
        )

    def signing_keys(self) -> "tuple[ProgrammeKey, ...]":
        """Give every key that the programme ever signed with, oldest first; the last is in use."""
        from registry.records.programme_key import programme_keys

        rows = self._rows(
            "SELECT since, key_id, public_key, ended, endorsement FROM signing_keys ORDER BY entry"
        )
        (began,) = self._rows("SELECT time FROM journal ORDER BY position LIMIT 1")[0]
        names = ("key_id", "public_key", "ended", "endorsement")
        with self._understood():
            rotations = [
                (datetime.fromisoformat(since), dict(zip(names, row, strict=True))) for since, *row in rows
            ]
            return programme_keys(self._programme, datetime.fromisoformat(began), rotations)

    def journal(self, *, after: int = 0, kind: str | None = None) -> Iterator[Entry]:
        """Give the entries in order, from the one after position `after`; only those of a kind if asked."""
        chosen = "" if kind is None else "AND kind = ?"
        values = () if kind is None else (kind,)
        # Page by page, so that a reader who stops halfway holds no lock.
        while True:
            rows = self._rows(
                f"SELECT position, {_ENTRY} FROM journal WHERE position > ? {chosen} "
                f"ORDER BY position LIMIT {_PAGE}",
                (after, *values),
            )
            with self._understood():
                entries = [_entry(row[1:]) for row in rows]
            yield from entries
            if len(rows) < _PAGE:
                return
            after = rows[-1][0]

    def journal_length(self) -> int:
        """Give the number of entries."""
        return int(self._rows("SELECT count(*) FROM journal")[0][0])

    def head(self) -> str:
        """Give the digest of the last entry; where other machines wrote apart, the one digest of all ends."""
        return printed_head(self._ends())

    def _ends(self) -> str:
        """Give what the next entry cites as what stands before it."""
        with told_plainly(self.place):
            ends = notes(self._connection).get(ENDS)
        if ends is not None:
            return ends
        rows = self._rows("SELECT digest FROM journal ORDER BY position DESC LIMIT 1")
        return str(rows[0][0]) if rows else GENESIS

    def writes_as(self) -> str:
        """Give the origin of what is written here; that of a copy is drawn with its first entry."""
        with told_plainly(self.place):
            return writes_as(notes(self._connection), self.origin)

    @contextmanager
    def reading(self) -> Iterator[None]:
        """Hold one state of the registry for several reads, whatever others write meanwhile."""
        if self._connection.in_transaction:
            yield
            return
        with told_plainly(self.place):
            self._connection.execute("BEGIN")
        try:
            yield
        finally:
            with told_plainly(self.place):
                if self._connection.in_transaction:
                    self._connection.execute("ROLLBACK")

    # Writing

    def now(self) -> datetime:
        """Give the instant that an entry written now would carry."""
        return self.clock.now()

    def today(self) -> date:
        """Give the register's day, in the programme's zone."""
        from zoneinfo import ZoneInfo

        return self.now().astimezone(ZoneInfo(self._programme.zone)).date()

    @contextmanager
    def writing(self) -> Iterator[None]:
        """
        Hold the registry for reading and writing as one transaction; all of it stands or none.

        One inside another is part of it: where the inner one fails, only what it wrote is taken back.

        Raises
        ------
        BusyError
            If another program holds the registry for longer than the wait.
        UnwritableError
            If the registry was opened for reading, or the disk is full or read-only.
        """
        if self._depth:
            self._still_in_transaction()
            begin, keep, drop = (
                f"{word} step_{self._depth}" for word in ("SAVEPOINT", "RELEASE", "ROLLBACK TO")
            )
        else:
            begin, keep, drop = "BEGIN IMMEDIATE", "COMMIT", "ROLLBACK"
            self._make_ready_to_write()
        self._execute(begin)
        self._depth += 1
        try:
            yield
            self._still_in_transaction()
            self._execute(keep)
        except BaseException:
            # SQLite itself may have taken back the whole transaction already (a full disk).
            if self._connection.in_transaction:
                self._execute(drop)
            raise
        finally:
            self._depth -= 1
        if not self._depth:
            self._settle()

    def append(self, drafts: Sequence[Draft]) -> tuple[Entry, ...]:
        """
        Write entries and the tables that follow from them; durable when the transaction ends.

        Raises
        ------
        ConflictError, NotFoundError, InvalidRecordError
            If an entry does not fit what the registry holds; then none of them is written.
        """
        with self.writing(), told_plainly(self.place):
            origin = settle_origin(self._connection, self.origin)
            sequence, previous = self._last(origin)
            if drafts and previous != printed_head(previous):
                note(self._connection, ENDS, None)
            time = self.clock.now()
            entries = []
            for draft in drafts:
                sequence += 1
                entry = seal(draft, origin=origin, sequence=sequence, time=time, previous=previous)
                previous = entry.digest
                entries.append(entry)
                self._projection.add(insert_entry(self._connection, entry), entry)
            self._projection.finish(instant_text(time))
        return tuple(entries)

    def _still_in_transaction(self) -> None:
        """SQLite takes back the whole transaction when the disk is full: nothing may go on as if it stood."""
        if not self._connection.in_transaction:
            what = f"The disk that holds {self.place} is full; the whole step was taken back."
            raise UnwritableError(what, remedy="Free some space and do it again from its beginning.")

    def _last(self, origin: str) -> tuple[int, str]:
        rows = self._rows("SELECT max(sequence) FROM journal WHERE origin = ?", (origin,))
        return int(rows[0][0] or 0), self._ends()

    def _make_ready_to_write(self) -> None:
        if not self._writable:
            what = f"{self.place} {self._why_not}: nothing can be added to it here."
            raise UnwritableError(what, remedy="Open the registry itself, on a disk of this machine.")
        if not self._wal:
            # A backup comes back in the other mode; in this one a reader never waits for a writer.
            mode = self._rows("PRAGMA journal_mode = WAL")[0][0]
            if mode != "wal":
                what = f"{self.place} cannot be written safely: the disk under it does not share memory."
                raise UnwritableError(
                    what, remedy="Keep the registry on a disk of this machine, not on a network share."
                )
        self._wal = True

    def _settle(self) -> None:
        """Copy what was committed into the file itself, which may be carried away without its WAL."""
        try:
            self._connection.execute("PRAGMA wal_checkpoint(PASSIVE)").fetchall()
        except sqlite3.Error:
            # The entries stand in the WAL already; whoever opens the registry next does this again.
            return

    # SQL

    def _execute(self, sql: str) -> None:
        with told_plainly(self.place):
            self._connection.execute(sql)

    def _rows(self, sql: str, values: Sequence[Any] = ()) -> list[Any]:
        with told_plainly(self.place):
            return self._connection.execute(sql, values).fetchall()

    def _records(self, make: Callable[[Body], T], table: str, key: str) -> tuple[T, ...]:
        rows = self._rows(f"SELECT body FROM {table} JOIN journal ON position = entry ORDER BY {key}")
        return tuple(self._made(make, row[0]) for row in rows)

    def _record(self, make: Callable[[Body], T], table: str, key: str, value: str, what: str) -> T:
        rows = self._rows(
            f"SELECT body FROM {table} JOIN journal ON position = entry WHERE {key} = ?", (value,)
        )
        if not rows:
            self._refuse_unknown(table, key, value, what)
        return self._made(make, rows[0][0])

    def _unless_written(self, asked: Hashable, read: Callable[[], T]) -> T:
        """Read once what does not change, until somebody writes; within one's own writing every time."""
        if self._depth:
            return read()
        with told_plainly(self.place):
            return self._kept.give(asked, read)

    def _refuse_unknown(self, table: str, key: str, value: str, what: str) -> NoReturn:
        known = [row[0] for row in self._rows(f"SELECT DISTINCT {key} FROM {table} ORDER BY {key}")]
        raise NotFoundError(
            f"There is no {what} {value!r} in the registry.", remedy=_those_there_are(value, known)
        )

    def _made(self, make: Callable[[Any], T], text: str) -> T:
        with self._understood():
            return make(json.loads(text))

    @contextmanager
    def _understood(self) -> Iterator[None]:
        """Turn what fails inside into the one thing it can mean: Leadline did not write this entry."""
        try:
            yield
        except (ValueError, KeyError, TypeError, AttributeError, RequestError) as error:
            what = f"{self.place} holds an entry that cannot be read ({error})."
            raise RegistryError(what, remedy="Find it with `leadline journal verify`.") from error

    def _table(self, chosen: str, values: Sequence[Any], *, by_permit: bool = False) -> "PlacementTable":
        from registry.storage.placement_columns import read_placements

        with self.reading(), told_plainly(self.place):
            return read_placements(self._connection, chosen, values, by_permit=by_permit)


def insert_entry(connection: sqlite3.Connection, entry: Entry, *, position: int | None = None) -> int:
    """Write one line of the journal, behind the last one unless a position is told, and give its position."""
    values = (
        position,
        entry.origin,
        entry.sequence,
        instant_text(entry.time),
        entry.actor,
        entry.kind,
        entry.body,
        entry.previous,
        entry.digest,
    )
    sql = f"INSERT INTO journal (position, {_ENTRY}) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)"
    return int(connection.execute(sql, values).lastrowid or 0)


def _entry(row: Sequence[Any]) -> Entry:
    origin, sequence, time, actor, kind, body, previous, digest = row
    return Entry(
        origin=origin,
        sequence=sequence,
        time=datetime.fromisoformat(time),
        actor=actor,
        kind=kind,
        body=body,
        previous=previous,
        digest=digest,
    )


def _those_there_are(asked: str, known: Sequence[str]) -> str:
    """Name what there is: all of a few, the nearest of many."""
    import difflib

    if not known:
        return "There is none yet; add it first."
    if len(known) <= 8:
        return f"There are: {', '.join(known)}."
    folded = {name.casefold(): name for name in known}
    nearest = difflib.get_close_matches(asked.casefold(), folded, n=3, cutoff=0.6)
    if nearest:
        return f"Nearest to it: {', '.join(folded[name] for name in nearest)}."
    return f"There are {len(known)}, from {known[0]} to {known[-1]}."


def _in_boxes(layer: str, boxes: Sequence[tuple[float, float, float, float]]) -> tuple[str, list[float]]:
    """Give the SQL that finds the rows of a layer that meet boxes, and its parameters."""
    one = f"SELECT id FROM rtree_{layer}_geom WHERE maxx >= ? AND minx <= ? AND maxy >= ? AND miny <= ?"
    return " UNION ".join([one] * len(boxes)), [bound for box in boxes for bound in box]


def degree_boxes(lon_deg: float, lat_deg: float, reach_m: float) -> list[tuple[float, float, float, float]]:
    """
    Give boxes in degrees that hold every point within `reach_m` of a point, on any ellipsoid of the Earth.

    Definition: no point within reach lies further north or south than `reach_m` over the least radius of
    curvature
    of the meridian; on the way to it no parallel is shorter than at the latitude so bounded,
    where its radius is at
    least that of the equator times the cosine.

    Parameters
    ----------
    lon_deg, lat_deg : float
        The point. Units: degrees.
    reach_m : float
        The distance. Units: m.

    Returns
    -------
    list of tuple
        West, east, south, north, each box once as it is and once a full turn to either side where that meets
        longitudes from -180 to 360. Units: degrees.

    Examples
    --------
    >>> [[round(bound, 3) for bound in box] for box in degree_boxes(179.999, 0.0, 1000.0)]
    [[179.99, 180.008, -0.009, 0.009], [-180.01, -179.992, -0.009, 0.009]]
    """
    height = math.degrees(reach_m / _MERIDIAN_M)
    south, north = lat_deg - height, lat_deg + height
    furthest = max(-south, north)
    radius_m = _EQUATOR_M * math.cos(math.radians(furthest)) if furthest < 90 else 0.0
    width = math.degrees(reach_m / radius_m) if radius_m > 0 else math.inf
    if width >= 180:
        return [(-360.0, 360.0, south, north)]
    west, east = lon_deg - width, lon_deg + width
    shifted = [(west + turn, east + turn, south, north) for turn in (0.0, -360.0, 360.0)]
    return [box for box in shifted if box[1] >= -180 and box[0] <= 360]
