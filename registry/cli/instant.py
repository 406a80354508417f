"""Instants as they are typed: a day means its end."""

from datetime import datetime, timedelta

__all__ = ["end_of"]


def end_of(text: str, zone: str) -> datetime:
    """Read an instant, or a day as the last moment of it in the programme's zone."""
    from registry.errors import TimeTextError
    from registry.formats.written_instant import read_day, read_instant

    try:
        day = read_day(text)
    except TimeTextError:
        # Who writes no time of day means a day, and is told how to write one.
        if ":" not in text:
            raise
        return read_instant(text, zone)
    # Midnight is asked of the next day, so that a day of 23 or 25 hours ends where it really does.
    return read_instant(f"{day + timedelta(days=1)}T00:00", zone) - timedelta(milliseconds=1)
