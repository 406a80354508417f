"""One version of a certificate as it stands: current, superseded or withdrawn."""

import hashlib
from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import datetime
from enum import StrEnum
from typing import Any

from registry.records.entry import canonical_json

__all__ = [
    "CertificateState",
    "CertificateVersion",
    "statement_digest",
    "superseded",
    "version_of_body",
    "withdrawn",
]


class CertificateState(StrEnum):
    """Whether a version of a certificate stands."""

    CURRENT = "current"
    #: The latest version, but the record says otherwise by now.
    CHANGED = "changed"
    SUPERSEDED = "superseded"
    WITHDRAWN = "withdrawn"


@dataclass(frozen=True, slots=True, kw_only=True)
class CertificateVersion:
    """A version with its state; no more of it than is needed to tell what stands."""

    number: str
    version: int
    tag: str
    #: The placement on which it rests, and the observation that says where the module lies: the same entry,
    #: or a resurvey that found the module moved.
    placement_id: str
    observation: str
    #: What it calls the person and the module's type.
    memorial_name: str
    module_type: str
    issued_at: datetime
    state: CertificateState = CertificateState.CURRENT
    #: Since when it has been in this state, and why where it was withdrawn.
    since: datetime
    reason: str = ""
    #: SHA-256 of what it states, and of its first print; hexadecimal.
    statement_sha256: str
    pdf_sha256: str | None = None


def statement_digest(statement: Mapping[str, Any]) -> str:
    """Give the SHA-256 of a statement in its one written form, in hexadecimal."""
    return hashlib.sha256(canonical_json(dict(statement)).encode()).hexdigest()


def version_of_body(body: Mapping[str, Any], time: datetime) -> CertificateVersion:
    """Make the version that an entry ``certificate.issued`` of this body and time begins."""
    statement: Mapping[str, Any] = body["statement"]
    return CertificateVersion(
        number=body["number"],
        version=body["version"],
        tag=body["tag"],
        placement_id=body["placement_id"],
        observation=body.get("observation", body["placement_id"]),
        memorial_name=statement.get("name", ""),
        module_type=body.get("record", {}).get("module_type", ""),
        issued_at=time,
        since=time,
        statement_sha256=statement_digest(statement),
        pdf_sha256=body.get("pdf_sha256"),
    )


def superseded(version: CertificateVersion, time: datetime) -> CertificateVersion:
    """Give a version as it stands after a later one was issued; what was withdrawn stays withdrawn."""
    if version.state is not CertificateState.CURRENT:
        return version
    return replace(version, state=CertificateState.SUPERSEDED, since=time)


def withdrawn(version: CertificateVersion, time: datetime, reason: str) -> CertificateVersion:
    """Give a version as it stands after its certificate was withdrawn."""
    if version.state is CertificateState.WITHDRAWN:
        return version
    return replace(version, state=CertificateState.WITHDRAWN, since=time, reason=reason)
