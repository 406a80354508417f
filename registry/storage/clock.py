"""The only place where the clock is read."""

from datetime import UTC, datetime

__all__ = ["SystemClock"]


class SystemClock:
    """The clock of this machine; it keeps the port ``Clock``."""

    def now(self) -> datetime:
        """Give the present instant in UTC."""
        return datetime.now(UTC)
