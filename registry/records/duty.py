"""
What a programme owes its authorities: notices, reports and dates, each with the day by which it is due.

Days are calendar days in the programme's zone. A report is on time up to and on the day it is due.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from enum import Enum

__all__ = ["SOON_DAYS", "Duties", "Duty", "DutyKind", "DutyState", "state_of"]


class DutyKind(Enum):
    """What is owed; the value begins the identifier."""

    NOTICE = "notice"
    AS_BUILT = "asbuilt"
    BURIAL = "burial"
    SEASON = "season"
    EXPIRY = "expiry"

    @property
    def words(self) -> str:
        """The kind as it is called on screens and papers."""
        return {
            DutyKind.NOTICE: "notice before work",
            DutyKind.AS_BUILT: "as-built report",
            DutyKind.BURIAL: "burial-at-sea report",
            DutyKind.SEASON: "season",
            DutyKind.EXPIRY: "permit expiry",
        }[self]


#: How many days ahead a duty counts as due soon. Common practice, no source: a permit takes months to renew.
SOON_DAYS: Mapping[DutyKind, int] = {
    DutyKind.NOTICE: 14,
    DutyKind.AS_BUILT: 14,
    DutyKind.BURIAL: 14,
    DutyKind.SEASON: 30,
    DutyKind.EXPIRY: 180,
}


class DutyState(Enum):
    """How a duty stands on a day, in the order in which it wants to be read."""

    OVERDUE = "overdue"
    DUE_SOON = "due soon"
    UNKNOWN = "not yet known"
    OPEN = "open"
    DONE = "done"
    NOT_APPLICABLE = "does not apply"

    @property
    def rank(self) -> int:
        """Place in that order, from 0."""
        return list(DutyState).index(self)


def state_of(due_on: date, *, on: date, soon_days: int, sent_on: date | None = None) -> tuple[DutyState, int]:
    """
    Tell how a duty stands on a day, and how many days late it is or was sent.

    Parameters
    ----------
    due_on, on : datetime.date
        The last day that is on time, and the day for which the answer holds.
    soon_days : int
        So many days ahead, and on the day itself, it is due soon.
    sent_on : datetime.date, optional
        When it was first sent; after `on` counts as not sent.

    Examples
    --------
    >>> due = date(2026, 7, 14)
    >>> state_of(due, on=date(2026, 7, 14), soon_days=14)
    (<DutyState.DUE_SOON: 'due soon'>, 0)
    >>> state_of(due, on=date(2026, 7, 15), soon_days=14)
    (<DutyState.OVERDUE: 'overdue'>, 1)
    >>> state_of(due, on=date(2026, 8, 1), soon_days=14, sent_on=date(2026, 7, 17))
    (<DutyState.DONE: 'done'>, 3)
    """
    if sent_on is not None and sent_on <= on:
        return DutyState.DONE, max(0, (sent_on - due_on).days)
    if on > due_on:
        return DutyState.OVERDUE, (on - due_on).days
    return (DutyState.DUE_SOON if due_on - on <= timedelta(soon_days) else DutyState.OPEN), 0


@dataclass(frozen=True, slots=True, kw_only=True)
class Duty:
    """One thing that is owed, as it stands on a day."""

    #: Stable over time, and short enough to be typed: "asbuilt-HB-0417-2026-06-14".
    duty_id: str
    kind: DutyKind
    permit: str
    what: str
    #: The last day on time, None where it cannot be known.
    due_on: date | None
    state: DutyState
    #: Days late, so far or when it was sent.
    days_late: int = 0
    #: Where it is asked.
    cite: str
    #: What that rests on, one sentence each.
    evidence: tuple[str, ...] = ()
    #: The first day on which it was sent, and how often it was.
    sent_on: date | None = None
    times_sent: int = 0
    #: The first and last day that it is about: of placing or of planned work.
    from_day: date | None = None
    to_day: date | None = None
    #: The placements behind it, in order of time.
    placements: tuple[str, ...] = ()
    #: True where those placements are not those that stood when it was last sent.
    changed_since: bool = False
    #: True where its state is unknown because the programme has not said what it must say.
    undeclared: bool = False

    @property
    def state_words(self) -> str:
        """The state in words, with how late."""
        days = f"{self.days_late} day{'' if self.days_late == 1 else 's'}"
        late = {DutyState.OVERDUE: f" by {days}", DutyState.DONE: f", {days} late"}
        words = self.state.value + (late.get(self.state, "") if self.days_late else "")
        return f"{words}; changed since" if self.changed_since else words

    @property
    def wants_attention(self) -> bool:
        """Whether a person should act soon although nothing is overdue."""
        return self.state is DutyState.DUE_SOON or self.changed_since or self.undeclared


@dataclass(frozen=True, slots=True, kw_only=True)
class Duties:
    """Every duty of a registry on a day: overdue first, then by the day they are due."""

    on: date
    #: The zone in which days are counted.
    zone: str
    duties: tuple[Duty, ...]
    #: What cannot be told as a duty, one sentence each.
    notes: tuple[str, ...] = ()

    @property
    def overdue(self) -> bool:
        """Whether any is overdue."""
        return any(duty.state is DutyState.OVERDUE for duty in self.duties)

    @property
    def want_attention(self) -> bool:
        """Whether any wants a person soon."""
        return any(duty.wants_attention for duty in self.duties)
