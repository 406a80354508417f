"""What happened at the door: who tried to come in, and who let whom do what."""

from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum

from registry.records.account import with_zone

__all__ = ["Deed", "Outcome", "SignIn", "Way"]


class Way(StrEnum):
    """By what somebody tried to come in."""

    PASSWORD = "password"
    PIN = "pin"


class Outcome(StrEnum):
    """What came of it."""

    OPENED = "opened"
    WRONG = "wrong name, password or PIN"
    DISABLED = "account disabled"
    NAME_TAKEN = "by PIN under the name of an account"
    WAIT = "made to wait"


@dataclass(frozen=True, slots=True, kw_only=True)
class SignIn:
    """One attempt to come in."""

    time: datetime
    #: The account's name; where there is none, what stands for the name that was typed: people type their
    #: password there.
    name: str
    #: From where, as an IP address.
    address: str
    way: Way
    outcome: Outcome

    def __post_init__(self) -> None:
        """Refuse an instant that could be any."""
        with_zone("Sign-in", self.time)


@dataclass(frozen=True, slots=True, kw_only=True)
class Deed:
    """One thing that somebody did to accounts, tokens or links."""

    time: datetime
    actor: str
    #: As "account added".
    what: str
    #: Whom or what it was about, as "Ada (office)".
    about: str

    def __post_init__(self) -> None:
        """Refuse an instant that could be any."""
        with_zone("Deed", self.time)
