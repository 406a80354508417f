"""The days on which something was entered: between them a registry as of a day stays as it is."""

from datetime import date
from zoneinfo import ZoneInfo

from registry.ports import Register

__all__ = ["entry_days"]


def entry_days(register: Register) -> tuple[date, ...]:
    """
    Give the days of the journal.

    Parameters
    ----------
    register : Register
        Read from.

    Returns
    -------
    tuple of date
        In the programme's zone, each once, the earliest first.
    """
    zone = ZoneInfo(register.programme().zone)
    return tuple(sorted({entry.time.astimezone(zone).date() for entry in register.journal()}))
