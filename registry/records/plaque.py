"""What a plaque says, line by line, before anybody has set it."""

import math
from dataclasses import dataclass
from datetime import date

from registry.errors import InvalidRecordError
from registry.records.printed_words import printed_words

__all__ = ["LONGEST_LINE", "Plaque", "PlateSize"]

LONGEST_LINE = 200
#: A plate smaller or larger than this is a slip of the unit.
LEAST_SIDE_MM, MOST_SIDE_MM = 20.0, 3000.0


@dataclass(frozen=True, slots=True, kw_only=True)
class PlateSize:
    """The plate that is engraved. Units: mm."""

    width_mm: float
    height_mm: float

    def __post_init__(self) -> None:
        """Refuse what no engraver can hold."""
        for side_mm in (self.width_mm, self.height_mm):
            if not (math.isfinite(side_mm) and LEAST_SIDE_MM <= side_mm <= MOST_SIDE_MM):
                what = f"A plaque of {self.width_mm:g} x {self.height_mm:g} mm is not one."
                remedy = f"Give sides from {LEAST_SIDE_MM:g} to {MOST_SIDE_MM:g} mm, as 150x100mm."
                raise InvalidRecordError(what, remedy=remedy)


@dataclass(frozen=True, slots=True, kw_only=True)
class Plaque:
    """The lines of a plaque. Words are kept in Unicode form NFC."""

    tag: str
    #: Above the name, as "In memory of"; may be empty.
    heading: str
    name: str
    #: As the family wants them, as "1941 – 2024"; may be empty.
    dates: str
    #: Further lines of the family.
    words: tuple[str, ...]
    #: Latitude and longitude as they are engraved, no digit beyond what is known.
    latitude: str
    longitude: str
    #: Frame, epoch and radius.
    frame_words: str
    #: Tag and day of placement.
    placed_words: str
    #: What the code says; empty for none.
    code: str
    #: The day for which the coordinates hold.
    on: date

    def __post_init__(self) -> None:
        """Refuse what would come out otherwise than it reads."""
        for field in ("heading", "name", "dates"):
            value = getattr(self, field)
            empty = field != "name"
            words = printed_words(f"plaque's {field}", value, longest=LONGEST_LINE, may_be_empty=empty)
            object.__setattr__(self, field, words)
        lines = tuple(printed_words("plaque's line", line, longest=LONGEST_LINE) for line in self.words)
        object.__setattr__(self, "words", lines)
