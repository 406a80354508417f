"""Who casts and places memorial modules; one registry belongs to one programme."""

import unicodedata
from dataclasses import dataclass

from registry.errors import InvalidRecordError

__all__ = ["Programme"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Programme:
    """The programme, and what it declared once for all its entries."""

    name: str
    #: The plate-fixed home frame, as "EPSG:6318", and its coordinate epoch (decimal year).
    frame: str
    frame_epoch: float
    #: IANA zone in which times without a zone are read and papers are dated, as "America/New_York".
    zone: str
    #: Key identifier and public key (base64url) of the programme's signing key.
    key_id: str
    public_key: str

    def __post_init__(self) -> None:
        """Refuse a programme without a name."""
        if not self.name.strip() or any(unicodedata.category(c).startswith("C") for c in self.name):
            what = "The programme has no name, or one with characters that do not show."
            raise InvalidRecordError(what, remedy='Give --programme "NAME" on one line.')
