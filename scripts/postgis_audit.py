"""
The same questions asked of PostGIS, where it is installed: exact geodesics on the geography type.

A server of its own, in a scratch folder, reached by a socket in that folder alone, run by an account without
rights; nothing of it is left behind. Placements and areas are loaded and indexed beforehand and do not count.
"""

import os
import pwd
import shutil
import sqlite3
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from statistics import median
from typing import Any

import shapely
from make_archive import FRAME
from oracle import geometry_of

__all__ = ["PostGIS", "postgis", "postgis_programs"]

#: Account that runs the server where this is run by root, which PostgreSQL refuses.
ACCOUNTS = ("postgres", "nobody")
SRID = int(FRAME.partition(":")[2])
#: Neighbours are sought so far: the nearest of all but a few lies nearer. Units: m.
REACH_M = 50
SETTINGS = {
    "listen_addresses": "",
    "shared_buffers": "512MB",
    "work_mem": "128MB",
    "maintenance_work_mem": "512MB",
    "max_parallel_workers_per_gather": "2",
    "jit": "off",
    "fsync": "off",
}
#: Geodesics on the ellipsoid throughout; the operator <-> would be spherical.
SCHEMA = """
CREATE EXTENSION postgis;
CREATE TABLE loaded_modules (id int, tag text, permit text, radius float8, r95 float8,
  lon float8, lat float8);
CREATE TABLE loaded_areas (permit text, setback float8, least float8, area text);
CREATE TABLE loaded_candidates (id int, permit text, lon float8, lat float8);
"""
INDEXES = f"""
CREATE TABLE modules AS SELECT id, tag, permit, radius, r95,
  ST_SetSRID(ST_MakePoint(lon, lat), {SRID})::geography AS place FROM loaded_modules ORDER BY permit, id;
CREATE TABLE areas AS SELECT permit, setback, least, ST_GeomFromText(area, {SRID})::geography AS area,
  ST_Boundary(ST_GeomFromText(area, {SRID}))::geography AS edge FROM loaded_areas;
CREATE TABLE candidates AS SELECT id, permit,
  ST_SetSRID(ST_MakePoint(lon, lat), {SRID})::geography AS place FROM loaded_candidates;
CREATE INDEX ON modules USING gist (place);
CREATE INDEX ON areas (permit);
CREATE UNIQUE INDEX ON candidates (id);
DROP TABLE loaded_modules, loaded_areas, loaded_candidates;
VACUUM ANALYZE;
"""
AUDIT = f"""
COPY (SELECT 'inside-area', m.tag FROM modules m JOIN areas a USING (permit)
  WHERE CASE WHEN ST_Covers(a.area, m.place) THEN 1 ELSE -1 END * ST_Distance(a.edge, m.place) + m.r95
    < a.setback) TO STDOUT;
COPY (SELECT 'spacing', m.tag FROM modules m JOIN areas a USING (permit) CROSS JOIN LATERAL
  (SELECT min(ST_Distance(o.place, m.place)) AS nearest,
     min(ST_Distance(o.place, m.place) - o.radius + sqrt(m.r95 * m.r95 + o.r95 * o.r95)) AS edge
   FROM modules o WHERE ST_DWithin(o.place, m.place, {REACH_M}) AND o.id <> m.id) n
  WHERE n.nearest IS NOT NULL AND n.edge - m.radius < a.least) TO STDOUT;
"""
CHECK = f"""\\set i random(1, :count)
SELECT c.id, a.setback, a.least, CASE WHEN ST_Covers(a.area, c.place) THEN 1 ELSE -1 END
    * ST_Distance(a.edge, c.place) AS inside, n.tag, n.nearest
  FROM candidates c JOIN areas a USING (permit) LEFT JOIN LATERAL
  (SELECT o.tag, ST_Distance(o.place, c.place) AS nearest FROM modules o
   WHERE ST_DWithin(o.place, c.place, {REACH_M}) ORDER BY 2 LIMIT 1) n ON true
  WHERE c.id = :i;
"""


@dataclass(frozen=True, slots=True)
class PostGIS:
    """A server that runs, and what it takes to ask it."""

    programs: Path
    folder: Path

    def client(self, name: str, *arguments: str, database: str = "archive") -> list[str]:
        """Give the command line of a client."""
        where = ["-h", str(self.folder), "-U", "owner"]
        return [str(self.programs / name), *where, *arguments, database]

    def load(self, database: str, archive: Path, candidates: Sequence[tuple[str, float, float]]) -> None:
        """Make a database of an archive and of places to be checked."""
        self._run(self.client("psql", "-qc", f"CREATE DATABASE {database}", database="postgres"))
        self._sql(database, SCHEMA)
        source = sqlite3.connect(f"{archive.absolute().as_uri()}?mode=ro", uri=True)
        modules = source.execute(
            "SELECT p.fid, tag, permit, base_radius_m, r95_m, lon_deg, lat_deg FROM placements p"
            " JOIN module_types ON type_id = module_type"
        )
        self._copy(database, "loaded_modules", modules)
        areas = source.execute(
            "SELECT permit, setback, least, geom FROM permit_areas"
            " JOIN (SELECT permit, json_extract(limits, '$.setback.value') AS setback FROM conditions"
            "   WHERE rule = 'inside-area') USING (permit)"
            " JOIN (SELECT permit, json_extract(limits, '$.least.value') AS least FROM conditions"
            "   WHERE rule = 'spacing') USING (permit)"
        )
        self._copy(
            database, "loaded_areas", ((*row[:3], shapely.to_wkt(geometry_of(row[3]), 15)) for row in areas)
        )
        source.close()
        numbered = ((index, *candidate) for index, candidate in enumerate(candidates, start=1))
        self._copy(database, "loaded_candidates", numbered)
        self._sql(database, INDEXES)
        # Ready for any client, whose start is all that it adds.
        (self.folder / "audit.sql").write_text(AUDIT)
        (self.folder / "check.sql").write_text(CHECK)

    def audit(self, database: str) -> list[str]:
        """Give the command line that audits a database and prints rule and tag of what is nonconforming."""
        return self.client(
            "psql", "-qX", "-v", "ON_ERROR_STOP=1", "-f", str(self.folder / "audit.sql"), database=database
        )

    def answers(self, database: str) -> dict[str, list[str]]:
        """Audit a database and give the tags by rule."""
        lines = self._run(self.audit(database)).splitlines()
        found: dict[str, list[str]] = {"inside-area": [], "spacing": []}
        for line in lines:
            rule, tag = line.split("\t")
            found[rule].append(tag)
        return {rule: sorted(tags) for rule, tags in found.items()}

    def check_us(self, database: str, *, count: int, times: int) -> float:
        """Ask of one place after another, prepared once, and give the median. Units: microseconds."""
        with tempfile.TemporaryDirectory() as log:
            options = ("-n", "-M", "prepared", "-t", str(times), "-D", f"count={count}", "-l")
            where = ("--log-prefix", f"{log}/transactions", "-f", str(self.folder / "check.sql"))
            self._run(self.client("pgbench", *options, *where, database=database))
            lines = [line for path in Path(log).iterdir() for line in path.read_text().splitlines()]
        return median(float(line.split()[2]) for line in lines)

    def drop(self, database: str) -> None:
        """Take a database away again."""
        self._run(self.client("psql", "-qc", f"DROP DATABASE {database}", database="postgres"))

    def version(self) -> str:
        """Tell which versions answer."""
        asked = (
            "SELECT 'PostGIS ' || default_version || ' on PostgreSQL ' || split_part(version(), ' ', 2)"
            " FROM pg_available_extensions WHERE name = 'postgis'"
        )
        return self._run(self.client("psql", "-XAtc", asked, database="postgres")).strip()

    def _sql(self, database: str, text: str) -> None:
        self._run(self.client("psql", "-qX", "-v", "ON_ERROR_STOP=1", database=database), told=text)

    def _copy(self, database: str, table: str, rows: Any) -> None:
        client = subprocess.Popen(
            self.client("psql", "-qX", "-c", f"COPY {table} FROM STDIN", database=database),
            stdin=subprocess.PIPE,
            text=True,
        )
        assert client.stdin is not None
        with client.stdin as into:
            into.writelines("\t".join(map(str, row)) + "\n" for row in rows)
        if client.wait():
            sys.exit(f"PostGIS did not take in {table}.")

    def _run(self, command: Sequence[str], *, told: str | None = None) -> str:
        done = subprocess.run(command, input=told, capture_output=True, text=True, check=False)
        if done.returncode:
            sys.exit(f"{' '.join(command)} ended with {done.returncode}: {done.stderr}")
        return done.stdout


def postgis_programs() -> Path | None:
    """Give the folder of the newest PostgreSQL that has PostGIS; None where there is none."""
    found = sorted(Path("/usr/lib/postgresql").glob("*/bin/initdb"), key=lambda path: int(path.parts[-3]))
    for initdb in reversed(found):
        version = initdb.parts[-3]
        if Path(f"/usr/share/postgresql/{version}/extension/postgis.control").exists():
            return initdb.parent
    return None


@contextmanager
def postgis() -> Iterator[PostGIS | None]:
    """Run a server while it is needed; None where PostGIS is not installed or nobody may run it."""
    programs, account = postgis_programs(), _account()
    if programs is None or (account is None and os.geteuid() == 0):
        yield None
        return
    folder = Path(tempfile.mkdtemp(prefix="leadline-postgis-"))
    as_whom: dict[str, Any] = {}
    if account is not None:
        os.chown(folder, account.pw_uid, account.pw_gid)
        as_whom = {"user": account.pw_uid, "group": account.pw_gid, "extra_groups": []}
    data = folder / "data"
    quietly: dict[str, Any] = {"stdout": subprocess.DEVNULL, "cwd": folder, **as_whom}
    server = None
    try:
        make = [
            str(programs / "initdb"),
            "-D",
            str(data),
            "-U",
            "owner",
            "-A",
            "trust",
            "--no-sync",
            "-E",
            "UTF8",
        ]
        subprocess.run(make, check=True, **quietly)
        settings = [part for name, value in SETTINGS.items() for part in ("-c", f"{name}={value}")]
        start = [str(programs / "postgres"), "-D", str(data), "-k", str(folder), *settings]
        server = subprocess.Popen(start, stderr=subprocess.DEVNULL, **quietly)
        _wait(programs, folder, server)
        yield PostGIS(programs, folder)
    finally:
        if server is not None:
            server.terminate()
            try:
                server.wait(timeout=30)
            except subprocess.TimeoutExpired:
                server.kill()
                server.wait()
        shutil.rmtree(folder, ignore_errors=True)


def _account() -> pwd.struct_passwd | None:
    """Give the account to run the server as; None where the own one will do, or none is there."""
    if os.geteuid() != 0:
        return None
    for name in ACCOUNTS:
        try:
            return pwd.getpwnam(name)
        except KeyError:
            continue
    return None


def _wait(programs: Path, folder: Path, server: "subprocess.Popen[bytes]") -> None:
    for _ in range(300):
        if (
            subprocess.run([str(programs / "pg_isready"), "-q", "-h", str(folder)], check=False).returncode
            == 0
        ):
            return
        if server.poll() is not None:
            break
        time.sleep(0.1)
    sys.exit("PostgreSQL did not start.")
