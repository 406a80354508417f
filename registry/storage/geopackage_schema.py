"""
The tables of a registry: an OGC GeoPackage whose journal cannot be changed and whose other tables follow
from it.

Sources: OGC 12-128r17 (GeoPackage 1.3.0), clause 2 and annexes C and F.3 (R-tree and its triggers).
"""

import sqlite3
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from registry.errors import FrameError
from registry.records.entry import instant_text

__all__ = [
    "APPLICATION_ID",
    "DERIVED",
    "FORMAT",
    "GEOPACKAGE_VERSION",
    "LAYERS",
    "USER_VERSION",
    "create_local",
    "create_tables",
    "journal_guards",
    "remake_derived",
    "srs_of",
]

#: "GPKG" (GeoPackage 1.3, requirement 2).
APPLICATION_ID = 0x47504B47
#: GeoPackage 1.3.0.
USER_VERSION = 10300
#: The same for a library that writes one: a later version is not read by everyone yet without a warning.
GEOPACKAGE_VERSION = "1.3"
#: The form of the journal's bodies; a registry with a higher one was written by a later Leadline.
FORMAT = 1


@dataclass(frozen=True, slots=True, kw_only=True)
class Table:
    """One table that the registry keeps."""

    name: str
    #: What it holds, for the person who opens it in a GIS.
    description: str
    #: Columns after the key and the geometry.
    columns: str
    #: Type of the geometry, None for a table without.
    geometry: str | None = None


LAYERS = (
    Table(
        name="permit_areas",
        geometry="MULTIPOLYGON",
        description="Areas inside which a version of a permit allows placement, in the home frame",
        columns="""permit TEXT NOT NULL, area_id TEXT NOT NULL, authority TEXT NOT NULL,
            valid_from DATE NOT NULL, valid_to DATE NOT NULL, in_force_from DATE NOT NULL,
            in_force_until DATE, chart_datum TEXT NOT NULL,
            edges TEXT NOT NULL, stated_frame TEXT NOT NULL, stated_epoch_year DOUBLE,
            operation TEXT NOT NULL, entry INTEGER NOT NULL, UNIQUE (permit, in_force_from, area_id)""",
    ),
    Table(
        name="keep_outs",
        geometry="GEOMETRY",
        description="What modules must stay clear of, and by how much",
        columns="""keep_out_id TEXT NOT NULL UNIQUE, kind TEXT NOT NULL, name TEXT NOT NULL,
            setback_m DOUBLE NOT NULL, stated_frame TEXT NOT NULL, stated_epoch_year DOUBLE,
            operation TEXT NOT NULL, entry INTEGER NOT NULL""",
    ),
    Table(
        name="targets",
        geometry="POINT",
        description="Where the plan wants modules",
        columns="""target_id TEXT NOT NULL UNIQUE, permit TEXT NOT NULL, tag TEXT NOT NULL,
            lon_deg DOUBLE NOT NULL, lat_deg DOUBLE NOT NULL, stated_frame TEXT NOT NULL,
            stated_epoch_year DOUBLE, operation TEXT NOT NULL, reason TEXT, entry INTEGER NOT NULL,
            UNIQUE (permit, tag)""",
    ),
    Table(
        name="baselines",
        geometry="GEOMETRY",
        description="Lines from which distances to the shore are counted; a polygon is the land's side",
        columns="""baseline_id TEXT NOT NULL UNIQUE, name TEXT NOT NULL, stated_frame TEXT NOT NULL,
            stated_epoch_year DOUBLE, operation TEXT NOT NULL, entry INTEGER NOT NULL""",
    ),
    Table(
        name="placements",
        geometry="POINT",
        description="Modules at rest on the seabed as they stand now; fid is the journal position",
        columns="""placement_id TEXT NOT NULL UNIQUE, tag TEXT NOT NULL, permit TEXT NOT NULL,
            module INTEGER, module_type TEXT, listed_name TEXT, placed_at DATETIME NOT NULL,
            lon_deg DOUBLE NOT NULL, lat_deg DOUBLE NOT NULL, r95_m DOUBLE NOT NULL,
            charted_depth_m DOUBLE, depth_u95_m DOUBLE, verdict TEXT, warnings TEXT NOT NULL,
            numbers BLOB NOT NULL""",
    ),
    Table(
        name="observations",
        geometry="POINT",
        description="Everything ever observed and what superseded it; fid is the journal position",
        columns="""placement_id TEXT NOT NULL UNIQUE, tag TEXT NOT NULL, permit TEXT NOT NULL,
            placed_at DATETIME NOT NULL, position_text TEXT NOT NULL, observed_lon_deg DOUBLE NOT NULL,
            observed_lat_deg DOUBLE NOT NULL, observed_frame TEXT NOT NULL, observed_epoch_year DOUBLE,
            observed_r95_m DOUBLE NOT NULL, r95_m DOUBLE NOT NULL, operation TEXT NOT NULL,
            basis TEXT NOT NULL, charted_depth_m DOUBLE, depth_u95_m DOUBLE, depth_text TEXT NOT NULL,
            tide_text TEXT NOT NULL, vessel TEXT NOT NULL, verdict TEXT, warnings TEXT NOT NULL,
            supersedes TEXT, superseded_by TEXT, reason TEXT""",
    ),
    Table(
        name="resurveys",
        geometry="POINT",
        description="Later observations of modules and whether they had moved; fid is the journal position",
        columns="""resurvey_id TEXT NOT NULL UNIQUE, tag TEXT NOT NULL, placement_id TEXT NOT NULL,
            observed_at DATETIME NOT NULL, movement TEXT NOT NULL, distance_m DOUBLE NOT NULL,
            bearing_deg DOUBLE NOT NULL, u95_m DOUBLE NOT NULL, lon_deg DOUBLE NOT NULL,
            lat_deg DOUBLE NOT NULL, r95_m DOUBLE NOT NULL, position_text TEXT NOT NULL,
            observed_lon_deg DOUBLE NOT NULL, observed_lat_deg DOUBLE NOT NULL, observed_frame TEXT NOT NULL,
            observed_epoch_year DOUBLE, observed_r95_m DOUBLE NOT NULL, operation TEXT NOT NULL,
            basis TEXT NOT NULL, vessel TEXT NOT NULL, warnings TEXT NOT NULL, supersedes TEXT,
            superseded_by TEXT, reason TEXT""",
    ),
)

_TABLES = (
    Table(
        name="permits",
        description="Every version of every permit; the last of each has no in_force_until",
        columns="""number TEXT NOT NULL, in_force_from DATE NOT NULL, in_force_until DATE,
            authority TEXT NOT NULL, holder TEXT NOT NULL, valid_from DATE NOT NULL,
            valid_to DATE NOT NULL, chart_datum TEXT NOT NULL, amendment TEXT NOT NULL,
            entry INTEGER NOT NULL, UNIQUE (number, in_force_from)""",
    ),
    Table(
        name="conditions",
        description="Conditions of every version of the permits, each with its citation",
        columns="""permit TEXT NOT NULL, in_force_from DATE NOT NULL, in_force_until DATE,
            rule TEXT NOT NULL, cite TEXT NOT NULL, areas TEXT NOT NULL, limits TEXT NOT NULL,
            entry INTEGER NOT NULL,
            FOREIGN KEY (permit, in_force_from) REFERENCES permits (number, in_force_from)""",
    ),
    Table(
        name="module_types",
        description="Dimensions shared by every module of one mould",
        columns="""type_id TEXT NOT NULL UNIQUE, base_radius_m DOUBLE NOT NULL, height_m DOUBLE NOT NULL,
            height_u95_m DOUBLE NOT NULL, mass_kg DOUBLE NOT NULL, submerged_mass_kg DOUBLE NOT NULL,
            side_area_m2 DOUBLE NOT NULL, plan_area_m2 DOUBLE NOT NULL, note TEXT NOT NULL,
            entry INTEGER NOT NULL""",
    ),
    Table(
        name="modules",
        description="Concrete reef units; mass_kg only where one was weighed itself",
        columns="""tag TEXT NOT NULL UNIQUE, type_id TEXT NOT NULL REFERENCES module_types (type_id),
            cast_on DATE, mass_kg DOUBLE, memorial TEXT, consent_listed BOOLEAN, entry INTEGER NOT NULL""",
    ),
    Table(
        name="certificates",
        description="Certificates issued to families, every version with its state",
        columns="""number TEXT NOT NULL, version INTEGER NOT NULL, tag TEXT NOT NULL,
            placement_id TEXT NOT NULL, observation TEXT NOT NULL, memorial_name TEXT NOT NULL,
            module_type TEXT NOT NULL, issued_at DATETIME NOT NULL, state TEXT NOT NULL,
            since DATETIME NOT NULL, reason TEXT NOT NULL, statement_sha256 TEXT NOT NULL, pdf_sha256 TEXT,
            state_entry INTEGER NOT NULL, entry INTEGER NOT NULL, UNIQUE (number, version, entry)""",
    ),
    Table(
        name="certificate_duplicates",
        description="Further papers of a version of a certificate, for other relatives",
        columns="""number TEXT NOT NULL, version INTEGER NOT NULL, duplicate INTEGER NOT NULL,
            tag TEXT NOT NULL, made_at DATETIME NOT NULL, statement_sha256 TEXT NOT NULL, pdf_sha256 TEXT,
            entry INTEGER NOT NULL, UNIQUE (number, version, duplicate, entry)""",
    ),
    Table(
        name="signing_keys",
        description="Keys that took the place of the programme's first one; the last is in use",
        columns="""key_id TEXT NOT NULL UNIQUE, public_key TEXT NOT NULL, since DATETIME NOT NULL,
            replaces TEXT NOT NULL, ended TEXT NOT NULL, reason TEXT NOT NULL,
            endorsement TEXT NOT NULL, entry INTEGER NOT NULL""",
    ),
    Table(
        name="intake_rows",
        description="Rows of spreadsheets and logs that were taken in, so that none is taken twice",
        columns="row_key TEXT NOT NULL UNIQUE, placement_id TEXT NOT NULL, entry INTEGER NOT NULL",
    ),
    Table(
        name="declarations",
        description="What the programme declared of its duties, and which it told as done",
        columns="""reference TEXT NOT NULL UNIQUE, kind TEXT NOT NULL, declared_at DATETIME NOT NULL,
            actor TEXT NOT NULL, declared TEXT NOT NULL, entry INTEGER NOT NULL""",
    ),
    Table(
        name="hand_overs",
        description="Hand-overs of modules and the remains in them, and what superseded them; no names",
        columns="""reference TEXT NOT NULL UNIQUE, tag TEXT NOT NULL, step TEXT NOT NULL,
            handed_at DATETIME NOT NULL, supersedes TEXT, superseded_by TEXT, reason TEXT,
            entry INTEGER NOT NULL""",
    ),
    Table(
        name="erasures",
        description="Receipts for what was erased of the contacts of families; what it was is held nowhere",
        columns="""reference TEXT NOT NULL UNIQUE, tag TEXT NOT NULL, erased_at DATETIME NOT NULL,
            entry INTEGER NOT NULL""",
    ),
    Table(
        name="devices",
        description="Machines that write to this registry, their keys, and which are trusted",
        columns="""origin TEXT NOT NULL UNIQUE, name TEXT NOT NULL, key_id TEXT NOT NULL,
            public_key TEXT NOT NULL, added_at DATETIME NOT NULL, trusted_at DATETIME,
            endorsement TEXT NOT NULL, ended_at DATETIME,
            reason TEXT NOT NULL, entry INTEGER NOT NULL""",
    ),
    Table(
        name="contests",
        description="What two machines recorded apart and contradicts itself, until decided",
        columns="""subject TEXT NOT NULL, name TEXT NOT NULL, stands TEXT NOT NULL, against TEXT NOT NULL,
            sentence TEXT NOT NULL, entry INTEGER NOT NULL, UNIQUE (subject, name, stands, against)""",
    ),
)

_JOURNAL = Table(
    name="journal",
    description="The append-only record from which every other table follows",
    columns="",
)

#: What this file knows of itself and no other machine has to: it follows from no entry and enters no bundle.
_LOCAL = (
    Table(
        name="machine",
        description="As which device this file writes, and the ends of its journal where it has several",
        columns="name TEXT NOT NULL UNIQUE, value TEXT NOT NULL",
    ),
    Table(
        name="received",
        description="Bundles of other machines that were taken in here, and when",
        columns="""received_at DATETIME NOT NULL, actor TEXT NOT NULL, bundle_sha256 TEXT NOT NULL,
            key_id TEXT NOT NULL, sender TEXT NOT NULL, brought TEXT NOT NULL, sender_held TEXT NOT NULL,
            held TEXT NOT NULL,
            ends TEXT NOT NULL, head TEXT NOT NULL""",
    ),
)

#: Every table that can be rebuilt from the journal, in an order in which each may be filled.
DERIVED = tuple(table.name for table in (*_TABLES, *LAYERS))

_FRAMEWORK = """
CREATE TABLE gpkg_spatial_ref_sys (
    srs_name TEXT NOT NULL, srs_id INTEGER NOT NULL PRIMARY KEY, organization TEXT NOT NULL,
    organization_coordsys_id INTEGER NOT NULL, definition TEXT NOT NULL, description TEXT);
CREATE TABLE gpkg_contents (
    table_name TEXT NOT NULL PRIMARY KEY, data_type TEXT NOT NULL, identifier TEXT UNIQUE,
    description TEXT DEFAULT '', last_change DATETIME NOT NULL DEFAULT (strftime('%Y-%m-%dT%H:%M:%fZ','now')),
    min_x DOUBLE, min_y DOUBLE, max_x DOUBLE, max_y DOUBLE, srs_id INTEGER,
    CONSTRAINT fk_gc_r_srs_id FOREIGN KEY (srs_id) REFERENCES gpkg_spatial_ref_sys(srs_id));
CREATE TABLE gpkg_geometry_columns (
    table_name TEXT NOT NULL, column_name TEXT NOT NULL, geometry_type_name TEXT NOT NULL,
    srs_id INTEGER NOT NULL, z TINYINT NOT NULL, m TINYINT NOT NULL,
    CONSTRAINT pk_geom_cols PRIMARY KEY (table_name, column_name),
    CONSTRAINT uk_gc_table_name UNIQUE (table_name),
    CONSTRAINT fk_gc_tn FOREIGN KEY (table_name) REFERENCES gpkg_contents(table_name),
    CONSTRAINT fk_gc_srs FOREIGN KEY (srs_id) REFERENCES gpkg_spatial_ref_sys (srs_id));
CREATE TABLE gpkg_extensions (
    table_name TEXT, column_name TEXT, extension_name TEXT NOT NULL, definition TEXT NOT NULL,
    scope TEXT NOT NULL, CONSTRAINT ge_tce UNIQUE (table_name, column_name, extension_name));
"""

# AUTOINCREMENT keeps the highest position ever given, so that a journal cut at its end is noticed.
_JOURNAL_SQL = """
CREATE TABLE journal (
    position INTEGER PRIMARY KEY AUTOINCREMENT NOT NULL, origin TEXT NOT NULL, sequence INTEGER NOT NULL,
    time DATETIME NOT NULL, actor TEXT NOT NULL, kind TEXT NOT NULL, body TEXT NOT NULL,
    previous TEXT NOT NULL, digest TEXT NOT NULL UNIQUE, UNIQUE (origin, sequence));
"""

_JOURNAL_GUARDS = """
CREATE TRIGGER journal_keeps_every_entry BEFORE DELETE ON journal
BEGIN SELECT RAISE(ABORT, 'an entry of the journal cannot be removed'); END;
CREATE TRIGGER journal_changes_no_entry BEFORE UPDATE ON journal
BEGIN SELECT RAISE(ABORT, 'an entry of the journal cannot be changed'); END;
CREATE TRIGGER journal_replaces_no_entry BEFORE INSERT ON journal
  WHEN EXISTS (SELECT 1 FROM journal WHERE position = NEW.position OR digest = NEW.digest
    OR (origin = NEW.origin AND sequence = NEW.sequence))
BEGIN SELECT RAISE(ABORT, 'an entry of the journal cannot be replaced'); END;
"""

# The second holds all that an audit asks of placements, so that reading a million never touches their table.
# The third finds the few whose position is so unsure that they count from afar.
_INDEXES = """
CREATE INDEX placements_by_tag ON placements (tag);
CREATE INDEX placements_by_permit ON placements (
    permit, module_type, placed_at, placement_id, tag, module, numbers);
CREATE INDEX placements_by_doubt ON placements (r95_m);
CREATE INDEX conditions_by_permit ON conditions (permit, in_force_from);
CREATE INDEX certificates_by_tag ON certificates (tag);
CREATE INDEX resurveys_by_tag ON resurveys (tag);
CREATE INDEX hand_overs_by_tag ON hand_overs (tag);
"""

_RTREE = """
CREATE VIRTUAL TABLE "rtree_{t}_geom" USING rtree(id, minx, maxx, miny, maxy);
CREATE TRIGGER "rtree_{t}_geom_insert" AFTER INSERT ON "{t}"
  WHEN (new."geom" NOT NULL AND NOT ST_IsEmpty(NEW."geom"))
BEGIN INSERT OR REPLACE INTO "rtree_{t}_geom" VALUES (NEW."fid",
  ST_MinX(NEW."geom"), ST_MaxX(NEW."geom"), ST_MinY(NEW."geom"), ST_MaxY(NEW."geom")); END;
CREATE TRIGGER "rtree_{t}_geom_update1" AFTER UPDATE OF "geom" ON "{t}"
  WHEN OLD."fid" = NEW."fid" AND (NEW."geom" NOTNULL AND NOT ST_IsEmpty(NEW."geom"))
BEGIN INSERT OR REPLACE INTO "rtree_{t}_geom" VALUES (NEW."fid",
  ST_MinX(NEW."geom"), ST_MaxX(NEW."geom"), ST_MinY(NEW."geom"), ST_MaxY(NEW."geom")); END;
CREATE TRIGGER "rtree_{t}_geom_update2" AFTER UPDATE OF "geom" ON "{t}"
  WHEN OLD."fid" = NEW."fid" AND (NEW."geom" ISNULL OR ST_IsEmpty(NEW."geom"))
BEGIN DELETE FROM "rtree_{t}_geom" WHERE id = OLD."fid"; END;
CREATE TRIGGER "rtree_{t}_geom_update3" AFTER UPDATE ON "{t}"
  WHEN OLD."fid" != NEW."fid" AND (NEW."geom" NOTNULL AND NOT ST_IsEmpty(NEW."geom"))
BEGIN DELETE FROM "rtree_{t}_geom" WHERE id = OLD."fid";
  INSERT OR REPLACE INTO "rtree_{t}_geom" VALUES (NEW."fid",
  ST_MinX(NEW."geom"), ST_MaxX(NEW."geom"), ST_MinY(NEW."geom"), ST_MaxY(NEW."geom")); END;
CREATE TRIGGER "rtree_{t}_geom_update4" AFTER UPDATE ON "{t}"
  WHEN OLD."fid" != NEW."fid" AND (NEW."geom" ISNULL OR ST_IsEmpty(NEW."geom"))
BEGIN DELETE FROM "rtree_{t}_geom" WHERE id IN (OLD."fid", NEW."fid"); END;
CREATE TRIGGER "rtree_{t}_geom_delete" AFTER DELETE ON "{t}" WHEN old."geom" NOT NULL
BEGIN DELETE FROM "rtree_{t}_geom" WHERE id = OLD."fid"; END;
"""


def srs_of(frame: str) -> int:
    """
    Give the number of a frame.

    Raises
    ------
    FrameError
        If the code is not of the form "EPSG:6318".
    """
    authority, _, number = frame.partition(":")
    if authority.upper() != "EPSG" or not number.isdigit():
        what = f"{frame!r} is not a code of a home frame."
        raise FrameError(what, remedy='Give an EPSG code, as "EPSG:6318".')
    return int(number)


def journal_guards() -> dict[str, str]:
    """Give the triggers that forbid every change of the journal: the statement that makes each, by name."""
    made = [f"{part.strip()}; END" for part in _JOURNAL_GUARDS.split("; END;") if part.strip()]
    return {sql.split()[2]: sql for sql in made}


def create_tables(connection: sqlite3.Connection, *, frame: str, now: datetime) -> None:
    """
    Make an empty registry in an empty database.

    Parameters
    ----------
    connection : sqlite3.Connection
        It has the spatial functions.
    frame : str
        The home frame, as "EPSG:6318": geographic, two dimensions.
    now : datetime
        The instant of creation, for the list of contents.

    Raises
    ------
    FrameError
        If the frame is unknown or not geographic.
    """
    srs_id = srs_of(frame)
    connection.execute(f"PRAGMA application_id = {APPLICATION_ID}")
    connection.execute(f"PRAGMA user_version = {USER_VERSION}")
    connection.executescript(_FRAMEWORK)
    _list_frames(connection, frame)
    connection.executescript(_JOURNAL_SQL)
    connection.executescript(_JOURNAL_GUARDS)
    time = instant_text(now)
    _list_contents(connection, (_JOURNAL,), srs_id, time)
    _create_local(connection, time)
    _create_derived(connection, srs_id, time)


def create_local(connection: sqlite3.Connection) -> None:
    """Make what the file keeps of itself, where an earlier version did not; in the caller's transaction."""
    sql = "SELECT last_change FROM gpkg_contents WHERE table_name = 'journal'"
    _create_local(connection, connection.execute(sql).fetchone()[0])


def _create_local(connection: sqlite3.Connection, time: str) -> None:
    named = {row[0] for row in connection.execute("SELECT name FROM sqlite_master WHERE type = 'table'")}
    missing = [table for table in _LOCAL if table.name not in named]
    for table in missing:
        connection.execute(
            f'CREATE TABLE "{table.name}" (fid INTEGER PRIMARY KEY AUTOINCREMENT NOT NULL, {table.columns})'
        )
    _list_contents(connection, missing, -1, time)


def remake_derived(connection: sqlite3.Connection, *, frame: str, now: datetime) -> None:
    """
    Make every table that follows from the journal anew and empty, whatever an earlier version kept there.

    Within the transaction of the caller, if there is one.

    Parameters
    ----------
    connection : sqlite3.Connection
        It has the spatial functions.
    frame : str
        The home frame.
    now : datetime
        The instant for the list of contents.
    """
    for table in reversed((*_TABLES, *LAYERS)):
        for name in ("gpkg_extensions", "gpkg_geometry_columns", "gpkg_contents"):
            connection.execute(f"DELETE FROM {name} WHERE table_name = ?", (table.name,))
        connection.execute(f'DROP TABLE IF EXISTS "rtree_{table.name}_geom"')
        connection.execute(f'DROP TABLE IF EXISTS "{table.name}"')
    _list_frames(connection, frame)
    connection.execute("DELETE FROM gpkg_contents WHERE table_name = ?", (_JOURNAL.name,))
    _list_contents(connection, (_JOURNAL,), srs_of(frame), instant_text(now))
    _create_local(connection, instant_text(now))
    _create_derived(connection, srs_of(frame), instant_text(now))


def _list_frames(connection: sqlite3.Connection, frame: str) -> None:
    """Write what every reader of GeoPackages must know of frames; rows that others added are left."""
    connection.executemany(
        "INSERT INTO gpkg_spatial_ref_sys"
        " (srs_name, srs_id, organization, organization_coordsys_id, definition, description)"
        " VALUES (?, ?, ?, ?, ?, ?) ON CONFLICT (srs_id) DO UPDATE SET srs_name = excluded.srs_name,"
        " organization = excluded.organization, definition = excluded.definition,"
        " organization_coordsys_id = excluded.organization_coordsys_id, description = excluded.description",
        _reference_systems(frame),
    )


def _create_derived(connection: sqlite3.Connection, srs_id: int, time: str) -> None:
    for table in (*_TABLES, *LAYERS):
        geometry = f"geom {table.geometry}, " if table.geometry else ""
        columns = f"fid INTEGER PRIMARY KEY AUTOINCREMENT NOT NULL, {geometry}{table.columns}"
        connection.execute(f'CREATE TABLE "{table.name}" ({columns})')
    _list_contents(connection, (*LAYERS, *_TABLES), srs_id, time)
    for layer in LAYERS:
        _run(connection, _RTREE.format(t=layer.name))
    _run(connection, _INDEXES)


def _run(connection: sqlite3.Connection, script: str) -> None:
    """Run several statements without ending a transaction, as ``executescript`` would."""
    statement = ""
    for line in script.splitlines(keepends=True):
        statement += line
        if sqlite3.complete_statement(statement):
            connection.execute(statement)
            statement = ""


def _list_contents(connection: sqlite3.Connection, tables: Sequence[Table], srs_id: int, time: str) -> None:
    """Tell every reader of GeoPackages what is there."""
    for table in tables:
        connection.execute(
            "INSERT INTO gpkg_contents (table_name, data_type, identifier, description, last_change, srs_id)"
            " VALUES (?, ?, ?, ?, ?, ?)",
            (
                table.name,
                "features" if table.geometry else "attributes",
                table.name,
                table.description,
                time,
                srs_id if table.geometry else None,
            ),
        )
        if table.geometry:
            connection.execute(
                "INSERT INTO gpkg_geometry_columns VALUES (?, 'geom', ?, ?, 0, 0)",
                (table.name, table.geometry, srs_id),
            )
            connection.execute(
                "INSERT INTO gpkg_extensions VALUES (?, 'geom', 'gpkg_rtree_index',"
                " 'http://www.geopackage.org/spec120/#extension_rtree', 'write-only')",
                (table.name,),
            )


def _reference_systems(frame: str) -> list[tuple[str, int, str, int, str, str]]:
    """Give the rows that every GeoPackage has (requirement 11) and that of the home frame."""
    from pyproj import CRS
    from pyproj.exceptions import CRSError

    rows = [
        (
            "Undefined Cartesian",
            -1,
            "NONE",
            -1,
            "undefined",
            "undefined Cartesian coordinate reference system",
        ),
        (
            "Undefined geographic",
            0,
            "NONE",
            0,
            "undefined",
            "undefined geographic coordinate reference system",
        ),
    ]
    for code in dict.fromkeys(("EPSG:4326", frame)):
        try:
            crs = CRS.from_user_input(code)
        except CRSError as error:
            raise FrameError(f"{code} is not known.", remedy="Look up the EPSG code of the frame.") from error
        if not crs.is_geographic or len(crs.axis_info) != 2:
            what = f"{code} ({crs.name}) cannot be a home frame."
            raise FrameError(
                what, remedy="Give a geographic frame with latitude and longitude, as EPSG:6318."
            )
        number = srs_of(code)
        rows.append(
            (crs.name, number, "EPSG", number, crs.to_wkt("WKT1_GDAL"), "longitude, latitude in degrees")
        )
    return rows
