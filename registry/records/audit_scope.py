"""
What an audit looks at: what was true at an instant, and what was known at an instant.

The two are apart. A module that was set down in May and entered in July lay there in June, but nobody who
read the registry in June knew it.
"""

from collections.abc import Callable
from datetime import datetime

__all__ = ["scope_words"]


def scope_words(known: datetime | None, on: datetime | None, write: Callable[[datetime], str]) -> str:
    """
    Say in one sentence what an audit looked at.

    Parameters
    ----------
    known : datetime, optional
        Only what had been entered in the journal by this instant was read; None: all that is in it now.
    on : datetime, optional
        Only what had been placed by this instant was judged; None: all that stands.
    write : callable
        Writes an instant, as the page does.

    Examples
    --------
    >>> scope_words(None, datetime(2026, 6, 30), lambda instant: f"{instant:%d %B}")
    'What had been placed by 30 June, as the registry knows it now, with every correction made since.'
    """
    if on is None:
        if known is None:
            return "All that stands, as the registry knows it now."
        return f"The registry as it was known at {write(known)}; what was entered later is left out."
    placed = f"What had been placed by {write(on)}"
    if known is None:
        return f"{placed}, as the registry knows it now, with every correction made since."
    return f"{placed}, as it was known at {write(known)}; what was entered later is left out."
