"""
The tables that follow from the journal: what each kind of entry writes.

The same functions run when an entry is appended and when the journal is played again,
so both come out identical.
"""

import sqlite3
from collections.abc import Callable, Mapping
from typing import Any

from registry.errors import ConflictError, InvalidRecordError, NewerRegistryError, NotFoundError
from registry.records.entry import Entry, canonical_json, instant_text
from registry.storage.geopackage_blob import point_blob, shape_blob
from registry.storage.geopackage_schema import FORMAT
from registry.storage.placement_numbers import packed_numbers
from registry.storage.projected_papers import PaperTables
from registry.storage.projected_tables import link_of

__all__ = ["Projection"]

Body = Mapping[str, Any]


class Projection(PaperTables):
    """
    Writes what follows from entries, within a transaction that the caller holds.

    Parameters
    ----------
    connection : sqlite3.Connection
        It has the spatial functions.
    frame : str
        The home frame, whose number every geometry carries.
    branches : Branches, optional
        What each entry knew, of those before the first that is added; where none is given, each knew all
        before it, as what is written here and now does.
    """

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
        self._contests.begin(position, entry)
        if self._branches is not None and not self._branches.add(link_of(entry), entry.body):
            what = f"Entry {entry.reference} does not build on what its device wrote before it."
            raise InvalidRecordError(what, remedy="Find what is wrong with: leadline journal verify.")
        try:
            project(self, position, entry, entry.content())
        except (KeyError, TypeError, AttributeError, ValueError, OverflowError, sqlite3.Error) as error:
            if isinstance(error, sqlite3.Error) and not str(error).startswith("Error binding"):
                raise
            what = f"The body of entry {entry.reference} ({entry.kind}) lacks or misstates {error}."
            raise InvalidRecordError(what, remedy="Write it with the functions of records/body.") from error

    def _registry_created(self, position: int, entry: Entry, body: Body) -> None:
        if body["format"] > FORMAT:
            what = f"The registry was written in format {body['format']}; this version knows format {FORMAT}."
            raise NewerRegistryError(what, remedy="Install the version of Leadline that wrote the registry.")
        if position > 1:
            raise ConflictError("A registry begins once.", remedy=f"Make another file for {entry.reference}.")

    def _permit_added(self, position: int, entry: Entry, body: Body) -> None:
        number, begins = body["number"], body.get("in_force_from") or body["valid_from"]
        versions = self._versions_of(number)
        stranger = next((held for held in versions if self._contests.unknown(held)), None)
        sentence = f"Permit {number} was added on two machines with other words."
        if self._contests.yields("permit", f"{number} from {begins}", stranger, sentence):
            return
        if versions:
            what = f"Permit {number} is in the registry already."
            raise ConflictError(what, remedy="Where the authority changed it: leadline permit amend.")
        self._write_permit(position, body)

    def _permit_amended(self, position: int, entry: Entry, body: Body) -> None:
        number, begins = body["number"], body["in_force_from"]
        versions = self._versions_of(number)
        # Who knows none of its versions amends another paper of that number.
        others = versions if all(map(self._contests.unknown, versions)) else ()
        holder = next(iter((*others, *self._versions_of(number, begins))), None)
        sentence = f"Permit {number} was amended on two machines for {begins}, with other words."
        if self._contests.yields("permit", f"{number} from {begins}", holder, sentence):
            return
        if not versions:
            what = f"There is no permit {number} to amend."
            raise NotFoundError(what, remedy="Add it as first issued: leadline permit add FILE.toml.")
        self._replace_permit(position, number, begins, body)

    def _replace_permit(self, position: int, number: str, begins: str, body: Body) -> None:
        """Write the version of one day. One day has one: a later entry for it is the better transcript."""
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

    def _versions_of(self, number: str, begins: str | None = None) -> tuple[int, ...]:
        """Give the positions of the entries that hold the versions of a permit, or that of one day."""
        rows = self._connection.execute(
            "SELECT entry FROM permits WHERE number = ?1 AND (?2 IS NULL OR in_force_from = ?2)"
            " ORDER BY in_force_from",
            (number, begins),
        )
        return tuple(row[0] for row in rows)

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
        name = body["keep_out_id"]
        holder = self._holder("keep_outs", "keep_out_id", name)
        sentence = f"Keep-out {name} was added on two machines with other facts."
        if not self._contests.yields("keep-out", name, holder, sentence):
            self._write_keep_out(position, body)

    def _write_keep_out(self, position: int, body: Body) -> None:
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
        name = body["baseline_id"]
        holder = self._holder("baselines", "baseline_id", name)
        sentence = f"Baseline {name} was added on two machines with other facts."
        if not self._contests.yields("baseline", name, holder, sentence):
            self._write_baseline(position, body)

    def _write_baseline(self, position: int, body: Body) -> None:
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
        old, permit, tag = body.get("supersedes"), body["permit"], body["tag"]
        planned = self._connection.execute(
            "SELECT entry FROM targets WHERE (permit = ? AND tag = ?) OR target_id IN (?, ?) ORDER BY entry",
            (permit, tag, body["target_id"], old),
        ).fetchall()
        stranger = next((row[0] for row in planned if self._contests.unknown(row[0])), None)
        sentence = f"The target of {tag} under permit {permit} was set on two machines, each elsewhere."
        if self._contests.yields("target", f"{tag} under {permit}", stranger, sentence):
            return
        if old is not None:
            gone = self._connection.execute("DELETE FROM targets WHERE target_id = ?", (old,)).rowcount
            if not gone:
                raise NotFoundError(f"There is no target {old} to move.", remedy="leadline target list")
            self._shrunk.add("targets")
        self._write_target(position, body)

    def _write_target(self, position: int, body: Body) -> None:
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
        # Work planned on two machines is planned twice; of everything else the later one holds.
        if entry.kind == "programme.declared" and body.get("about") != "work":
            self._contest_declaration(entry, str(body.get("about", "")), body.get("permit"))
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

    def _contest_declaration(self, entry: Entry, about: str, permit: str | None) -> None:
        before = self._connection.execute(
            "SELECT entry, reference FROM declarations"
            " WHERE kind = ? AND json_extract(declared, '$.about') = ?"
            " AND ifnull(json_extract(declared, '$.permit'), '') = ? ORDER BY entry DESC LIMIT 1",
            (entry.kind, about, permit or ""),
        ).fetchone()
        name = f"{about} {permit or ''}".strip()
        if before is None or not self._contests.unknown(before[0]):
            self._contests.settle("declaration", name)
        elif self._branches and not self._branches.says_the_same(before[0], entry.body):
            sentence = f"Two machines declared {name} apart: the later one holds."
            self._contests.record(
                "declaration", name, stands=entry.reference, against=before[1], sentence=sentence
            )

    def _type_added(self, position: int, entry: Entry, body: Body) -> None:
        taken = f"Module type {body['type_id']} is in the registry already."
        remedy = "Give a changed mould an identifier of its own; modules cast before keep theirs."
        name = body["type_id"]
        sentence = f"Module type {name} was added on two machines with other dimensions."
        if self._contests.yields("type", name, self._holder("module_types", "type_id", name), sentence):
            return
        row = {name: body[name] for name in _TYPE_COLUMNS} | {"entry": position}
        self._insert("module_types", row, taken, remedy)

    def _module_added(self, position: int, entry: Entry, body: Body) -> None:
        tag = body["tag"]
        self._know_type(tag, body["type_id"])
        sentence = f"Module {tag} was added on two machines with other facts."
        if self._contests.yields("module", tag, self._holder("modules", "tag", tag), sentence):
            return
        row = _module_row(position, body)
        taken = f"Module {tag} is in the registry already."
        module = self._insert("modules", row, taken, "Check the tag on the concrete.")
        # A placement may have been logged before anyone wrote down what stands there.
        self._join_placements(module, row)

    def _module_amended(self, position: int, entry: Entry, body: Body) -> None:
        tag = body["tag"]
        self._know_type(tag, body["type_id"])
        sentence = f"Module {tag} was amended on two machines to other facts."
        if not self._contests.yields("module", tag, self._holder("modules", "tag", tag), sentence):
            self._replace_module(position, body)

    def _replace_module(self, position: int, body: Body) -> None:
        tag = body["tag"]
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
        self._supersede(old, entry.reference, "correct", tag=body["tag"])
        self._place(position, entry, body, supersedes=old)

    def _placement_withdrawn(self, position: int, entry: Entry, body: Body) -> None:
        old = body["placement_id"]
        if not self._supersede(old, entry.reference, "withdraw"):
            return
        # What was itself a correction keeps the reason for it.
        self._connection.execute(
            "UPDATE observations SET reason = ifnull(reason || '; withdrawn: ', '') || ?"
            " WHERE placement_id = ?",
            (body["reason"], old),
        )

    def _supersede(self, old: str, reference: str, do: str, *, tag: str | None = None) -> bool:
        """Let a placement stand no longer; False where another machine had done so, unknown to this one."""
        found = self._connection.execute(
            "SELECT superseded_by, tag FROM observations WHERE placement_id = ?", (old,)
        ).fetchone()
        if found is None:
            raise NotFoundError(f"There is no placement {old} to {do}.", remedy="Look it up in the journal.")
        tags = {found[1], tag or found[1]}
        if found[0]:
            corrected = self._connection.execute(
                "SELECT 1 FROM observations WHERE placement_id = ?", (found[0],)
            ).fetchone()
            if self._contests.unknown_by_name(found[0]):
                if corrected or do == "correct":
                    said = (
                        "corrected on two machines"
                        if corrected and do == "correct"
                        else _CORRECTED_AND_WITHDRAWN
                    )
                    sentence = f"Placement {old} of {found[1]} was {said}."
                    self._contests.record("placement", found[1], stands=found[0], sentence=sentence)
                return False
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
        for each in tags:
            self._contests.settle("placement", each)
        return True

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
        # The same row that two machines took in was placed twice, which shows by itself.
        if key is not None and supersedes is None and not self._contests.unknown(self._row_taken(key)):
            row = {"row_key": key, "placement_id": entry.reference, "entry": position}
            taken = f"The row {key} was taken in before."
            self._insert("intake_rows", row, taken, "Leave it out, or correct the placement that it became.")

    def _row_taken(self, key: str) -> int | None:
        return self._holder("intake_rows", "row_key", key)

    def _placement_resurveyed(self, position: int, entry: Entry, body: Body) -> None:
        old = body.get("supersedes")
        if old is not None:
            self._supersede_resurvey(old, entry.reference, body["tag"])
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
            holder = self._row_taken(key)
            sentence = f"The same row was taken in on two machines as a resurvey of {body['tag']}."
            if self._contests.unknown(holder):
                self._contest(holder or 0, "resurvey", body["tag"], sentence)
                return
            line = {"row_key": key, "placement_id": body["placement_id"], "entry": position}
            taken = f"The row {key} was taken in before."
            self._insert("intake_rows", line, taken, "Leave it out, or correct the resurvey that it became.")

    def _supersede_resurvey(self, old: str, reference: str, tag: str) -> None:
        found = self._connection.execute(
            "SELECT superseded_by FROM resurveys WHERE resurvey_id = ?", (old,)
        ).fetchone()
        if found is None:
            raise NotFoundError(
                f"There is no resurvey {old} to correct.", remedy="Look it up in the journal."
            )
        if found[0] and self._contests.unknown_by_name(found[0]):
            sentence = f"Resurvey {old} of {tag} was corrected on two machines."
            self._contests.record("resurvey", tag, stands=found[0], sentence=sentence)
            return
        if found[0]:
            what = f"Resurvey {old} was corrected before, by {found[0]}."
            raise ConflictError(what, remedy=f"Correct {found[0]} instead.")
        self._connection.execute(
            "UPDATE resurveys SET superseded_by = ? WHERE resurvey_id = ?", (reference, old)
        )
        self._contests.settle("resurvey", tag)

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
        if not self._supersede_hand_over(old, entry.reference, body["tag"], withdraws=True):
            return
        # What was itself a correction keeps the reason for it.
        self._connection.execute(
            "UPDATE hand_overs SET reason = ifnull(reason || '; withdrawn: ', '') || ? WHERE reference = ?",
            (body["reason"], old),
        )

    def _supersede_hand_over(self, old: str, reference: str, tag: str, *, withdraws: bool = False) -> bool:
        found = self._connection.execute(
            "SELECT superseded_by, tag FROM hand_overs WHERE reference = ?", (old,)
        ).fetchone()
        if found is None or found[1] != tag:
            what = f"There is no hand-over {old} of {tag}."
            raise NotFoundError(what, remedy=f"See them with: leadline custody {tag}.")
        if found[0] and self._contests.unknown_by_name(found[0]):
            corrected = self._holder("hand_overs", "reference", found[0]) is not None
            if corrected or not withdraws:
                said = _CORRECTED_AND_WITHDRAWN if withdraws or not corrected else "corrected on two machines"
                sentence = f"Hand-over {old} of {tag} was {said}."
                self._contests.record("custody", tag, stands=found[0], sentence=sentence)
            return False
        if found[0]:
            what = f"Hand-over {old} was corrected or withdrawn before, by {found[0]}."
            raise ConflictError(what, remedy=f"See what stands with: leadline custody {tag}.")
        self._connection.execute(
            "UPDATE hand_overs SET superseded_by = ? WHERE reference = ?", (reference, old)
        )
        self._touched["hand_overs"] = None
        self._contests.settle("custody", tag)
        return True

    def _family_erased(self, position: int, entry: Entry, body: Body) -> None:
        row = {"reference": entry.reference, "tag": body["tag"]}
        row |= {"erased_at": instant_text(entry.time), "entry": position}
        taken = f"Entry {entry.reference} is in the tables already."
        self._insert("erasures", row, taken, "Rebuild the tables from the journal.")

    def _conflict_settled(self, position: int, entry: Entry, body: Body) -> None:
        subject, name, keeps = body["subject"], body["name"], body["keeps"]
        closed = self._contests.settle(subject, name)
        if any(keeps == against for _, against in closed):
            lost = self._contests.lost(keeps)
            if lost is not None and subject in _REPLACED:
                _REPLACED[subject](self, lost.position, lost.entry.content())
            return
        standing = {stands for stands, _ in closed}
        if not closed:
            # Another machine decided first, unknown to who decided here.
            others = [other for other in body["over"] if other != keeps]
            sentence = f"The contest over {subject} {name} was decided on two machines."
            self._contests.record(
                subject, name, stands=(others or [keeps])[0], against=keeps, sentence=sentence
            )
        elif keeps not in standing:
            what = f"Entry {keeps} is not in contest over {subject} {name}."
            raise NotFoundError(what, remedy="See what is with: leadline bundle conflicts.")

    def _keep_type(self, position: int, body: Body) -> None:
        names = {name: body[name] for name in _TYPE_COLUMNS} | {"entry": position}
        columns = ", ".join(f"{name} = ?" for name in names)
        self._connection.execute(
            f"UPDATE module_types SET {columns} WHERE type_id = ?", (*names.values(), body["type_id"])
        )
        self._touched["module_types"] = None

    def _keep_keep_out(self, position: int, body: Body) -> None:
        self._connection.execute("DELETE FROM keep_outs WHERE keep_out_id = ?", (body["keep_out_id"],))
        self._shrunk.add("keep_outs")
        self._write_keep_out(position, body)

    def _keep_baseline(self, position: int, body: Body) -> None:
        self._connection.execute("DELETE FROM baselines WHERE baseline_id = ?", (body["baseline_id"],))
        self._shrunk.add("baselines")
        self._write_baseline(position, body)

    def _keep_target(self, position: int, body: Body) -> None:
        self._connection.execute(
            "DELETE FROM targets WHERE (permit = ? AND tag = ?) OR target_id = ?",
            (body["permit"], body["tag"], body["target_id"]),
        )
        self._shrunk.add("targets")
        self._write_target(position, body)

    def _keep_permit(self, position: int, body: Body) -> None:
        number, begins = body["number"], body.get("in_force_from") or body["valid_from"]
        self._replace_permit(position, number, begins, body)

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


_CORRECTED_AND_WITHDRAWN = "corrected on one machine and withdrawn on another"
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
    "plaque.approved": Projection._declared,
    "plaque.returned": Projection._declared,
    "intake.read": Projection._nothing_more,
    "device.added": Projection._device_added,
    "device.trusted": Projection._device_trusted,
    "device.distrusted": Projection._device_distrusted,
    "conflict.settled": Projection._conflict_settled,
}

#: By subject of a contest: how the facts of an entry take the place of those that stand. Of other subjects
#: both stand until one of them is corrected or withdrawn.
_REPLACED: dict[str, Callable[[Projection, int, Body], None]] = {
    "module": Projection._replace_module,
    "type": Projection._keep_type,
    "permit": Projection._keep_permit,
    "keep-out": Projection._keep_keep_out,
    "baseline": Projection._keep_baseline,
    "target": Projection._keep_target,
}
