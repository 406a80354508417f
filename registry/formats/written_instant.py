"""
Instants and days as people write them, in the order year, month, day of ISO 8601 and with a known zone.

Sources
-------
ISO 8601-1:2019, calendar date, time of day and offset (from memory). Zones by the IANA time zone database.
"""

import re
from datetime import UTC, date, datetime, timedelta, timezone
from functools import lru_cache
from zoneinfo import ZoneInfo

from registry.errors import TimeTextError
from registry.formats.plain_text import plain_text

__all__ = ["end_of", "read_day", "read_instant"]

_INSTANT = re.compile(
    r"(?P<day>[0-9]{4}-[0-9]{2}-[0-9]{2})(?:[T ]\s*|t)(?P<hour>[0-9]{1,2}):(?P<minute>[0-9]{2})"
    r"(?::(?P<second>[0-9]{2})(?:[.,](?P<fraction>[0-9]{1,9}))?)?\s*(?P<zone>[^0-9\s].*)?"
)
_DAY = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}")
_OFFSET = re.compile(r"([+-])([0-9]{2}):?([0-9]{2})?")
_IANA = re.compile(r"[A-Za-z_]{2,20}(?:/[A-Za-z0-9_+-]{1,30}){1,2}")
_SLASHED = re.compile(r"([0-9]{1,2})[/.-]([0-9]{1,2})[/.-]([0-9]{2}|[0-9]{4})(?![0-9]).*")
_UTC_NAMES = frozenset(("Z", "UTC", "GMT"))
_LONGEST = 80
_FIRST_YEAR, _LAST_YEAR = 1900, 2199


def read_instant(text: str, zone: str | None) -> datetime:
    """
    Read an instant.

    Parameters
    ----------
    text : str
        Year, month, day, hours, minutes and perhaps seconds, with Z, UTC, GMT, an offset or the name of an
        IANA zone behind; without any of these the zone of the programme is used.
    zone : str or None
        The programme's declared IANA zone, as "America/New_York".

    Returns
    -------
    datetime
        In UTC.

    Raises
    ------
    TimeTextError
        If the text has no zone and none is declared, the zone is an abbreviation, the order of day and month
        is not that of ISO 8601, or the local time does not exist or exists twice at a change of the clocks.

    Examples
    --------
    >>> read_instant("2026-06-14 10:32", "America/New_York").isoformat()
    '2026-06-14T14:32:00+00:00'
    >>> read_instant("2026-11-01T01:30", "America/New_York")
    Traceback (most recent call last):
    registry.errors.TimeTextError: “2026-11-01T01:30” comes twice in America/New_York, ...
    """
    plain, shown = plain_text(text), f"“{text.strip()[:_LONGEST]}”"
    found = _INSTANT.fullmatch(plain) if len(plain) <= _LONGEST else None
    if found is None:
        raise _unreadable(shown, plain, "2026-06-14T10:32-04:00")
    local = _local(shown, found)
    written = (found["zone"] or "").strip()
    if written.upper() in _UTC_NAMES:
        return local.replace(tzinfo=UTC)
    if offset := _OFFSET.fullmatch(written):
        return local.replace(tzinfo=_offset(shown, offset)).astimezone(UTC)
    if re.fullmatch(r"[ap]\.?m\.?", written, re.IGNORECASE):
        raise TimeTextError(f"{shown} is on a clock of twelve hours.", remedy="Write 00:00 to 23:59.")
    if written and not _IANA.fullmatch(written):
        raise TimeTextError(
            f"{shown}: the zone {written} is not understood; abbreviations stand for several zones.",
            remedy=f"Write the offset, as {local:%Y-%m-%dT%H:%M}-04:00, or Z for UTC.",
        )
    if not (written or zone):
        raise TimeTextError(
            f"{shown} has no zone, and the programme declares none.",
            remedy=f"Write {local:%Y-%m-%dT%H:%M}Z for UTC, or the offset, as"
            f" {local:%Y-%m-%dT%H:%M}-04:00, or declare the programme's zone.",
        )
    return _localised(shown, local, written or zone or "")


def read_day(text: str) -> date:
    """
    Read a calendar day.

    Raises
    ------
    TimeTextError
        If it is not in the order year, month, day of ISO 8601 or does not exist.

    Examples
    --------
    >>> read_day("2026-06-07")
    datetime.date(2026, 6, 7)
    >>> read_day("06/07/26")
    Traceback (most recent call last):
    registry.errors.TimeTextError: “06/07/26” may be 2026-06-07 or 2026-07-06. ...
    """
    plain, shown = plain_text(text), f"“{text.strip()[:_LONGEST]}”"
    if not _DAY.fullmatch(plain):
        raise _unreadable(shown, plain, "2026-06-14")
    return _day(shown, plain)


def end_of(text: str, zone: str) -> datetime:
    """
    Read an instant, or a day as the last moment of it in the programme's zone.

    Parameters
    ----------
    text : str
        As :func:`read_day` or :func:`read_instant` takes it.
    zone : str
        The programme's declared IANA zone.

    Raises
    ------
    TimeTextError
        If it is neither.

    Examples
    --------
    >>> end_of("2026-06-14", "America/New_York").isoformat()
    '2026-06-15T03:59:59.999000+00:00'
    """
    try:
        day = read_day(text)
    except TimeTextError:
        # Who writes no time of day means a day, and is told how to write one.
        if ":" not in text:
            raise
        return read_instant(text, zone)
    # Midnight is asked of the next day, so that a day of 23 or 25 hours ends where it really does.
    return read_instant(f"{day + timedelta(days=1)}T00:00", zone) - timedelta(milliseconds=1)


def _day(shown: str, digits: str) -> date:
    try:
        day = date.fromisoformat(digits)
    except ValueError as error:
        month = int(digits[5:7])
        why = (
            f"{digits} is no day, as there is no month {month}"
            if not 1 <= month <= 12
            else f"{digits} is no day"
        )
        raise TimeTextError(f"{shown}: {why}.", remedy="Check month and day.") from error
    if not _FIRST_YEAR <= day.year <= _LAST_YEAR:
        raise TimeTextError(f"{shown}: the year {day.year} cannot be meant.", remedy="Check the year.")
    return day


def _local(shown: str, found: re.Match[str]) -> datetime:
    day = _day(shown, found["day"])
    hour, minute, second = int(found["hour"]), int(found["minute"]), int(found["second"] or 0)
    if hour > 23 or minute > 59 or second > 59:
        raise TimeTextError(f"{shown}: there is no such time of day.", remedy="Use 00:00:00 to 23:59:59.")
    microsecond = int((found["fraction"] or "").ljust(6, "0")[:6])
    return datetime(day.year, day.month, day.day, hour, minute, second, microsecond)  # noqa: DTZ001


def _offset(shown: str, offset: re.Match[str]) -> timezone:
    hours, minutes = int(offset[2]), int(offset[3] or 0)
    if hours > 14 or minutes > 59:
        raise TimeTextError(f"{shown}: no zone is that far from UTC.", remedy="Check the offset.")
    delta = timedelta(hours=hours, minutes=minutes)
    return timezone(-delta if offset[1] == "-" else delta)


@lru_cache(maxsize=32)
def _zone(name: str) -> ZoneInfo | None:
    try:
        return ZoneInfo(name)
    except (ValueError, OSError, KeyError):  # ZoneInfoNotFoundError is a KeyError
        return None


def _localised(shown: str, local: datetime, name: str) -> datetime:
    """Give the one instant at which the clocks of a zone show a local time."""
    zone = _zone(name)
    if zone is None:
        raise TimeTextError(
            f"{shown}: the zone {name} is not in the IANA database.",
            remedy="Write a zone as America/New_York, or the offset.",
        )
    first, second = local.replace(tzinfo=zone), local.replace(tzinfo=zone, fold=1)
    if first.utcoffset() == second.utcoffset():
        return first.astimezone(UTC)
    exists = first.astimezone(UTC).astimezone(zone).replace(tzinfo=None) == local
    trouble = f"comes twice in {name}" if exists else f"does not exist in {name}"
    raise TimeTextError(
        f"{shown} {trouble}, where the clocks are changed then.",
        remedy=f"Write {first.isoformat(timespec='minutes')} or {second.isoformat(timespec='minutes')}.",
    )


def _unreadable(shown: str, plain: str, example: str) -> TimeTextError:
    if not plain:
        return TimeTextError("The time is empty.", remedy=f"Write it as {example}.")
    if _DAY.fullmatch(plain):
        _day(shown, plain)
        return TimeTextError(f"{shown} has no time of day.", remedy=f"Write it as {example}.")
    if slashed := _SLASHED.fullmatch(plain):
        readings = _readings(*slashed.groups())
        if len(readings) == 2:
            return TimeTextError(
                f"{shown} may be {readings[0]} or {readings[1]}.",
                remedy="Write year, month and day in that order, with hyphens.",
            )
    return TimeTextError(f"{shown} is not written as year-month-day.", remedy=f"Write it as {example}.")


def _readings(first: str, second: str, year: str) -> list[str]:
    """List what day a text with month and day in an unknown order may mean."""
    full_year = int(year) + (2000 if len(year) == 2 else 0)
    days = []
    for month, day in ((int(first), int(second)), (int(second), int(first))):
        try:
            days.append(date(full_year, month, day).isoformat())
        except ValueError:
            continue
    return list(dict.fromkeys(days))
