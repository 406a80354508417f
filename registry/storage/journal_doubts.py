"""
What asks for an explanation although every digest holds: a clock that went back, a guard that was taken off.

Neither proves that anything was changed. A clock may have been wrong, and an entry dated back still stands
where it was written; but whoever audits the record should hear of it.
"""

import json
import sqlite3
from datetime import datetime, timedelta

from registry.records.entry import instant_text
from registry.storage.geopackage_schema import journal_guards
from registry.storage.journal_links import known_here
from registry.storage.register import GeoPackageRegister
from registry.storage.sqlite_errors import told_plainly

__all__ = ["clock_doubts", "dated_later", "guard_doubts", "restore_guards"]

#: Clocks that are set right by a network step by less. Units: s.
CLOCK_STEP_S = 60.0


def clock_doubts(register: GeoPackageRegister, *, now: datetime) -> tuple[str, ...]:
    """
    Tell which entries are dated earlier than one before them, or later than now.

    Parameters
    ----------
    register : GeoPackageRegister
        The registry.
    now : datetime
        With its zone.

    Returns
    -------
    tuple of str
        One sentence for each entry at which the clock went back by more than a minute, and one where entries
        are dated after now.
    """
    with register.reading(), told_plainly(register.place):
        back = register.connection.execute(
            "SELECT reference, time, latest, julianday(latest) - julianday(time), origin != device FROM"
            " (SELECT origin || '-' || sequence AS reference, time, position,"
            "  max(time) OVER (ORDER BY position ROWS BETWEEN UNBOUNDED PRECEDING AND 1 PRECEDING) AS latest,"
            "  lag(time) OVER (ORDER BY position) AS before, origin,"
            "  lag(origin) OVER (ORDER BY position) AS device FROM journal)"
            " WHERE time < before AND (julianday(before) - julianday(time)) * 86400 > ? ORDER BY position",
            (CLOCK_STEP_S,),
        ).fetchall()
        ahead = register.connection.execute(
            "SELECT count(*), max(time) FROM journal WHERE time > ?",
            (instant_text(now + timedelta(seconds=CLOCK_STEP_S)),),
        ).fetchone()
    found = [
        f"Entry {reference} is dated {time}, though an entry before it is dated {latest}:"
        f" the clock was set back by {_span(days)}, or the entry was dated back{other_clock}."
        for reference, time, latest, days, apart in back
        for other_clock in [", or another machine's clock was ahead" if apart else ""]
    ]
    if ahead[0]:
        dated = "1 entry is dated" if ahead[0] == 1 else f"{ahead[0]} entries are dated"
        found.append(
            f"{dated} after now, up to {ahead[1]}: the clock was ahead when written, or is behind now."
        )
    return tuple(found)


def _span(days: float) -> str:
    seconds = days * 86_400
    for unit, size in (("d", 86_400), ("h", 3_600), ("min", 60)):
        if seconds >= size:
            return f"{seconds / size:.1f} {unit}"
    return f"{seconds:.0f} s"


def dated_later(register: GeoPackageRegister, instant: datetime) -> int:
    """
    Count the entries that are dated later than an instant but stand before one that is not.

    They belong to the registry as it was known then only as far as its clock can be trusted.
    """
    text = instant_text(instant)
    with register.reading(), told_plainly(register.place):
        known = known_here(register.connection, text)
        if known is not None:
            found = register.connection.execute(
                "SELECT count(*) FROM journal j, json_each(?2) WHERE key = j.origin AND j.sequence <= value"
                " AND time > ?1",
                (text, json.dumps(known)),
            ).fetchone()
            return int(found[0])
        found = register.connection.execute(
            "SELECT count(*) FROM journal WHERE time > ?1"
            " AND position < (SELECT max(position) FROM journal WHERE time <= ?1)",
            (text,),
        ).fetchone()
    return int(found[0])


def guard_doubts(register: GeoPackageRegister) -> tuple[str, ...]:
    """
    Tell which of the guards that forbid changing the journal are not there, or are not as they were made.

    Returns
    -------
    tuple of str
        One sentence each.
    """
    with register.reading(), told_plainly(register.place):
        there = dict(
            register.connection.execute(
                "SELECT name, sql FROM sqlite_master WHERE type = 'trigger' AND tbl_name = 'journal'"
            ).fetchall()
        )
    found = []
    for name, sql in journal_guards().items():
        if " ".join(str(there.get(name)).split()) != " ".join(sql.split()):
            state = "is not as it was made" if name in there else "was taken off"
            found.append(
                f"The guard {name} of the journal {state}: the file would not refuse a change of its entries."
                " Put it back with: leadline journal rebuild."
            )
    return tuple(found)


def restore_guards(connection: sqlite3.Connection) -> None:
    """Make the guards of the journal anew, within a transaction that the caller holds."""
    for name, sql in journal_guards().items():
        connection.execute(f"DROP TRIGGER IF EXISTS {name}")
        connection.execute(sql)
