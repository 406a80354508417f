"""One line of a placement log as a person wrote it, read but not yet derived."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime
from typing import TYPE_CHECKING, Any

from registry.records.quantity import Quantity
from registry.records.written_position import WrittenPosition

if TYPE_CHECKING:
    from registry.records.sounding import Sounding
    from registry.records.surveyed_position import SurveyedPosition

__all__ = ["LogRow"]


@dataclass(frozen=True, slots=True, kw_only=True)
class LogRow:
    """What one line says; None and the empty text mean that it does not say."""

    tag: str
    permit: str
    #: The instant of touch-down, with its zone.
    placed_at: datetime
    position: WrittenPosition
    #: What `position` was derived from; None where a person wrote it.
    survey: "SurveyedPosition | None" = None
    #: Frame and epoch stated beside the position. Units: decimal year.
    frame: str | None = None
    epoch: float | None = None
    #: 95 % radius, or the class of receiver that stands for one.
    r95: Quantity | None = None
    receiver: str = ""
    depth: Quantity | None = None
    depth_u95: Quantity | None = None
    tide: Quantity | None = None
    #: The depth off an instrument, instead of the three above.
    sounding: "Sounding | None" = None
    #: Module type, for a tag that the registry does not hold yet.
    type_id: str = ""
    crew: str = ""
    vessel: str = ""
    note: str = ""
    #: Where it came from: file, digest, row, key, and columns that are not understood, verbatim.
    source: Mapping[str, Any] = field(default_factory=dict)
