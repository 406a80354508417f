"""What a family wishes to read on its plaque, and what it said of the proof that it was shown."""

import hashlib
from dataclasses import dataclass
from datetime import date, datetime

from registry.records.entry import canonical_json
from registry.records.plaque import LONGEST_LINE
from registry.records.printed_words import printed_words

__all__ = ["MOST_LINES", "PLAQUE_KINDS", "PlaqueAnswer", "PlaqueWording", "wording_version"]

#: Kinds of entries by which a family answers: nothing of them says what the plaque says.
PLAQUE_KINDS = ("plaque.approved", "plaque.returned")
#: Width and height of a plate where nobody asked for others.
USUAL_SIZE = "150x100mm"
USUAL_HEADING = "In memory of"
MOST_LINES = 4
LONGEST_REQUEST = 1000


@dataclass(frozen=True, slots=True, kw_only=True)
class PlaqueWording:
    """The words of a plaque beside name and place. Kept with the contacts, erasable."""

    #: Width, height and unit as they are written, "150x100mm".
    size: str = USUAL_SIZE
    heading: str = USUAL_HEADING
    #: Dates of a life, as "1941 – 2024"; may be empty.
    dates: str = ""
    #: Further lines.
    words: tuple[str, ...] = ()
    #: The day for which the coordinates hold: the artwork stays the same on every later one.
    on: date
    #: What the family asks for beyond that, in its own words; never engraved.
    request: str = ""

    def __post_init__(self) -> None:
        """Refuse what would come out otherwise than it reads."""
        for name, longest in (
            ("heading", LONGEST_LINE),
            ("dates", LONGEST_LINE),
            ("request", LONGEST_REQUEST),
        ):
            text = printed_words(f"plaque's {name}", getattr(self, name), longest=longest, may_be_empty=True)
            object.__setattr__(self, name, text)
        lines = tuple(printed_words("plaque's line", line, longest=LONGEST_LINE) for line in self.words)
        object.__setattr__(self, "words", lines)

    def texts(self) -> dict[str, str]:
        """Give every text of the family's own, each with what it is: what an erasure must leave nowhere."""
        named = {self.dates: "the dates on the plaque"}
        named |= {line: f"line {number} of the plaque" for number, line in enumerate(self.words, start=1)}
        named |= {self.request: "what was asked for the plaque"}
        return {text: label for text, label in named.items() if text}


def wording_version(wording: PlaqueWording | None) -> str:
    """Give what stands for these very words in a form, so that nobody changes others than they saw."""
    said = None
    if wording is not None:
        said = [wording.size, wording.heading, wording.dates, list(wording.words), wording.request]
        said.append(wording.on.isoformat())
    return hashlib.sha256(canonical_json(said).encode()).hexdigest()[:16]


@dataclass(frozen=True, slots=True, kw_only=True)
class PlaqueAnswer:
    """What a family said last of a proof."""

    approved: bool
    #: SHA-256 of the drawing (SVG) that it was shown, in hexadecimal.
    artwork_sha256: str
    reference: str
    at: datetime
