"""What entries of certificates, of the keys that sign and of the machines that write leave in the tables."""

from collections.abc import Mapping
from dataclasses import asdict
from typing import Any, NamedTuple

from registry.errors import ConflictError, InvalidRecordError, NotFoundError
from registry.records.certificate_version import CertificateState, statement_digest, version_of_body
from registry.records.entry import Entry, instant_text
from registry.storage.projected_tables import ProjectedTables

__all__ = ["PaperTables"]

Body = Mapping[str, Any]


class PaperTables(ProjectedTables):
    """The tables of certificates, signing keys and devices."""

    def _certificate_issued(self, position: int, entry: Entry, body: Body) -> None:
        made = version_of_body(body, entry.time)
        row = asdict(made) | {
            "issued_at": instant_text(made.issued_at),
            "since": instant_text(made.since),
            "state_entry": position,
            "entry": position,
        }
        taken = f"Certificate {made.number}, version {made.version}, was issued before."
        unknown = self._contests.unknown
        apart: list[int] = []
        for held in self._certificates("number = ?1 OR tag = ?2", made.number, made.tag):
            self._contests.settle("certificate", held.number)
            if unknown(held.entry):
                apart.append(held.entry)
            elif (held.number, held.version) == (made.number, made.version):
                raise ConflictError(taken, remedy="Give it the next version.")
            elif held.state == CertificateState.WITHDRAWN:
                apart += [held.state_entry] * unknown(held.state_entry)
            elif held.state == CertificateState.CURRENT and held.tag == made.tag:
                self._connection.execute(
                    "UPDATE certificates SET state = ?, since = ?, state_entry = ? WHERE fid = ?",
                    (CertificateState.SUPERSEDED, row["since"], position, held.fid),
                )
        self._insert("certificates", row, taken, "Give it the next version.")
        if apart:
            sentence = (
                f"Certificate {made.number} of {made.tag} was issued, while another machine issued"
                " or withdrew one of that number or module."
            )
            self._contest(apart[0], "certificate", made.number, sentence)

    def _certificate_withdrawn(self, position: int, entry: Entry, body: Body) -> None:
        number, tag = body["number"], body.get("tag")
        versions = self._certificates("number = ?1 AND (?2 IS NULL OR tag = ?2)", number, tag)
        if not versions:
            raise NotFoundError(
                f"There is no certificate {number} to withdraw.", remedy="leadline certificates list"
            )
        unknown = self._contests.unknown
        apart = [held.entry for held in versions if unknown(held.entry)]
        standing = [
            held for held in versions if held.state != CertificateState.WITHDRAWN and not unknown(held.entry)
        ]
        if not (standing or apart or any(unknown(held.state_entry) for held in versions)):
            raise ConflictError(f"Certificate {number} was withdrawn before.", remedy="Leave it as it is.")
        self._contests.settle("certificate", number)
        for held in standing:
            self._connection.execute(
                "UPDATE certificates SET state = ?, since = ?, reason = ?, state_entry = ? WHERE fid = ?",
                (CertificateState.WITHDRAWN, instant_text(entry.time), body["reason"], position, held.fid),
            )
            self._touched["certificates"] = None
        if apart:
            sentence = f"Certificate {number} was withdrawn, while another machine issued it anew."
            self._contest(apart[0], "certificate", number, sentence)

    def _certificates(self, chosen: str, *values: str | None) -> "list[_IssuedVersion]":
        names = ", ".join(_IssuedVersion._fields)
        rows = self._connection.execute(
            f"SELECT {names} FROM certificates WHERE {chosen} ORDER BY fid", values
        ).fetchall()
        return [_IssuedVersion(*row) for row in rows]

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
        name = f"Duplicate {body['duplicate']} of {number}, version {version},"
        before = self._connection.execute(
            "SELECT entry FROM certificate_duplicates WHERE number = ? AND version = ? AND duplicate = ?",
            (number, version, body["duplicate"]),
        ).fetchone()
        if before and not self._contests.unknown(before[0]):
            raise ConflictError(f"{name} was made before.", remedy="Give it the next number.")
        self._insert("certificate_duplicates", row, f"{name} was made before.", "Give it the next number.")
        if before:
            self._contest(before[0], "certificate", number, f"{name} was made on two machines.")

    def _key_rotated(self, position: int, entry: Entry, body: Body) -> None:
        names = ("key_id", "public_key", "replaces", "ended", "reason", "endorsement")
        row = {name: body[name] for name in names} | {"since": instant_text(entry.time), "entry": position}
        taken = f"The key {body['replaces']} was replaced before, or {body['key_id']} was in use before."
        before = self._holder("signing_keys", "replaces", body["replaces"])
        if before is not None and not self._contests.unknown(before):
            raise ConflictError(taken, remedy="Make a new key in place of the one in use.")
        self._contests.settle("key", body["replaces"])
        self._insert("signing_keys", row, taken, "Make a new key in place of the one in use.")
        if before is not None:
            sentence = (
                f"The key {body['replaces']} was replaced on two machines by two keys; rotate once more."
            )
            self._contest(before, "key", body["replaces"], sentence)

    def _device_added(self, position: int, entry: Entry, body: Body) -> None:
        if body["origin"] != entry.origin:
            what = f"Entry {entry.reference} names another device than the one that wrote it."
            raise InvalidRecordError(what, remedy="Each device names itself: leadline bundle device NAME.")
        row = {name: body[name] for name in ("origin", "name", "key_id", "public_key")}
        row |= {"added_at": instant_text(entry.time), "endorsement": "", "reason": "", "entry": position}
        # It may be trusted by who had its bundle in hand before anything of it stands in the journal.
        known = self._connection.execute(
            "UPDATE devices SET added_at = ? WHERE origin = ? AND added_at = ''",
            (row["added_at"], body["origin"]),
        )
        if known.rowcount:
            return
        taken = f"The device {body['origin']} has a name already."
        self._insert("devices", row, taken, "See it with: leadline bundle devices.")

    def _device_trusted(self, position: int, entry: Entry, body: Body) -> None:
        row = {name: body[name] for name in ("origin", "name", "key_id", "public_key", "endorsement")}
        if self._holder("devices", "origin", body["origin"]) is None:
            row |= {"added_at": "", "reason": "", "entry": position}
            self._insert("devices", row, f"The device {body['origin']} is known already.", "")
        self._connection.execute(
            "UPDATE devices SET trusted_at = ?, endorsement = ?, key_id = ?, public_key = ?"
            " WHERE origin = ? AND ended_at IS NULL",
            (
                instant_text(entry.time),
                body["endorsement"],
                body["key_id"],
                body["public_key"],
                body["origin"],
            ),
        )
        self._touched["devices"] = None

    def _device_distrusted(self, position: int, entry: Entry, body: Body) -> None:
        if self._holder("devices", "origin", body["origin"]) is None:
            what = f"There is no device {body['origin']}."
            raise NotFoundError(what, remedy="See them with: leadline bundle devices.")
        self._connection.execute(
            "UPDATE devices SET ended_at = ?, reason = ? WHERE origin = ?",
            (instant_text(entry.time), body["reason"], body["origin"]),
        )
        self._touched["devices"] = None


class _IssuedVersion(NamedTuple):
    """A row of certificates, as much as its life hangs on."""

    fid: int
    number: str
    version: int
    tag: str
    state: str
    state_entry: int
    entry: int
