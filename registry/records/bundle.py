"""What one machine hands to another: entries of the journal, and what is told of taking them in."""

from collections.abc import Mapping
from dataclasses import dataclass

from registry.records.device import Device
from registry.records.entry import Entry

__all__ = ["Bundle", "Contest", "Receipt", "Twice", "entry_names"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Bundle:
    """Entries of one registry, in the order in which they are played."""

    programme: str
    #: The origin of the registry, and the digest of the entry that it began with.
    registry: str
    founded: str
    #: Who made it, and with which key; its trust is not part of it.
    sender: Device
    #: UTC, as the journal writes it.
    made_at: str
    #: The last sequence of each device that the sender held.
    held: Mapping[str, int]
    entries: tuple[Entry, ...]
    #: SHA-256 of the file; empty before it is written.
    sha256: str = ""

    @property
    def brought(self) -> dict[str, tuple[int, int]]:
        """The first and the last sequence of each device that are in it."""
        found: dict[str, tuple[int, int]] = {}
        for entry in self.entries:
            first, last = found.get(entry.origin, (entry.sequence, entry.sequence))
            found[entry.origin] = (min(first, entry.sequence), max(last, entry.sequence))
        return found


@dataclass(frozen=True, slots=True, kw_only=True)
class Receipt:
    """That a bundle was taken in here."""

    #: UTC, as the journal writes it.
    received_at: str
    actor: str
    bundle_sha256: str
    key_id: str
    #: Origin of the machine that made it.
    sender: str
    #: What of it was new here, and what the sender held when it was made.
    brought: Mapping[str, tuple[int, int]]
    sender_held: Mapping[str, int]


@dataclass(frozen=True, slots=True, kw_only=True)
class Contest:
    """Two entries that contradict each other, each written without the other: which one stands is open."""

    #: Of what, as "module", and its name.
    subject: str
    name: str
    #: The entries: the one whose facts stand until it is decided, and the other.
    stands: str
    against: str
    sentence: str

    @property
    def remedy(self) -> str:
        """How it is decided."""
        return _REMEDIES.get(self.subject, "leadline bundle decide ENTRY --reason TEXT")


@dataclass(frozen=True, slots=True, kw_only=True)
class Twice:
    """A module that stands in several places, logged on more than one machine."""

    tag: str
    placements: tuple[str, ...]

    @property
    def sentence(self) -> str:
        """What is contested, for people."""
        return f"Module {self.tag} was placed on several machines: {', '.join(self.placements)}."

    @property
    def remedy(self) -> str:
        """How it is decided."""
        return (
            f'leadline withdraw PLACEMENT --reason "...", or leadline correct, until one of {self.tag} stands'
        )


def entry_names(origin: str, first: int, last: int) -> str:
    """
    Name entries of one device that follow each other.

    Examples
    --------
    >>> entry_names("b0a7b0a7", 4, 6)
    'b0a7b0a7-4 to b0a7b0a7-6'
    >>> entry_names("b0a7b0a7", 4, 4)
    'b0a7b0a7-4'
    """
    return f"{origin}-{first}" if first == last else f"{origin}-{first} to {origin}-{last}"


#: Where an entry that there is already says what holds.
_REMEDIES = {
    "placement": "leadline withdraw PLACEMENT --reason TEXT, or leadline correct",
    "resurvey": "leadline resurvey --correct, or leadline bundle decide ENTRY --reason TEXT",
    "custody": "leadline custody withdraw, or leadline bundle decide ENTRY --reason TEXT",
    "certificate": "leadline certificates withdraw TAG --reason TEXT, then leadline certificate TAG",
    "declaration": "declare it again; until then the later one holds",
    "key": "leadline journal rotate-key on the machine whose key is to hold",
}
