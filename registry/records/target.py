"""Where the plan wants a module."""

import math
from dataclasses import dataclass

from registry.errors import InvalidRecordError
from registry.records.module import checked_tag
from registry.records.written_position import WrittenPosition

__all__ = ["Target", "TargetDraft"]


@dataclass(frozen=True, slots=True, kw_only=True)
class TargetDraft:
    """A planned position as somebody wrote it, before it is brought home."""

    tag: str
    position: WrittenPosition
    #: Frame and epoch stated beside the position, None where they were not. Units: decimal year.
    frame: str | None = None
    epoch: float | None = None

    def __post_init__(self) -> None:
        """Refuse a tag that no module can carry."""
        checked_tag(self.tag)


@dataclass(frozen=True, slots=True, kw_only=True)
class Target:
    """The planned position of one module under one permit."""

    target_id: str
    permit: str
    #: The module that is to lie there; it need not be cast yet.
    tag: str
    #: In the registry's home frame. Units: degrees.
    lon_deg: float
    lat_deg: float
    #: The frame in which the plan states it, and the epoch used if that frame moves.
    frame: str
    epoch: float | None
    #: The position as it was written, for the record.
    written: str
    #: The datum operation that brought it home.
    operation: str

    def __post_init__(self) -> None:
        """Refuse a target that is nowhere."""
        checked_tag(self.tag)
        if not (math.isfinite(self.lon_deg) and math.isfinite(self.lat_deg) and abs(self.lat_deg) <= 90):
            what = f"The target of {self.tag} lies at {self.lat_deg}, {self.lon_deg}, which is nowhere."
            raise InvalidRecordError(what, remedy="Give a latitude and a longitude.")
