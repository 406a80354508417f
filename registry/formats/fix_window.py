"""Which fixes of a receiver's log belong to one module: those of a window of time, told in words."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime

from registry.formats.nmea_excerpt import excerpt_of
from registry.formats.nmea_log import NmeaLog
from registry.records.survey import LogFile, LoggedFixes

__all__ = ["AROUND_S", "FixWindow", "fixes_in", "window_around", "window_between"]

#: How far around touch-down or an event mark fixes are taken where nobody says. Units: s.
AROUND_S = 60.0


@dataclass(frozen=True, slots=True)
class FixWindow:
    """A window of time, both ends included; an end that is None is open."""

    words: str
    #: Units: s since 1970-01-01T00:00Z.
    start_s: float | None
    end_s: float | None


def window_around(middle_s: float, *, around_s: float = AROUND_S, called: str) -> FixWindow:
    """
    Give the window around an instant.

    Examples
    --------
    >>> window_around(60.0, called="touch-down").words
    '60 s before and after touch-down, 1970-01-01T00:00:00Z to 1970-01-01T00:02:00Z'
    """
    start_s, end_s = middle_s - around_s, middle_s + around_s
    words = f"{around_s:g} s before and after {called}, {_times(start_s, end_s)}"
    return FixWindow(words, start_s, end_s)


def window_between(start_s: float | None, end_s: float | None) -> FixWindow:
    """
    Give the window between two instants.

    Examples
    --------
    >>> window_between(None, 60.0).words, window_between(None, None).words
    ('any time to 1970-01-01T00:01:00Z', 'all of the log')
    """
    if start_s is None and end_s is None:
        return FixWindow("all of the log", None, None)
    return FixWindow(_times(start_s, end_s), start_s, end_s)


def fixes_in(
    window: FixWindow,
    log: NmeaLog,
    *,
    receiver: str,
    files: tuple[LogFile, ...],
    unpacked: Callable[[int], bytes],
    day: str = "",
) -> LoggedFixes:
    """
    Take the fixes of a window, with the lines that they were read from.

    Parameters
    ----------
    window : FixWindow
        Of the module.
    log : NmeaLog
        As read from the files.
    receiver : str
        Name of its class.
    files : tuple of LogFile
        In the order in which they were read.
    unpacked : callable
        Gives the bytes of the file of a number.
    day : str
        UTC day that was stated for a log that never says one.
    """
    fixes = log.fixes.between(window.start_s, window.end_s)
    return LoggedFixes(
        fixes=fixes,
        account=log.account,
        receiver=receiver,
        window=window.words,
        start_s=window.start_s,
        end_s=window.end_s,
        files=files,
        sentences=excerpt_of(fixes, unpacked),
        day=day,
    )


def _times(start_s: float | None, end_s: float | None) -> str:
    return " to ".join(_instant(t) if t is not None else "any time" for t in (start_s, end_s))


def _instant(time_s: float) -> str:
    return f"{datetime.fromtimestamp(time_s, tz=UTC):%Y-%m-%dT%H:%M:%SZ}"
