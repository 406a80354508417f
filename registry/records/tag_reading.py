"""A tag as a diver read it off the module on the seabed: the second identifier beside the crew's own."""

from dataclasses import dataclass

from registry.errors import ConflictError
from registry.records.custody import spelt_alike
from registry.records.printed_words import printed_words

__all__ = ["TagReading", "agreed"]

LONGEST_READING = 120


@dataclass(frozen=True, slots=True, kw_only=True)
class TagReading:
    """Who read the tag of a module that lies on the seabed, and what stands on it."""

    diver: str
    #: As the diver wrote it down.
    tag: str

    def __post_init__(self) -> None:
        """Refuse a reading without its reader, or words that do not read as they were typed."""
        printed_words("name of the diver", self.diver, longest=LONGEST_READING)
        printed_words("tag that the diver read", self.tag, longest=LONGEST_READING)


def agreed(tag: str, reading: TagReading | None) -> None:
    """
    Insist that the tag which the crew names is the one that a diver read.

    Raises
    ------
    ConflictError
        If they differ: which module lies there must be known before anything is recorded of it.

    Examples
    --------
    >>> agreed("MC-0017", TagReading(diver="Bo", tag="mc 0017"))
    Traceback (most recent call last):
    registry.errors.ConflictError: Bo read the tag mc 0017, but this is the entry of MC-0017. ...
    """
    if reading is not None and not spelt_alike(tag, reading.tag):
        what = f"{reading.diver} read the tag {reading.tag}, but this is the entry of {tag}."
        remedy = f"Nothing was recorded. Have it read again; if it is {reading.tag}, record it on that page."
        raise ConflictError(what, remedy=remedy)
