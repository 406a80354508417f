"""How each record of the file of accounts is written down as a row, and read back."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any, Generic, TypeVar

from registry.records.access_token import Scope, Token
from registry.records.access_trail import Deed, Outcome, SignIn, Way
from registry.records.account import Account, BoatPin, Role, Session, name_key
from registry.records.entry import instant_text
from registry.records.family_link import FamilyLink

__all__ = ["ACCOUNTS", "BOAT_PIN", "DEEDS", "FAMILY_LINKS", "SESSIONS", "SIGN_INS", "TOKENS", "Kept"]

T = TypeVar("T")


@dataclass(frozen=True, slots=True)
class Kept(Generic[T]):
    """One table and what a row of it means."""

    table: str
    #: In the order of what `row` gives and `record` takes.
    columns: tuple[str, ...]
    row: Callable[[T], tuple[Any, ...]]
    #: Raises ValueError, TypeError or a LeadlineError on a row that was damaged.
    record: Callable[..., T]

    @property
    def select(self) -> str:
        """The beginning of every question to the table."""
        return f"SELECT {', '.join(self.columns)} FROM {self.table}"

    @property
    def insert(self) -> str:
        """What writes a row, in the place of the one with the same key."""
        marks = ", ".join("?" * len(self.columns))
        return f"INSERT OR REPLACE INTO {self.table} ({', '.join(self.columns)}) VALUES ({marks})"


def _text(instant: datetime | None) -> str | None:
    return None if instant is None else instant_text(instant)


def _instant(text: str) -> datetime:
    return datetime.fromisoformat(text).astimezone(UTC)


def _instant_or_none(text: str | None) -> datetime | None:
    return None if text is None else _instant(text)


ACCOUNTS: Kept[Account] = Kept(
    "accounts",
    ("name_key", "name", "roles", "password_hash", "password_set_at", "made_at", "made_by", "disabled"),
    lambda account: (
        name_key(account.name),
        account.name,
        ",".join(sorted(account.roles)),
        account.password_hash,
        _text(account.password_set_at),
        _text(account.made_at),
        account.made_by,
        int(account.disabled),
    ),
    lambda _key, name, roles, password_hash, password_set_at, made_at, made_by, disabled: Account(
        name=name,
        roles=frozenset(Role(role) for role in roles.split(",")),
        password_hash=password_hash,
        password_set_at=_instant_or_none(password_set_at),
        made_at=_instant(made_at),
        made_by=made_by,
        disabled=bool(disabled),
    ),
)

BOAT_PIN: Kept[BoatPin] = Kept(
    "boat_pin",
    ("one", "pin_hash", "set_at", "set_by"),
    lambda pin: (1, pin.pin_hash, _text(pin.set_at), pin.set_by),
    lambda _one, pin_hash, set_at, set_by: BoatPin(pin_hash=pin_hash, set_at=_instant(set_at), set_by=set_by),
)

SESSIONS: Kept[Session] = Kept(
    "sessions",
    ("digest", "account", "opened_at", "last_seen", "expires_at", "csrf", "boat"),
    lambda session: (
        session.digest,
        session.account,
        _text(session.opened_at),
        _text(session.last_seen),
        _text(session.expires_at),
        session.csrf,
        int(session.boat),
    ),
    lambda digest, account, opened_at, last_seen, expires_at, csrf, boat: Session(
        digest=digest,
        account=account,
        opened_at=_instant(opened_at),
        last_seen=_instant(last_seen),
        expires_at=_instant(expires_at),
        csrf=csrf,
        boat=bool(boat),
    ),
)

TOKENS: Kept[Token] = Kept(
    "tokens",
    ("token_id", "label", "digest", "scopes", "made_by", "made_at", "expires_at", "revoked_at"),
    lambda token: (
        token.token_id,
        token.label,
        token.digest,
        ",".join(sorted(token.scopes)),
        token.made_by,
        _text(token.made_at),
        _text(token.expires_at),
        _text(token.revoked_at),
    ),
    lambda token_id, label, digest, scopes, made_by, made_at, expires_at, revoked_at: Token(
        token_id=token_id,
        label=label,
        digest=digest,
        scopes=frozenset(Scope(scope) for scope in scopes.split(",")),
        made_by=made_by,
        made_at=_instant(made_at),
        expires_at=_instant(expires_at),
        revoked_at=_instant_or_none(revoked_at),
    ),
)

FAMILY_LINKS: Kept[FamilyLink] = Kept(
    "family_links",
    ("digest", "tag", "made_by", "made_at", "expires_at", "revoked_at"),
    lambda link: (
        link.digest,
        link.tag,
        link.made_by,
        _text(link.made_at),
        _text(link.expires_at),
        _text(link.revoked_at),
    ),
    lambda digest, tag, made_by, made_at, expires_at, revoked_at: FamilyLink(
        digest=digest,
        tag=tag,
        made_by=made_by,
        made_at=_instant(made_at),
        expires_at=_instant_or_none(expires_at),
        revoked_at=_instant_or_none(revoked_at),
    ),
)

SIGN_INS: Kept[SignIn] = Kept(
    "sign_ins",
    ("time", "name", "address", "way", "outcome"),
    lambda attempt: (_text(attempt.time), attempt.name, attempt.address, attempt.way, attempt.outcome),
    lambda time, name, address, way, outcome: SignIn(
        time=_instant(time), name=name, address=address, way=Way(way), outcome=Outcome(outcome)
    ),
)

DEEDS: Kept[Deed] = Kept(
    "deeds",
    ("time", "actor", "what", "about"),
    lambda deed: (_text(deed.time), deed.actor, deed.what, deed.about),
    lambda time, actor, what, about: Deed(time=_instant(time), actor=actor, what=what, about=about),
)
