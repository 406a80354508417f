"""What a placement log needs of the instruments of its day: fixes for positions, soundings for depths."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import datetime

from registry.records.quantity import Quantity
from registry.records.sounding import Sounding
from registry.records.surveyed_position import SurveyedPosition

__all__ = ["Instruments"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Instruments:
    """How the rows of a log are joined with what instruments recorded."""

    #: Gives the position of a row that has none of its own, from its cells and its touch-down.
    position_of: Callable[[Mapping[str, str], datetime], SurveyedPosition]
    #: True where there are fixes for rows that name no log.
    day_log: bool = False
    #: Gives the sounding of a row, from its kind, its cells, and depth, doubt and tide as read.
    sounding_of: Callable[
        [str, Mapping[str, str], Quantity | None, Quantity | None, Quantity | None, datetime], Sounding
    ]
    #: Of rows that name no kind of depth; empty where depths are plain.
    depth_kind: str = ""
