"""What was entered about one module, by whom and when; with no field for a family or a crew."""

from dataclasses import dataclass
from datetime import datetime

__all__ = ["TracedEntry"]


@dataclass(frozen=True, slots=True, kw_only=True)
class TracedEntry:
    """One entry of the journal about a placement of a module."""

    #: "placed", "corrected", "withdrawn" or "resurveyed".
    kind: str
    at: datetime
    actor: str
    reference: str
    #: SHA-256 of the entry.
    digest: str
    #: The entry that this one takes the place of, withdraws or is about; empty where there is none.
    about: str
    #: Why, as whoever entered it wrote; empty where nothing is asked.
    reason: str
    #: What was written, or what a resurvey showed.
    told: str
