"""What tells the time; the only place where the clock of the machine is read."""

from datetime import UTC, datetime

__all__ = ["StandingClock", "SystemClock"]


class StandingClock:
    """A clock that tells one instant for ever: that of a registry as it stood then."""

    def __init__(self, instant: datetime) -> None:
        self._instant = instant.astimezone(UTC)

    def now(self) -> datetime:
        """Give the instant in UTC."""
        return self._instant


class SystemClock:
    """The clock of this machine; it keeps the port ``Clock``."""

    def now(self) -> datetime:
        """Give the present instant in UTC."""
        return datetime.now(UTC)
