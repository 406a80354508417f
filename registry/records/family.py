"""
What a programme holds of a family beyond the record: whom to write to, and how the remains are numbered.

Nothing of this enters the journal, a map, an export, a report or a backup. It can be erased at any time.
"""

import re
import unicodedata
from dataclasses import dataclass, fields
from datetime import datetime

from registry.errors import InvalidRecordError
from registry.records.plaque_wording import PlaqueWording
from registry.records.printed_words import printed_words

__all__ = ["CONTACT_FIELDS", "Contact", "Family"]

LONGEST_FIELD = 400
_EMAIL = re.compile(r"[^@\s]+@[^@\s]+")


@dataclass(frozen=True, slots=True, kw_only=True)
class Contact:
    """One relative to whom the programme writes."""

    name: str
    #: To whom the memorial is, as "daughter".
    relation: str = ""
    email: str = ""
    phone: str = ""
    #: On one line.
    address: str = ""
    note: str = ""
    recorded_at: datetime

    def __post_init__(self) -> None:
        """Refuse what does not read as it was typed, and an address to which no mail goes."""
        for field in CONTACT_FIELDS:
            text = getattr(self, field)
            printed_words(
                f"{field} of the contact", text, longest=LONGEST_FIELD, may_be_empty=field != "name"
            )
        if self.email and not _EMAIL.fullmatch(self.email):
            what = f"{self.email!r} is no e-mail address."
            raise InvalidRecordError(what, remedy="Write it as name@example.org, or leave it out.")
        if self.recorded_at.tzinfo is None:
            what = f"Contact {self.name}: {self.recorded_at} has no zone."
            raise InvalidRecordError(what, remedy="Give the instant with Z or an offset.")

    def values(self) -> dict[str, str]:
        """Give what is held, field by field; what was left out is left out."""
        return {field: getattr(self, field) for field in CONTACT_FIELDS if getattr(self, field)}


#: What a person can say of a contact, in the order in which it is shown.
CONTACT_FIELDS = tuple(field.name for field in fields(Contact) if field.name != "recorded_at")


@dataclass(frozen=True, slots=True, kw_only=True)
class Family:
    """All that is held of the family of one module, apart from the journal."""

    #: Of the module that remembers their relative.
    tag: str
    contacts: tuple[Contact, ...] = ()
    #: Behind the digests of the crematory's number in the journal; hexadecimal, empty if there is none.
    secret: str = ""
    #: The crematory's number in every spelling that a hand-over wrote, oldest first.
    identifications: tuple[str, ...] = ()
    #: What they wish to read on the plaque; None where nobody said anything of it.
    plaque: PlaqueWording | None = None
    #: When the last of this was written down.
    recorded_at: datetime

    @property
    def empty(self) -> bool:
        """Whether nothing is held."""
        return not (self.contacts or self.secret or self.identifications or self.plaque)

    def texts(self) -> tuple[str, ...]:
        """Give every text of theirs that is held, once each: what an erasure must leave nowhere."""
        texts = [text for contact in self.contacts for text in contact.values().values()]
        plaque = self.plaque.texts() if self.plaque else ()
        secret = (self.secret,) if self.secret else ()
        return tuple(dict.fromkeys((*texts, *secret, *self.identifications, *plaque)))

    def named_in(self, text: str) -> str:
        """Give what of a contact a text holds as whole words, empty where it holds nothing of them."""
        told = [said for contact in self.contacts for said in (contact.name, contact.email, contact.phone)]
        plain = _plain(text)
        sought = ((said, rf"(?<!\w){re.escape(_plain(said))}(?!\w)") for said in told if said)
        return next((said for said, pattern in sought if re.search(pattern, plain)), "")


def _plain(text: str) -> str:
    return " ".join(unicodedata.normalize("NFKC", text).casefold().split())
