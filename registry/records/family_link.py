"""The private address under which one family sees its own module, without an account."""

from dataclasses import dataclass, field
from datetime import datetime

from registry.errors import InvalidRecordError
from registry.records.account import with_zone

__all__ = ["FamilyLink"]


@dataclass(frozen=True, slots=True, kw_only=True)
class FamilyLink:
    """A private link of one family, without its secret. For whom it was made is kept nowhere."""

    #: Of the module that remembers their relative.
    tag: str
    #: SHA-256 of the secret, in hexadecimal.
    digest: str = field(repr=False)
    made_by: str
    made_at: datetime
    #: None: until it is revoked.
    expires_at: datetime | None = None
    revoked_at: datetime | None = None

    def __post_init__(self) -> None:
        """Refuse a link of nobody, and instants that could be any."""
        if not self.tag.strip():
            raise InvalidRecordError("A link of a family names no module.", remedy="Give its tag.")
        for instant in (self.made_at, self.expires_at, self.revoked_at):
            with_zone(f"Link of the family of {self.tag}", instant)

    def valid(self, now: datetime) -> bool:
        """Tell whether it opens anything."""
        return self.revoked_at is None and (self.expires_at is None or now < self.expires_at)
