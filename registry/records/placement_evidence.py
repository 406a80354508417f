"""What stands behind one placement, as the journal holds it; with no field for a family or a crew."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

__all__ = ["PlacementEvidence"]


@dataclass(frozen=True, slots=True, kw_only=True)
class PlacementEvidence:
    """One placement with its derivation, its files and the entry that proves it."""

    tag: str
    permit: str
    #: Of its journal entry: the name, who wrote it and when, and its SHA-256 digest.
    placement_id: str
    actor: str
    at: datetime
    digest: str
    #: The derivation as plain JSON data, in the order in which it is read.
    content: Mapping[str, Any]
    #: Lines of the receiver's log that the position was taken from, verbatim; empty where there are none.
    log_lines: tuple[str, ...] = ()
