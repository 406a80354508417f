"""What lets another program ask through the HTTP interface: a token, and what it may be used for."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import datetime
from enum import StrEnum

from registry.errors import InvalidRecordError
from registry.records.account import with_zone
from registry.records.printed_words import printed_words

__all__ = ["SCOPES", "Scope", "Token", "read_scopes"]

LONGEST_LABEL = 80


class Scope(StrEnum):
    """What a token may be used for."""

    PUBLIC_READ = "public:read"
    REGISTER_READ = "register:read"
    PLACEMENTS_WRITE = "placements:write"
    OFFICE_WRITE = "office:write"


#: What each scope allows.
SCOPES: Mapping[Scope, str] = {
    Scope.PUBLIC_READ: "Read what anybody sees: sites as they are published.",
    Scope.REGISTER_READ: "Read permits, placements as they were measured, and findings.",
    Scope.PLACEMENTS_WRITE: "Log placements and later observations.",
    Scope.OFFICE_WRITE: "Add permits, modules and targets.",
}


def read_scopes(texts: Iterable[str]) -> frozenset[Scope]:
    """
    Read scopes as they are typed.

    Raises
    ------
    InvalidRecordError
        If there is none, or one that is no scope.
    """
    scopes = set()
    for text in texts:
        try:
            scopes.add(Scope(text.strip().lower()))
        except ValueError:
            what = f"{text!r} is no scope."
            raise InvalidRecordError(what, remedy=f"Scopes are: {', '.join(Scope)}.") from None
    if not scopes:
        raise InvalidRecordError("No scope is given.", remedy=f"Scopes are: {', '.join(Scope)}.")
    return frozenset(scopes)


@dataclass(frozen=True, slots=True, kw_only=True)
class Token:
    """A token of the HTTP interface, without its secret."""

    #: Short, to be named by: it opens nothing.
    token_id: str
    #: What it is for, as "chart office".
    label: str
    #: SHA-256 of the secret, in hexadecimal.
    digest: str = field(repr=False)
    scopes: frozenset[Scope]
    made_by: str
    made_at: datetime
    expires_at: datetime
    revoked_at: datetime | None = None

    def __post_init__(self) -> None:
        """Refuse a label that does not read as it was typed, and a token that is for nothing."""
        printed_words("label of the token", self.label, longest=LONGEST_LABEL)
        if not self.scopes or not all(isinstance(scope, Scope) for scope in self.scopes):
            what = f"Token {self.label}: {', '.join(sorted(self.scopes)) or 'nothing'} is no scope."
            raise InvalidRecordError(what, remedy=f"Scopes are: {', '.join(Scope)}.")
        for instant in (self.made_at, self.expires_at, self.revoked_at):
            with_zone(f"Token {self.label}", instant)

    def valid(self, now: datetime) -> bool:
        """Tell whether it is heard."""
        return self.revoked_at is None and now < self.expires_at
