"""Make the list by which everybody can tell which certificates stand; it names no one."""

from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from registry.actions.list_certificates import as_it_stands
from registry.ports import Register
from registry.records.certificate_version import statement_digest
from registry.records.status_list import RELIED_ON_DAYS, ListedVersion, StatusList

__all__ = ["publish_status"]


def publish_status(register: Register, *, now: datetime, days: int = RELIED_ON_DAYS) -> StatusList:
    """
    Make the list of every version with its state.

    Parameters
    ----------
    register : Register
        Read from.
    now : datetime.datetime
        When it is made.
    days : int
        For how many days it may be relied on.
    """
    with register.reading():
        programme = register.programme()
        zone = ZoneInfo(programme.zone)
        copies: dict[tuple[str, int], list[str]] = {}
        for body in register.certificate_duplicates():
            copies.setdefault((body["number"], body["version"]), []).append(
                statement_digest(body["statement"])
            )
        versions = as_it_stands(register, register.certificate_versions())
        return StatusList(
            programme=programme.name,
            made_at=now,
            renew_by=now.astimezone(zone).date() + timedelta(days=days),
            serial=register.journal_length(),
            keys=register.signing_keys(),
            versions=tuple(
                ListedVersion(
                    number=each.number,
                    version=each.version,
                    state=each.state,
                    since=each.since.astimezone(zone).date(),
                    statements=(each.statement_sha256, *copies.get((each.number, each.version), ())),
                )
                for each in sorted(versions, key=lambda each: (each.number, each.version))
            ),
        )
