"""The port ``Accounts`` kept in memory; its secrets are no secret, its hashes cost nothing."""

import hashlib
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from copy import deepcopy
from dataclasses import replace
from datetime import datetime

from registry.records.access_token import Token
from registry.records.access_trail import Deed, Outcome, SignIn
from registry.records.account import Account, BoatPin, Session, name_key
from registry.records.family_link import FamilyLink


class PlainPasswords:
    """The port ``Passwords`` without any cost; it remembers what was verified against what."""

    nobody = "1:nobody"

    def __init__(self, scheme: str = "1") -> None:
        self.scheme = scheme
        self.asked: list[str] = []

    def hash(self, password: str) -> str:
        return f"{self.scheme}:{hashlib.sha256(password.encode()).hexdigest()}"

    def verify(self, kept: str, password: str) -> bool:
        self.asked.append(kept)
        return kept.partition(":")[2] == hashlib.sha256(password.encode()).hexdigest()

    def needs_rehash(self, kept: str) -> bool:
        return not kept.startswith(f"{self.scheme}:")


class MemoryAccounts:
    """The port ``Accounts`` over dictionaries; a transaction that fails leaves nothing."""

    def __init__(self) -> None:
        self.passwords = PlainPasswords()
        self._kept: dict[str, dict] = {
            name: {} for name in ("account", "session", "token", "link", "sign_in")
        }
        self._pin: BoatPin | None = None
        self._deeds: list[Deed] = []
        self._secrets = 0
        self._depth = 0

    @contextmanager
    def writing(self) -> Iterator[None]:
        before = deepcopy((self._kept, self._pin, self._deeds)) if not self._depth else None
        self._depth += 1
        try:
            yield
        except BaseException:
            if before is not None:
                self._kept, self._pin, self._deeds = before
            raise
        finally:
            self._depth -= 1

    def fresh_secret(self) -> str:
        self._secrets += 1
        return f"secret-{self._secrets:036d}"

    def pseudonym(self, text: str) -> str:
        return hashlib.sha256(text.encode()).hexdigest()[:8]

    def account(self, name: str) -> Account | None:
        return self._kept["account"].get(name_key(name))

    def accounts(self) -> tuple[Account, ...]:
        return tuple(account for _, account in sorted(self._kept["account"].items()))

    def keep_account(self, account: Account) -> None:
        self._kept["account"][name_key(account.name)] = account

    def boat_pin(self) -> BoatPin | None:
        return self._pin

    def keep_boat_pin(self, pin: BoatPin | None) -> None:
        self._pin = pin

    def session(self, digest: str) -> Session | None:
        return self._kept["session"].get(digest)

    def sessions(self) -> tuple[Session, ...]:
        return tuple(sorted(self._kept["session"].values(), key=lambda each: (each.opened_at, each.digest)))

    def keep_session(self, session: Session) -> None:
        self._kept["session"][session.digest] = session

    def end_sessions(self, digests: Sequence[str]) -> None:
        for digest in digests:
            self._kept["session"].pop(digest, None)

    def tokens(self) -> tuple[Token, ...]:
        return tuple(sorted(self._kept["token"].values(), key=lambda each: (each.made_at, each.token_id)))

    def token(self, digest: str) -> Token | None:
        return next((each for each in self.tokens() if each.digest == digest), None)

    def keep_token(self, token: Token) -> None:
        self._kept["token"][token.token_id] = token

    def family_links(self, tag: str | None = None) -> tuple[FamilyLink, ...]:
        links = [link for link in self._kept["link"].values() if tag in (None, link.tag)]
        return tuple(sorted(links, key=lambda each: (each.made_at, each.digest)))

    def family_link(self, digest: str) -> FamilyLink | None:
        return self._kept["link"].get(digest)

    def keep_family_link(self, link: FamilyLink) -> None:
        self._kept["link"][link.digest] = link

    def remove_family_links(self, tag: str) -> int:
        gone = [link.digest for link in self.family_links(tag)]
        for digest in gone:
            del self._kept["link"][digest]
        return len(gone)

    def sign_ins(self, *, since: datetime | None = None, name: str | None = None) -> tuple[SignIn, ...]:
        chosen = [
            (each.time, number, each)
            for number, each in self._kept["sign_in"].items()
            if (since is None or each.time >= since) and name in (None, each.name)
        ]
        return tuple(each for _, _, each in sorted(chosen, key=lambda row: row[:2]))

    def note_sign_in(self, attempt: SignIn) -> int:
        number = max(self._kept["sign_in"], default=0) + 1
        self._kept["sign_in"][number] = attempt
        return number

    def settle_sign_in(self, number: int, outcome: Outcome) -> None:
        self._kept["sign_in"][number] = replace(self._kept["sign_in"][number], outcome=outcome)

    def forget_sign_ins(self, before: datetime) -> None:
        kept = self._kept["sign_in"]
        self._kept["sign_in"] = {number: each for number, each in kept.items() if each.time >= before}

    def deeds(self) -> tuple[Deed, ...]:
        return tuple(self._deeds)

    def note_deed(self, deed: Deed) -> None:
        self._deeds.append(deed)
