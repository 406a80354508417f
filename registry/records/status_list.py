"""
The list by which a programme tells everybody which of its certificates stand: numbers and states, no names.

Each version is listed with the digests of what its papers state, so that a paper signed with a stolen key is
told from one that was issued. A digest alone gives no name away: what is stated holds the digest of a journal
entry, which no public page shows.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from registry.errors import InvalidRecordError
from registry.records.certificate_version import CertificateState
from registry.records.entry import instant_text
from registry.records.programme_key import KeyEnd, ProgrammeKey, public_key_bytes, public_key_text

__all__ = [
    "RELIED_ON_DAYS",
    "ListedVersion",
    "StatusList",
    "is_status_list",
    "status_list_body",
    "status_list_from_body",
]

#: For so long a list is relied on unless said otherwise: whoever renews it every quarter keeps ahead.
RELIED_ON_DAYS = 100

_KIND = "certificate status"
_FORM = 1


@dataclass(frozen=True, slots=True, kw_only=True)
class ListedVersion:
    """One version of one certificate."""

    number: str
    version: int
    state: CertificateState
    #: Day since when it has been in that state, in the programme's zone.
    since: date
    #: SHA-256 of what it and its duplicates state, hexadecimal.
    statements: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class StatusList:
    """What a programme publishes."""

    programme: str
    made_at: datetime
    #: The last day on which the list should be relied on.
    renew_by: date
    #: Entries in the journal when it was made: a later list has no lower number.
    serial: int
    #: Every key that the programme ever signed with, oldest first; the last signs the list.
    keys: tuple[ProgrammeKey, ...]
    versions: tuple[ListedVersion, ...]

    def of(self, number: str) -> tuple[ListedVersion, ...]:
        """Give the versions of one certificate, oldest first."""
        return tuple(each for each in self.versions if each.number == number)


def status_list_body(status: StatusList) -> dict[str, Any]:
    """Give a list as plain JSON data."""
    certificates: dict[str, list[dict[str, Any]]] = {}
    for each in status.versions:
        told = {"state": str(each.state), "since": each.since.isoformat(), "sha256": list(each.statements)}
        certificates.setdefault(each.number, []).append(told)
    return {
        "list": _KIND,
        "form": _FORM,
        "programme": status.programme,
        "made": instant_text(status.made_at),
        "renew_by": status.renew_by.isoformat(),
        "serial": status.serial,
        "keys": [_key_body(key) for key in status.keys],
        "certificates": certificates,
    }


def _key_body(key: ProgrammeKey) -> dict[str, Any]:
    return {
        "key": key.key_id,
        "public_key": public_key_text(key.public_key),
        "since": instant_text(key.since),
        "until": instant_text(key.until) if key.until else None,
        "ended": str(key.ended) if key.ended else None,
        "endorsement": key.endorsement,
    }


def is_status_list(value: Mapping[str, Any]) -> bool:
    """Tell whether something signed is a list of certificates."""
    return value.get("list") == _KIND


def status_list_from_body(body: Mapping[str, Any]) -> StatusList:
    """
    Give back the list.

    Raises
    ------
    InvalidRecordError
        If it is not one, or of a form that a later version of Leadline made.
    """
    if not is_status_list(body) or body.get("form") != _FORM:
        what = "What is signed here is not a list of certificates that this version can read."
        raise InvalidRecordError(what, remedy="Get status.jws from the programme, or a newer Leadline.")
    try:
        return StatusList(
            programme=str(body["programme"]),
            made_at=datetime.fromisoformat(body["made"]),
            renew_by=date.fromisoformat(body["renew_by"]),
            serial=int(body["serial"]),
            keys=tuple(_key_from_body(key) for key in body["keys"]),
            versions=tuple(
                ListedVersion(
                    number=number,
                    version=version,
                    state=CertificateState(told["state"]),
                    since=date.fromisoformat(told["since"]),
                    statements=tuple(told["sha256"]),
                )
                for number, those in body["certificates"].items()
                for version, told in enumerate(those, start=1)
            ),
        )
    except (KeyError, TypeError, ValueError, AttributeError) as error:
        what = f"The list of certificates lacks or misstates {error}."
        raise InvalidRecordError(what, remedy="Get status.jws from the programme again.") from error


def _key_from_body(body: Mapping[str, Any]) -> ProgrammeKey:
    return ProgrammeKey(
        key_id=body["key"],
        public_key=public_key_bytes(body["public_key"]),
        since=datetime.fromisoformat(body["since"]),
        until=datetime.fromisoformat(body["until"]) if body["until"] else None,
        ended=KeyEnd(body["ended"]) if body["ended"] else None,
        endorsement=body["endorsement"],
    )
