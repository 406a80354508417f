"""
Who may come in, and as what: accounts, the boat's PIN and the sessions that either opens.

Names of people who work with the registry are no facts of the reef: none of this enters the journal.
"""

import re
import unicodedata
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from enum import StrEnum

from registry.errors import InvalidRecordError
from registry.records.printed_words import printed_words

__all__ = [
    "ROLES",
    "Account",
    "BoatPin",
    "Lifetime",
    "Role",
    "Session",
    "lifetime_of",
    "name_key",
    "read_roles",
    "with_zone",
]

LONGEST_NAME = 80


class Role(StrEnum):
    """As what somebody comes in."""

    OFFICE = "office"
    DIVE_TEAM = "dive team"
    OFFICER = "officer"


#: What each role is for.
ROLES: Mapping[Role, str] = {
    Role.OFFICE: "Runs the programme: everything, with accounts, tokens and links of families.",
    Role.DIVE_TEAM: "Logs placements and observations at sea, and asks whether a drop would be allowed.",
    Role.OFFICER: "Reads permits, findings and the evidence behind them; changes nothing.",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Lifetime:
    """How long a session lives: without being used, and at all."""

    idle: timedelta
    absolute: timedelta


#: Cold hands sign in once a trip; the office and the officer see more and sit at a desk: our own judgement.
#: For comparison, from memory: NIST SP 800-63B (AAL2) asks for 12 h in all (revision 3, 4.2.3) and for 1 h
#: unused (revision 4, 2.2.3).
_AT_SEA = Lifetime(idle=timedelta(hours=12), absolute=timedelta(days=14))
_AT_A_DESK = Lifetime(idle=timedelta(hours=1), absolute=timedelta(hours=12))


def lifetime_of(roles: Iterable[str]) -> Lifetime:
    """Give how long a session with some roles lives."""
    return _AT_A_DESK if {Role.OFFICE, Role.OFFICER} & set(roles) else _AT_SEA


def read_roles(texts: Iterable[str]) -> frozenset[Role]:
    """
    Read roles as they are typed: "dive-team" is "dive team".

    Raises
    ------
    InvalidRecordError
        If there is none, or one that is no role.

    Examples
    --------
    >>> sorted(read_roles(["office", "Dive-Team"]))
    [<Role.DIVE_TEAM: 'dive team'>, <Role.OFFICE: 'office'>]
    """
    known = ", ".join(role.replace(" ", "-") for role in Role)
    roles = set()
    for text in texts:
        try:
            roles.add(Role(text.strip().lower().replace("-", " ")))
        except ValueError:
            raise InvalidRecordError(f"{text!r} is no role.", remedy=f"Roles are: {known}.") from None
    if not roles:
        raise InvalidRecordError("No role is given.", remedy=f"Roles are: {known}.")
    return frozenset(roles)


#: How the journal names who has no account: a family that came by its link, a program that came by its token.
_OTHERS = re.compile(r"^family of\b|\(token\b")


def name_key(name: str) -> str:
    """
    Give what two names must not have in common: they would be taken for one another.

    Examples
    --------
    >>> name_key("Ada  Quill") == name_key("ADA QUILL")
    True
    """
    return " ".join(unicodedata.normalize("NFKC", name).casefold().split())


def with_zone(what: str, instant: datetime | None) -> None:
    """Refuse an instant without its zone."""
    if instant is not None and instant.tzinfo is None:
        raise InvalidRecordError(f"{what}: {instant} has no zone.", remedy="Give it with Z or an offset.")


@dataclass(frozen=True, slots=True, kw_only=True)
class Account:
    """Somebody who may sign in."""

    #: As it goes into the journal with what this person does.
    name: str
    roles: frozenset[Role]
    #: Argon2id in PHC form, empty where nobody can sign in by password: a crew that came by PIN.
    password_hash: str = field(default="", repr=False)
    #: Wrong attempts before that count no more.
    password_set_at: datetime | None = None
    made_at: datetime
    made_by: str = ""
    #: Cannot sign in; kept, since the journal names whoever acted.
    disabled: bool = False

    def __post_init__(self) -> None:
        """Refuse a name that does not read as it was typed, and an account that is for nothing."""
        printed_words("name of the account", self.name, longest=LONGEST_NAME)
        if _OTHERS.search(name_key(self.name)):
            what = f"{self.name!r} is how the journal names a family or a program."
            raise InvalidRecordError(what, remedy="Give the name of a person.")
        if not self.roles or not all(isinstance(role, Role) for role in self.roles):
            what = f"Account {self.name}: {', '.join(sorted(self.roles)) or 'nothing'} is no role."
            raise InvalidRecordError(what, remedy=f"Roles are: {', '.join(Role)}.")
        for instant in (self.made_at, self.password_set_at):
            with_zone(f"Account {self.name}", instant)


@dataclass(frozen=True, slots=True, kw_only=True)
class BoatPin:
    """The PIN by which a crew comes in on the boat's own network."""

    pin_hash: str = field(repr=False)
    set_at: datetime
    set_by: str

    def __post_init__(self) -> None:
        """Refuse an instant that could be any."""
        with_zone("PIN of the boat", self.set_at)


@dataclass(frozen=True, slots=True, kw_only=True)
class Session:
    """A browser that somebody signed in with."""

    #: SHA-256 of the secret that the browser keeps, in hexadecimal.
    digest: str = field(repr=False)
    #: Name of the account, or the name that the crew member typed.
    account: str
    opened_at: datetime
    last_seen: datetime
    #: When it ends, however much it is used.
    expires_at: datetime
    #: What each form of this session brings back; of no use to whoever has not the secret as well.
    csrf: str = field(repr=False)
    #: Whether it was opened by the boat's PIN: there is then no account behind it.
    boat: bool = False

    def __post_init__(self) -> None:
        """Refuse instants that could be any."""
        for instant in (self.opened_at, self.last_seen, self.expires_at):
            with_zone(f"Session of {self.account}", instant)

    def alive(self, now: datetime, roles: Iterable[str]) -> bool:
        """Tell whether it may still be used, by somebody with these roles."""
        lifetime = lifetime_of(roles)
        ends = min(self.expires_at, self.opened_at + lifetime.absolute, self.last_seen + lifetime.idle)
        return now < ends
