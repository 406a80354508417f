"""How rows come into the tables that follow from the journal, whatever they tell of."""

import sqlite3
from collections.abc import Mapping
from typing import Any

from registry.errors import ConflictError
from registry.records.branches import Branches, Link
from registry.records.entry import Entry, instant_text
from registry.storage.contests import Contests
from registry.storage.geopackage_blob import Bounds, blob_bounds
from registry.storage.geopackage_schema import srs_of

__all__ = ["ProjectedTables", "link_of"]


class ProjectedTables:
    """
    The tables of a registry, and who holds what in them.

    Parameters
    ----------
    connection : sqlite3.Connection
        It has the spatial functions.
    frame : str
        The home frame, whose number every geometry carries.
    branches : Branches, optional
        What each entry knew; see ``storage.projection``.
    """

    def __init__(
        self, connection: sqlite3.Connection, *, frame: str, branches: Branches | None = None
    ) -> None:
        self._connection = connection
        self._branches = branches
        self._contests = Contests(connection, branches)
        self._srs_id = srs_of(frame)
        self._touched: dict[str, None] = {}
        self._grown: dict[str, Bounds] = {}
        self._shrunk: set[str] = set()

    def finish(self, time: str) -> None:
        """Bring the contents up to date: when each table changed last, how far each layer reaches."""
        for table in self._touched:
            self._connection.execute(
                "UPDATE gpkg_contents SET last_change = ? WHERE table_name = ?", (time, table)
            )
        for layer, (west, south, east, north) in self._grown.items():
            self._connection.execute(
                "UPDATE gpkg_contents SET min_x = min(ifnull(min_x, ?1), ?1),"
                " min_y = min(ifnull(min_y, ?2), ?2), max_x = max(ifnull(max_x, ?3), ?3),"
                " max_y = max(ifnull(max_y, ?4), ?4) WHERE table_name = ?5",
                (west, south, east, north, layer),
            )
        for layer in self._shrunk:
            extent = "min(lon_deg), min(lat_deg), max(lon_deg), max(lat_deg)"
            if layer in _SHAPED:
                extent = "min(ST_MinX(geom)), min(ST_MinY(geom)), max(ST_MaxX(geom)), max(ST_MaxY(geom))"
            self._connection.execute(
                "UPDATE gpkg_contents SET (min_x, min_y, max_x, max_y) ="
                f" (SELECT {extent} FROM {layer}) WHERE table_name = ?",
                (layer,),
            )
        self._touched.clear()
        self._grown.clear()
        self._shrunk.clear()

    def _insert(self, table: str, values: Mapping[str, Any], taken: str, remedy: str) -> int:
        """Insert one row; where a unique name is taken already, say so in the words given."""
        columns = (table, *values)
        sql = _INSERTS.get(columns)
        if sql is None:
            sql = f"INSERT INTO {table} ({', '.join(values)}) VALUES ({', '.join('?' * len(values))})"
            _INSERTS[columns] = sql
        try:
            cursor = self._connection.execute(sql, tuple(values.values()))
        except sqlite3.IntegrityError as error:
            if error.sqlite_errorcode != sqlite3.SQLITE_CONSTRAINT_UNIQUE:
                raise
            raise ConflictError(taken, remedy=remedy) from error
        self._touched[table] = None
        if "geom" in values:
            self._grow(table, blob_bounds(values["geom"]))
        return int(cursor.lastrowid or 0)

    def _grow(self, layer: str, bounds: Bounds | None) -> None:
        if bounds is None:
            return
        west, south, east, north = self._grown.get(layer, bounds)
        self._grown[layer] = (
            min(west, bounds[0]),
            min(south, bounds[1]),
            max(east, bounds[2]),
            max(north, bounds[3]),
        )

    def _holder(self, table: str, column: str, value: str) -> int | None:
        """Give the position of the entry that holds what a table says under a name."""
        found = self._connection.execute(f"SELECT entry FROM {table} WHERE {column} = ?", (value,)).fetchone()
        return found[0] if found else None

    def _contest(self, holder: int, subject: str, name: str, sentence: str) -> None:
        """Open a contest of the present entry with that of a position."""
        if self._branches is not None:
            origin, sequence = self._branches.name(holder)
            self._contests.record(subject, name, stands=f"{origin}-{sequence}", sentence=sentence)


def link_of(entry: Entry) -> Link:
    """Give what the place of an entry in the journal hangs on."""
    return Link(entry.origin, entry.sequence, instant_text(entry.time), entry.previous, entry.digest)


#: Layers of shapes, which have no columns of coordinates.
_SHAPED = ("keep_outs", "baselines")
#: Statements by table and columns, composed once.
_INSERTS: dict[tuple[str, ...], str] = {}
