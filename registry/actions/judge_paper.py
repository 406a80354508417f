"""Tell whether a certificate that is genuine still stands: by the registry, or by a published list."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from registry.actions.list_certificates import as_it_stands
from registry.errors import RejectedError
from registry.measure.decision import Verdict
from registry.ports import Register
from registry.records.certificate_version import CertificateState, statement_digest
from registry.records.programme_key import KeyEnd, ProgrammeKey
from registry.records.status_list import ListedVersion, StatusList

__all__ = ["UNTOLD", "Judged", "judge_by_list", "judge_by_registry"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Judged:
    """Whether a genuine paper stands."""

    #: None where nobody could tell.
    state: CertificateState | None
    words: str
    verdict: Verdict
    #: Since when, where it is known.
    since: date | None = None


#: Where neither a registry nor a list is at hand.
UNTOLD = Judged(
    state=None,
    words="whether it is the latest version only the registry can tell, or the programme's published list",
    verdict=Verdict.CONFORMING,
)
_GET_AGAIN = "Ask the programme, with the number of the certificate."


def judge_by_registry(register: Register, statement: Mapping[str, Any], key_id: str) -> Judged:
    """
    Tell by the registry.

    Parameters
    ----------
    register : Register
        Read from; it may be another programme's.
    statement : mapping
        What the paper states, proved.
    key_id : str
        The key that it was proved with.

    Raises
    ------
    RejectedError
        If the programme issued something else under that number and version, or the key was stolen and the
        registry does not hold the paper.
    """
    with register.reading():
        keys = register.signing_keys()
        if key_id not in {key.key_id for key in keys}:
            return Judged(
                state=None,
                words="this registry is of another programme and does not hold it",
                verdict=Verdict.CONFORMING,
            )
        zone = ZoneInfo(register.programme().zone)
        number = statement["certificate"]
        versions = [each for each in register.certificate_versions(statement["tag"]) if each.number == number]
        copies: dict[int, list[str]] = {}
        for body in register.certificate_duplicates(statement["tag"]) if versions else ():
            if body["number"] == number:
                copies.setdefault(body["version"], []).append(statement_digest(body["statement"]))
        listed = [
            ListedVersion(
                number=number,
                version=each.version,
                state=each.state,
                since=each.since.astimezone(zone).date(),
                statements=(each.statement_sha256, *copies.get(each.version, ())),
            )
            for each in as_it_stands(register, versions)
        ]
    return _judged(listed, statement, "this registry", stolen=_stolen(keys, key_id))


def judge_by_list(status: StatusList, statement: Mapping[str, Any], key_id: str, *, now: datetime) -> Judged:
    """
    Tell by a list that the programme published, which was proved.

    Parameters
    ----------
    status : StatusList
        The list.
    statement : mapping
        What the paper states, proved.
    key_id : str
        The key that it was proved with.
    now : datetime.datetime
        The present instant: a list that was to be renewed before settles nothing for good.

    Raises
    ------
    RejectedError
        If the programme issued something else under that number and version, or the key was stolen and the
        list does not hold the paper.
    """
    listed = status.of(statement["certificate"])
    as_of = status.made_at.date()
    # The day of a list is that of UTC; a paper's is the programme's, which may be the day before.
    made_since = _newest_day(listed, statement) >= as_of - timedelta(days=1)
    if made_since and not _stolen(status.keys, key_id):
        words = f"the list of {as_of} is older than it: get the newest list"
        return Judged(state=None, words=words, verdict=Verdict.INCONCLUSIVE)
    judged = _judged(listed, statement, f"the list of {as_of}", stolen=_stolen(status.keys, key_id))
    if judged.verdict is Verdict.CONFORMING and now.date() > status.renew_by:
        words = (
            f"it was {judged.words} by the list of {as_of}, which was to be renewed by {status.renew_by}:"
            " get the newest list"
        )
        return Judged(state=None, words=words, verdict=Verdict.INCONCLUSIVE, since=judged.since)
    return judged


def _newest_day(listed: Sequence[ListedVersion], statement: Mapping[str, Any]) -> date:
    """Tell when a paper that is not listed was made as it says; the first of all days where it is listed."""
    own = next((each for each in listed if each.version == statement["version"]), None)
    if own is None:
        return date.fromisoformat(statement["issued"])
    original = {name: value for name, value in statement.items() if name not in ("duplicate", "duplicated")}
    # A duplicate states what its version states. Anything else under that number was never issued.
    listed_version = statement_digest(original) in own.statements
    if listed_version and "duplicated" in statement and statement_digest(statement) not in own.statements:
        return date.fromisoformat(statement["duplicated"])
    return date.min


def _stolen(keys: Sequence[ProgrammeKey], key_id: str) -> bool:
    return any(key.key_id == key_id and key.ended is KeyEnd.STOLEN for key in keys)


def _judged(
    listed: Sequence[ListedVersion], statement: Mapping[str, Any], where: str, *, stolen: bool
) -> Judged:
    own = next((each for each in listed if each.version == statement["version"]), None)
    if own is not None and statement_digest(statement) not in own.statements:
        what = (
            f"It is signed with a key of the programme, but under {own.number}, version {own.version}, the"
            f" programme issued something else ({where})."
        )
        raise RejectedError(what, remedy=_GET_AGAIN)
    if own is None and stolen:
        what = f"It is signed with a key that was stolen, and {where} does not hold it."
        raise RejectedError(what, remedy=_GET_AGAIN)
    if own is None:
        return Judged(state=None, words=f"{where} does not hold it", verdict=Verdict.INCONCLUSIVE)
    latest = max(each.version for each in listed)
    words = {
        CertificateState.CURRENT: "current",
        CertificateState.CHANGED: "the record has changed since; ask for a new version",
        CertificateState.SUPERSEDED: f"superseded by version {latest}",
        CertificateState.WITHDRAWN: f"withdrawn on {own.since}"
        + (
            f"; version {latest} was issued since"
            if latest > own.version and listed[-1].state != own.state
            else ""
        ),
    }[own.state]
    verdict = Verdict.CONFORMING if own.state is CertificateState.CURRENT else Verdict.INCONCLUSIVE
    return Judged(state=own.state, words=words, verdict=verdict, since=own.since)
