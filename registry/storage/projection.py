"""
The tables that follow from the journal: what each kind of entry writes.

The same functions run when an entry is appended and when the journal is played again,
so both come out identical.
"""

import sqlite3
from collections.abc import Callable, Mapping
from dataclasses import asdict
from typing import Any

from registry.errors import ConflictError, InvalidRecordError, NewerRegistryError, NotFoundError
from registry.records.certificate_version import CertificateState, statement_digest, version_of_body
from registry.records.entry import Entry, canonical_json, instant_text
from registry.storage.geopackage_blob import Bounds, blob_bounds, point_blob, shape_blob
from registry.storage.geopackage_schema import FORMAT, srs_of
from registry.storage.placement_numbers import packed_numbers

__all__ = ["Projection"]

Body = Mapping[str, Any]


class Projection:
    """
    Writes what follows from entries, within a transaction that the caller holds.

    Parameters
    ----------
    connection : sqlite3.Connection
        It has the spatial functions.
    frame : str
        The home frame, whose number every geometry carries.
    """

    def __init__(self, connection: sqlite3.Connection, *, frame: str) -> None:
        self._connection = connection
        self._srs_id = srs_of(frame)
        self._touched: dict[str, None] = {}
        self._grown: dict[str, Bounds] = {}
        self._shrunk: set[str] = set()

    def add(self, position: int, entry: Entry) -> None:
        """
        Write what follows from one entry.

        Raises
        ------
        ConflictError
            If it adds something that is there already, or corrects what was corrected before.
        NotFoundError
            If it builds on something that is not there.
        InvalidRecordError
            If its body lacks a field.
        NewerRegistryError
            If its kind is unknown.
        """
        project = _KINDS.get(entry.kind)
        if project is None:
            what = f"Entry {entry.reference} is of a kind that this version does not know: {entry.kind!r}."
            raise NewerRegistryError(what, remedy="Install the version of Leadline that wrote the registry.")
        self._touched["journal"] = None
        try:
            project(self, position, entry, entry.content())
        except (KeyError, TypeError, AttributeError, ValueError) as error:
            what = f"The body of entry {entry.reference} ({entry.kind}) lacks or misstates {error}."
            raise InvalidRecordError(what, remedy="Write it with the functions of records/body.") from error

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
            self._connection.execute(
                "UPDATE gpkg_contents SET (min_x, min_y, max_x, max_y) ="
                f" (SELECT min(lon_deg), min(lat_deg), max(lon_deg), max(lat_deg) FROM {layer})"
                " WHERE table_name = ?",
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

    def _registry_created(self, position: int, entry: Entry, body: Body) -> None:
        if body["format"] > FORMAT:
            what = f"The registry was written in format {body['format']}; this version knows format {FORMAT}."
            raise NewerRegistryError(what, remedy="Install the version of Leadline that wrote the registry.")
        if position > 1:
            raise ConflictError("A registry begins once.", remedy=f"Make another file for {entry.reference}.")

    def _permit_added(self, position: int, entry: Entry, body: Body) -> None:
        if self._knows_permit(body["number"]):
            what = f"Permit {body['number']} is in the registry already."
            raise ConflictError(what, remedy="Where the authority changed it: leadline permit amend.")
        self._write_permit(position, body)

    def _permit_amended(self, position: int, entry: Entry, body: Body) -> None:
        number, begins = body["number"], body["in_force_from"]
        if not self._knows_permit(number):
            what = f"There is no permit {number} to amend."
            raise NotFoundError(what, remedy="Add it as first issued: leadline permit add FILE.toml.")
        # One day has one version: a later entry for it is the better transcript.
        for table, key in (("conditions", "permit"), ("permit_areas", "permit"), ("permits", "number")):
            self._connection.execute(
                f"DELETE FROM {table} WHERE {key} = ? AND in_force_from = ?", (number, begins)
            )
        self._write_permit(position, body)
        for table, key in (("permits", "number"), ("permit_areas", "permit"), ("conditions", "permit")):
            self._connection.execute(
                f"UPDATE {table} SET in_force_until = (SELECT date(min(later.in_force_from), '-1 day')"
                f" FROM permits later WHERE later.number = {table}.{key}"
                f" AND later.in_force_from > {table}.in_force_from) WHERE {key} = ?",
                (number,),
            )
            self._touched[table] = None

    def _knows_permit(self, number: str) -> bool:
        sql = "SELECT 1 FROM permits WHERE number = ?"
        return self._connection.execute(sql, (number,)).fetchone() is not None

    def _write_permit(self, position: int, body: Body) -> None:
        from shapely import MultiPolygon, Polygon
        from shapely.geometry import shape

        number, begins = body["number"], body.get("in_force_from") or body["valid_from"]
        common = {name: body[name] for name in ("authority", "valid_from", "valid_to", "chart_datum")}
        common |= {"in_force_from": begins}
        taken = f"Permit {number} has a version from {begins} already."
        remedy = "See it with: leadline permit show NUMBER."
        named = {"number": number, "holder": body.get("holder", ""), "amendment": body.get("amendment", "")}
        self._insert("permits", named | common | {"entry": position}, taken, remedy)
        for area in body["areas"]:
            polygon = shape(area["shape"])
            parts = MultiPolygon([polygon]) if isinstance(polygon, Polygon) else polygon
            row = {
                "geom": shape_blob(parts, self._srs_id),
                "permit": number,
                "area_id": area["area_id"],
                **common,
                "edges": area["edges"],
                "stated_frame": area["frame"],
                "stated_epoch_year": area["epoch"],
                "operation": area["operation"],
                "entry": position,
            }
            self._insert("permit_areas", row, taken, remedy)
        for condition in body["conditions"]:
            row = {"permit": number, "rule": condition["rule"], "cite": condition["cite"]}
            row |= {"in_force_from": begins, "areas": ", ".join(condition.get("areas", ()))}
            row |= {"limits": canonical_json(condition["limits"]), "entry": position}
            self._insert("conditions", row, taken, remedy)

    def _keep_out_added(self, position: int, entry: Entry, body: Body) -> None:
        from shapely.geometry import shape

        row = {
            "geom": shape_blob(shape(body["shape"]), self._srs_id),
            **{name: body[name] for name in ("keep_out_id", "kind", "name", "setback_m")},
            "stated_frame": body["frame"],
            "stated_epoch_year": body["epoch"],
            "operation": body["operation"],
            "entry": position,
        }
        taken = f"Keep-out {body['keep_out_id']} is in the registry already."
        self._insert("keep_outs", row, taken, "Give it an identifier of its own.")

    def _baseline_added(self, position: int, entry: Entry, body: Body) -> None:
        from shapely.geometry import shape

        row = {
            "geom": shape_blob(shape(body["shape"]), self._srs_id),
            **{name: body[name] for name in ("baseline_id", "name", "operation")},
            "stated_frame": body["frame"],
            "stated_epoch_year": body["epoch"],
            "entry": position,
        }
        taken = f"Baseline {body['baseline_id']} is in the registry already."
        self._insert("baselines", row, taken, "Give it an identifier of its own.")

    def _target_added(self, position: int, entry: Entry, body: Body) -> None:
        old = body.get("supersedes")
        if old is not None:
            gone = self._connection.execute("DELETE FROM targets WHERE target_id = ?", (old,)).rowcount
            if not gone:
                raise NotFoundError(f"There is no target {old} to move.", remedy="leadline target list")
            self._shrunk.add("targets")
        names = ("target_id", "permit", "tag", "lon_deg", "lat_deg", "operation")
        row = {name: body[name] for name in names} | {
            "geom": point_blob(body["lon_deg"], body["lat_deg"], self._srs_id),
            "stated_frame": body["frame"],
            "stated_epoch_year": body["epoch"],
            "reason": body.get("reason"),
            "entry": position,
        }
        taken = f"Module {body['tag']} has a target under permit {body['permit']} already."
        self._insert("targets", row, taken, "Where the plan changed, say so: leadline target move.")

    def _declared(self, position: int, entry: Entry, body: Body) -> None:
        row = {
            "reference": entry.reference,
            "kind": entry.kind,
            "declared_at": instant_text(entry.time),
            "actor": entry.actor,
            "declared": canonical_json(dict(body)),
            "entry": position,
        }
        taken = f"Entry {entry.reference} is in the tables already."
        self._insert("declarations", row, taken, "Rebuild the tables from the journal.")

    def _type_added(self, position: int, entry: Entry, body: Body) -> None:
        taken = f"Module type {body['type_id']} is in the registry already."
        remedy = "Give a changed mould an identifier of its own; modules cast before keep theirs."
        row = {name: body[name] for name in _TYPE_COLUMNS} | {"entry": position}
        self._insert("module_types", row, taken, remedy)

    def _module_added(self, position: int, entry: Entry, body: Body) -> None:
        tag = body["tag"]
        self._know_type(tag, body["type_id"])
        row = _module_row(position, body)
        taken = f"Module {tag} is in the registry already."
        module = self._insert("modules", row, taken, "Check the tag on the concrete.")
        # A placement may have been logged before anyone wrote down what stands there.
        self._join_placements(module, row)

    def _module_amended(self, position: int, entry: Entry, body: Body) -> None:
        tag = body["tag"]
        self._know_type(tag, body["type_id"])
        found = self._connection.execute("SELECT fid FROM modules WHERE tag = ?", (tag,)).fetchone()
        if found is None:
            raise NotFoundError(f"There is no module {tag} to amend.", remedy="Add it first.")
        row = _module_row(position, body)
        columns = ", ".join(f"{name} = ?" for name in row)
        self._connection.execute(f"UPDATE modules SET {columns} WHERE fid = ?", (*row.values(), found[0]))
        self._touched["modules"] = None
        self._join_placements(found[0], row)

    def _know_type(self, tag: str, type_id: str) -> None:
        if not self._connection.execute(
            "SELECT 1 FROM module_types WHERE type_id = ?", (type_id,)
        ).fetchone():
            raise NotFoundError(
                f"Module {tag} is of type {type_id}, which the registry does not hold.",
                remedy="Add the type first.",
            )

    def _join_placements(self, module: int, row: Mapping[str, Any]) -> None:
        """Let the placements of a module say what it is."""
        changed = self._connection.execute(
            "UPDATE placements SET module = ?, module_type = ?, listed_name = ? WHERE tag = ?",
            (module, row["type_id"], _listed(row["memorial"], row["consent_listed"]), row["tag"]),
        )
        if changed.rowcount:
            self._touched["placements"] = None

    def _placement_logged(self, position: int, entry: Entry, body: Body) -> None:
        self._place(position, entry, body, supersedes=None)

    def _placement_corrected(self, position: int, entry: Entry, body: Body) -> None:
        old = body["supersedes"]
        self._supersede(old, entry.reference, "correct")
        self._place(position, entry, body, supersedes=old)

    def _placement_withdrawn(self, position: int, entry: Entry, body: Body) -> None:
        old = body["placement_id"]
        self._supersede(old, entry.reference, "withdraw")
        # What was itself a correction keeps the reason for it.
        self._connection.execute(
            "UPDATE observations SET reason = ifnull(reason || '; withdrawn: ', '') || ?"
            " WHERE placement_id = ?",
            (body["reason"], old),
        )

    def _supersede(self, old: str, reference: str, do: str) -> None:
        """Let a placement stand no longer."""
        found = self._connection.execute(
            "SELECT superseded_by FROM observations WHERE placement_id = ?", (old,)
        ).fetchone()
        if found is None:
            raise NotFoundError(f"There is no placement {old} to {do}.", remedy="Look it up in the journal.")
        if found[0]:
            corrected = self._connection.execute(
                "SELECT 1 FROM observations WHERE placement_id = ?", (found[0],)
            ).fetchone()
            if corrected:
                what = f"Placement {old} was corrected before, by {found[0]}."
                raise ConflictError(what, remedy=f"{do.capitalize()} {found[0]} instead.")
            what = f"Placement {old} was withdrawn before, by {found[0]}."
            raise ConflictError(what, remedy="If the module does lie there, log it anew: leadline place.")
        self._connection.execute(
            "UPDATE observations SET superseded_by = ? WHERE placement_id = ?", (reference, old)
        )
        self._connection.execute("DELETE FROM placements WHERE placement_id = ?", (old,))
        self._touched |= {"placements": None, "observations": None}
        self._shrunk.add("placements")

    def _place(self, position: int, entry: Entry, body: Body, *, supersedes: str | None) -> None:
        tag, observed, home = body["tag"], body["observed"], body["home"]["position"]
        module = self._connection.execute(
            "SELECT fid, type_id, memorial, consent_listed FROM modules WHERE tag = ?", (tag,)
        ).fetchone()
        placed = {
            "fid": position,
            "geom": point_blob(home["lon_deg"], home["lat_deg"], self._srs_id),
            "placement_id": entry.reference,
            **{name: body[name] for name in ("tag", "permit", "placed_at", "charted_depth_m", "depth_u95_m")},
            "r95_m": home["r95_m"],
            "verdict": body.get("verdict"),
            "warnings": " ".join(body["warnings"]),
        }
        taken, remedy = (
            f"Entry {entry.reference} is in the tables already.",
            "Rebuild the tables from the journal.",
        )
        self._insert(
            "placements",
            placed
            | {
                "lon_deg": home["lon_deg"],
                "lat_deg": home["lat_deg"],
                "module": module[0] if module else None,
                "module_type": module[1] if module else None,
                "listed_name": _listed(*module[2:]) if module else None,
                "numbers": packed_numbers(
                    lon_deg=home["lon_deg"],
                    lat_deg=home["lat_deg"],
                    r95_m=home["r95_m"],
                    depth_m=body["charted_depth_m"],
                    depth_u95_m=body["depth_u95_m"],
                    placed_at=body["placed_at"],
                ),
            },
            taken,
            remedy,
        )
        self._insert(
            "observations",
            placed
            | {
                **{name: body[name] for name in ("position_text", "depth_text", "tide_text", "vessel")},
                "observed_lon_deg": observed["lon_deg"],
                "observed_lat_deg": observed["lat_deg"],
                "observed_frame": observed["frame"],
                "observed_epoch_year": observed["epoch"],
                "observed_r95_m": observed["r95_m"],
                "operation": body["home"]["operation"],
                "basis": " ".join(body["basis"]),
                "supersedes": supersedes,
                "reason": body.get("reason"),
            },
            taken,
            remedy,
        )
        key = body["source"].get("key")
        # A correction comes from the row of what it corrects.
        if key is not None and supersedes is None:
            row = {"row_key": key, "placement_id": entry.reference, "entry": position}
            taken = f"The row {key} was taken in before."
            self._insert("intake_rows", row, taken, "Leave it out, or correct the placement that it became.")

    def _placement_resurveyed(self, position: int, entry: Entry, body: Body) -> None:
        old = body.get("supersedes")
        if old is not None:
            self._supersede_resurvey(old, entry.reference)
        if not self._connection.execute(
            "SELECT 1 FROM observations WHERE placement_id = ?", (body["placement_id"],)
        ).fetchone():
            what = f"There is no placement {body['placement_id']} to survey again."
            raise NotFoundError(what, remedy="Log the placement first.")
        observed, home, movement = body["observed"], body["home"]["position"], body["movement"]
        row = {
            "fid": position,
            "geom": point_blob(home["lon_deg"], home["lat_deg"], self._srs_id),
            "resurvey_id": entry.reference,
            **{name: body[name] for name in ("tag", "placement_id", "observed_at")},
            "movement": movement["verdict"],
            **{name: movement[name] for name in ("distance_m", "bearing_deg", "u95_m")},
            **{name: home[name] for name in ("lon_deg", "lat_deg", "r95_m")},
            "position_text": body["position_text"],
            "observed_lon_deg": observed["lon_deg"],
            "observed_lat_deg": observed["lat_deg"],
            "observed_frame": observed["frame"],
            "observed_epoch_year": observed["epoch"],
            "observed_r95_m": observed["r95_m"],
            "operation": body["home"]["operation"],
            "basis": " ".join(body["basis"]),
            "vessel": body["vessel"],
            "warnings": " ".join(body["warnings"]),
            "supersedes": old,
            "reason": body.get("reason"),
        }
        taken = f"Entry {entry.reference} is in the tables already."
        self._insert("resurveys", row, taken, "Rebuild the tables from the journal.")
        key = body["source"].get("key")
        if key is not None and old is None:
            line = {"row_key": key, "placement_id": body["placement_id"], "entry": position}
            taken = f"The row {key} was taken in before."
            self._insert("intake_rows", line, taken, "Leave it out, or correct the resurvey that it became.")

    def _supersede_resurvey(self, old: str, reference: str) -> None:
        found = self._connection.execute(
            "SELECT superseded_by FROM resurveys WHERE resurvey_id = ?", (old,)
        ).fetchone()
        if found is None:
            raise NotFoundError(
                f"There is no resurvey {old} to correct.", remedy="Look it up in the journal."
            )
        if found[0]:
            what = f"Resurvey {old} was corrected before, by {found[0]}."
            raise ConflictError(what, remedy=f"Correct {found[0]} instead.")
        self._connection.execute(
            "UPDATE resurveys SET superseded_by = ? WHERE resurvey_id = ?", (reference, old)
        )

    def _custody_handed(self, position: int, entry: Entry, body: Body) -> None:
        old = body.get("supersedes")
        if old is not None:
            self._supersede_hand_over(old, entry.reference, body["tag"])
        row = {
            "reference": entry.reference,
            **{name: body[name] for name in ("tag", "step")},
            "handed_at": body["at"],
            "supersedes": old,
            "reason": body.get("reason"),
            "entry": position,
        }
        taken = f"Entry {entry.reference} is in the tables already."
        self._insert("hand_overs", row, taken, "Rebuild the tables from the journal.")

    def _custody_withdrawn(self, position: int, entry: Entry, body: Body) -> None:
        old = body["reference"]
        self._supersede_hand_over(old, entry.reference, body["tag"])
        # What was itself a correction keeps the reason for it.
        self._connection.execute(
            "UPDATE hand_overs SET reason = ifnull(reason || '; withdrawn: ', '') || ? WHERE reference = ?",
            (body["reason"], old),
        )

    def _supersede_hand_over(self, old: str, reference: str, tag: str) -> None:
        found = self._connection.execute(
            "SELECT superseded_by, tag FROM hand_overs WHERE reference = ?", (old,)
        ).fetchone()
        if found is None or found[1] != tag:
            what = f"There is no hand-over {old} of {tag}."
            raise NotFoundError(what, remedy=f"See them with: leadline custody {tag}.")
        if found[0]:
            what = f"Hand-over {old} was corrected or withdrawn before, by {found[0]}."
            raise ConflictError(what, remedy=f"See what stands with: leadline custody {tag}.")
        self._connection.execute(
            "UPDATE hand_overs SET superseded_by = ? WHERE reference = ?", (reference, old)
        )
        self._touched["hand_overs"] = None

    def _family_erased(self, position: int, entry: Entry, body: Body) -> None:
        row = {"reference": entry.reference, "tag": body["tag"]}
        row |= {"erased_at": instant_text(entry.time), "entry": position}
        taken = f"Entry {entry.reference} is in the tables already."
        self._insert("erasures", row, taken, "Rebuild the tables from the journal.")

    def _certificate_issued(self, position: int, entry: Entry, body: Body) -> None:
        made = version_of_body(body, entry.time)
        row = asdict(made) | {
            "issued_at": instant_text(made.issued_at),
            "since": instant_text(made.since),
            "entry": position,
        }
        self._connection.execute(
            "UPDATE certificates SET state = ?, since = ? WHERE number = ? AND state = ?",
            (CertificateState.SUPERSEDED, row["since"], made.number, CertificateState.CURRENT),
        )
        taken = f"Certificate {made.number}, version {made.version}, was issued before."
        self._insert("certificates", row, taken, "Give it the next version.")

    def _certificate_withdrawn(self, position: int, entry: Entry, body: Body) -> None:
        number = body["number"]
        ended = self._connection.execute(
            "UPDATE certificates SET state = ?, since = ?, reason = ? WHERE number = ? AND state != ?",
            (
                CertificateState.WITHDRAWN,
                instant_text(entry.time),
                body["reason"],
                number,
                CertificateState.WITHDRAWN,
            ),
        )
        if ended.rowcount:
            self._touched["certificates"] = None
            return
        if not self._connection.execute("SELECT 1 FROM certificates WHERE number = ?", (number,)).fetchone():
            raise NotFoundError(
                f"There is no certificate {number} to withdraw.", remedy="leadline certificates list"
            )
        raise ConflictError(f"Certificate {number} was withdrawn before.", remedy="Leave it as it is.")

    def _certificate_duplicated(self, position: int, entry: Entry, body: Body) -> None:
        number, version = body["number"], body["version"]
        if not self._connection.execute(
            "SELECT 1 FROM certificates WHERE number = ? AND version = ?", (number, version)
        ).fetchone():
            what = f"There is no certificate {number}, version {version}, to duplicate."
            raise NotFoundError(what, remedy="leadline certificates list")
        row = {name: body[name] for name in ("number", "version", "duplicate", "tag", "pdf_sha256")} | {
            "made_at": instant_text(entry.time),
            "statement_sha256": statement_digest(body["statement"]),
            "entry": position,
        }
        taken = f"Duplicate {body['duplicate']} of {number}, version {version}, was made before."
        self._insert("certificate_duplicates", row, taken, "Give it the next number.")

    def _key_rotated(self, position: int, entry: Entry, body: Body) -> None:
        names = ("key_id", "public_key", "replaces", "ended", "reason", "endorsement")
        row = {name: body[name] for name in names} | {"since": instant_text(entry.time), "entry": position}
        taken = f"The key {body['replaces']} was replaced before, or {body['key_id']} was in use before."
        self._insert("signing_keys", row, taken, "Make a new key in place of the one in use.")

    def _nothing_more(self, _position: int, _entry: Entry, _body: Body) -> None:
        """The journal itself is the record."""


def _module_row(position: int, body: Body) -> dict[str, Any]:
    memorial = body["memorial"]
    return {name: body[name] for name in ("tag", "type_id", "cast_on", "mass_kg")} | {
        "memorial": memorial["name"] if memorial else None,
        "consent_listed": int(memorial["consent_listed"]) if memorial else None,
        "entry": position,
    }


def _listed(memorial: str | None, consent: int | None) -> str | None:
    return memorial if consent else None


_TYPE_COLUMNS = (
    "type_id",
    "base_radius_m",
    "height_m",
    "height_u95_m",
    "mass_kg",
    "submerged_mass_kg",
    "side_area_m2",
    "plan_area_m2",
    "note",
)

#: Statements by table and columns, composed once.
_INSERTS: dict[tuple[str, ...], str] = {}

_KINDS: dict[str, Callable[[Projection, int, Entry, Body], None]] = {
    "registry.created": Projection._registry_created,
    "permit.added": Projection._permit_added,
    "permit.amended": Projection._permit_amended,
    "keepout.added": Projection._keep_out_added,
    "baseline.added": Projection._baseline_added,
    "target.added": Projection._target_added,
    "type.added": Projection._type_added,
    "module.added": Projection._module_added,
    "module.amended": Projection._module_amended,
    "placement.logged": Projection._placement_logged,
    "placement.corrected": Projection._placement_corrected,
    "placement.withdrawn": Projection._placement_withdrawn,
    "placement.resurveyed": Projection._placement_resurveyed,
    "certificate.issued": Projection._certificate_issued,
    "certificate.withdrawn": Projection._certificate_withdrawn,
    "certificate.duplicated": Projection._certificate_duplicated,
    "key.rotated": Projection._key_rotated,
    "custody.handed": Projection._custody_handed,
    "custody.withdrawn": Projection._custody_withdrawn,
    "family.erased": Projection._family_erased,
    "programme.declared": Projection._declared,
    "duty.done": Projection._declared,
    "intake.read": Projection._nothing_more,
}
    "plaque.approved": Projection._declared,
    "plaque.returned": Projection._declared,
