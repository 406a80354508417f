"""The dates that an audit is asked for, and the registry as it stands, or stood, on them."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import date, datetime
from zoneinfo import ZoneInfo

from registry.errors import RequestError
from registry.formats.written_instant import end_of
from registry.storage.clock import StandingClock
from registry.storage.journal_doubts import dated_later
from registry.storage.register import GeoPackageRegister
from registry.storage.replay import registry_as_of

__all__ = ["AuditDates", "doubts_of_dates", "read_dates", "registry_on"]

_SHOWN = {
    "known": "the registry is shown as it stands now",
    "on": "everything that was placed so far is shown",
    "since": "nothing has changed since",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class AuditDates:
    """Instants with their zone; None where one was not asked for."""

    #: Only what had been entered by then is read.
    known: datetime | None = None
    #: Only what had been placed by then is judged.
    on: datetime | None = None
    #: Told is what has changed since then.
    since: datetime | None = None


def read_dates(texts: Mapping[str, str | None], zone: str, *, names: Mapping[str, str]) -> AuditDates:
    """
    Read the dates, and refuse what contradicts itself.

    Parameters
    ----------
    texts : mapping
        What was typed for "known", "on" and "since"; None or absent where nothing was. A day means its last
        moment.
    zone : str
        The programme's zone.
    names : mapping
        What each of the three is called where it was typed.

    Raises
    ------
    TimeTextError
        If one is no date.
    RequestError
        If nobody could have known by then what was placed or has changed later.
    """
    instants = {name: end_of(text, zone) for name, text in texts.items() if text is not None}
    dates = AuditDates(**instants)
    known, on, since = names["known"], names["on"], names["since"]
    if dates.known is not None and dates.on is not None and dates.on > dates.known:
        what = (
            f"{on} {texts['on']} is later than {known} {texts['known']}: what was placed between them nobody "
            "knew by then."
        )
        raise RequestError(what, remedy=f"Give {known} at or after {on}, or {known} alone.")
    if dates.since is not None and dates.known is not None and dates.since > dates.known:
        what = f"{since} {texts['since']} is later than {texts['known']}, at which the registry is read."
        raise RequestError(what, remedy=f"Give an earlier day with {since}.")
    return dates


def doubts_of_dates(
    register: GeoPackageRegister, dates: AuditDates, texts: Mapping[str, str | None], *, now: datetime
) -> tuple[str, ...]:
    """Tell what of the dates is to come, and what a clock that was set back brings in; one sentence each."""
    zone = ZoneInfo(register.programme().zone)
    # The end of today is to come, too, and is asked for every day.
    today: date = now.astimezone(zone).date()
    told = [
        f"{texts[name]} is still to come; {_SHOWN[name]}."
        for name, instant in (("known", dates.known), ("on", dates.on), ("since", dates.since))
        if instant is not None and instant.astimezone(zone).date() > today
    ]
    late = dated_later(register, dates.known) if dates.known is not None else 0
    if late:
        many = "1 entry that was" if late == 1 else f"{late} entries that were"
        told.append(
            f"with them are shown {many} made before others of that time and dated later: the clock was set "
            "back in between. See: leadline journal verify."
        )
    return tuple(told)


def registry_on(
    register: GeoPackageRegister,
    dates: AuditDates,
    *,
    begin: Callable[[int], None] = lambda _count: None,
    progress: Callable[[int], None] = lambda _count: None,
) -> GeoPackageRegister:
    """
    Give the registry that is to be audited, its clock at the instant that was asked for.

    It is another than the one given, which whoever asked must close, only where `dates.known` is stated.

    Parameters
    ----------
    register : GeoPackageRegister
        The registry.
    dates : AuditDates
        What was asked for.
    begin, progress : callable
        Told how many entries are going to be played, where any are, and how many more are.

    Raises
    ------
    NotFoundError
        If the registry had not begun by then.
    """
    if dates.known is not None:
        begin(register.journal_length())
        return registry_as_of(register, dates.known, day=dates.on, progress=progress)
    if dates.on is not None:
        # So that the version of a permit in force is that of the day.
        register.clock = StandingClock(dates.on)
    return register
