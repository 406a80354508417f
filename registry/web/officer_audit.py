"""The audit that an officer's page shows: as of the dates in its address, made once for each state."""

import threading
from collections import OrderedDict
from collections.abc import Callable, Hashable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import date, datetime
from typing import TYPE_CHECKING, Any

from fastapi import Request

from registry.desk.audit_dates import AuditDates, doubts_of_dates, read_dates, registry_on
from registry.errors import NotFoundError
from registry.records.audit_summary import AuditSummary, PermitSummary
from registry.web.opened import reading, settings_of

if TYPE_CHECKING:
    from registry.storage.register import GeoPackageRegister

__all__ = ["Asked", "Kept", "asked_of", "audit_of", "days_of", "permits_numbered", "reading_as_of"]

#: What the dates are called on the page.
_NAMES = {"known": "“As it was known on”", "on": "“Placed by”", "since": "“Since”"}
#: So many audits are kept: one of 10,000 placements takes a few megabytes.
_MOST = 8


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """The dates in the address of a page."""

    dates: AuditDates
    #: As they were typed; empty where one was not.
    as_of: str
    on: str
    since: str
    #: What a reader must know of them, one sentence each.
    doubts: tuple[str, ...]

    @property
    def query(self) -> dict[str, str]:
        """What an address must carry so that the next page shows the registry of the same day."""
        return {"as_of": self.as_of, "on": self.on}


class Kept:
    """The last few things that were made, by what they follow from; one is made at a time, and each once."""

    def __init__(self, most: int) -> None:
        self._most = most
        self._kept: OrderedDict[Hashable, Any] = OrderedDict()
        self._look, self._make = threading.Lock(), threading.Lock()

    def get(self, key: Hashable, make: Callable[[], Any]) -> Any:
        """Give what was made under a key, or make it."""
        with self._look:
            if key in self._kept:
                self._kept.move_to_end(key)
                return self._kept[key]
        with self._make:
            with self._look:
                if key in self._kept:
                    return self._kept[key]
            made = make()
            with self._look:
                self._kept[key] = made
                while len(self._kept) > self._most:
                    self._kept.popitem(last=False)
        return made


_AUDITS, _DAYS = Kept(_MOST), Kept(_MOST)


def asked_of(request: Request) -> Asked:
    """
    Read the dates in the address: ``as-of`` (known by), ``on`` (placed by) and ``since``.

    Raises
    ------
    TimeTextError, RequestError
        If one is no date, or they contradict each other.
    """
    typed = {name: request.query_params.get(name, "").strip() for name in ("as-of", "on", "since")}
    texts = {"known": typed["as-of"] or None, "on": typed["on"] or None, "since": typed["since"] or None}
    with reading(request) as register:
        dates = read_dates(texts, register.programme().zone, names=_NAMES)
        doubts = doubts_of_dates(register, dates, texts, now=settings_of(request).clock.now())
    return Asked(dates=dates, as_of=typed["as-of"], on=typed["on"], since=typed["since"], doubts=doubts)


@contextmanager
def reading_as_of(request: Request, dates: AuditDates) -> "Iterator[GeoPackageRegister]":
    """Open the registry as it stands, or stood on the dates asked for, for several reads of one state."""
    with reading(request) as live, live.reading():
        register = registry_on(live, dates)
        try:
            with register.reading():
                yield register
        finally:
            if register is not live:
                register.close()


def audit_of(request: Request, dates: AuditDates) -> AuditSummary:
    """Audit the registry as of some dates; what was made for this state of the journal is given again."""
    from registry.actions.audit_registry import audit_registry
    from registry.actions.summarise_audit import summarise_audit

    now = settings_of(request).clock.now()

    def make() -> AuditSummary:
        with reading_as_of(request, dates) as register:
            audit = audit_registry(register, on=dates.on)
            return summarise_audit(
                register, audit, audited_at=now, as_of=dates.known, on=dates.on, in_full=False
            )

    made: AuditSummary = _AUDITS.get((*_state(request), dates.known, dates.on), make)
    return made


def days_of(request: Request) -> tuple[date, ...]:
    """Give the days on which something was entered, in the programme's zone."""
    from registry.actions.entry_days import entry_days

    def make() -> tuple[date, ...]:
        with reading(request) as register, register.reading():
            return entry_days(register)

    made: tuple[date, ...] = _DAYS.get(_state(request), make)
    return made


def _state(request: Request) -> tuple[str, str, date]:
    """Name the state of the registry: file, head of the journal, and the day, by which permits change."""
    with reading(request) as register:
        return str(settings_of(request).registry.resolve()), register.head(), register.today()


def permits_numbered(summary: AuditSummary, number: str) -> tuple[PermitSummary, ...]:
    """Give what an audit says of a permit, in each of its versions; NotFoundError where it is not there."""
    found = tuple(each for each in summary.permits if each.permit.number == number)
    if not found:
        when: datetime | None = summary.as_of
        what = f"There is no permit {number}{' on that day' if when else ''}."
        raise NotFoundError(what, remedy="Choose one of the dashboard, or another day.")
    return found
