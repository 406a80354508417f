"""
What the outside must offer to the actions.

Storage keeps these promises with a GeoPackage; the tests keep them with memory. Actions see nothing else.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from contextlib import AbstractContextManager
from typing import TYPE_CHECKING, Any, Protocol

if TYPE_CHECKING:
    from datetime import date, datetime

    from shapely.geometry.base import BaseGeometry

    from registry.records.access_token import Token
    from registry.records.access_trail import Deed, Outcome, SignIn
    from registry.records.account import Account, BoatPin, Session
    from registry.records.baseline import Baseline
    from registry.records.bundle import Contest, Receipt, Twice
    from registry.records.certificate_version import CertificateVersion
    from registry.records.device import Device
    from registry.records.entry import Draft, Entry
    from registry.records.family import Family
    from registry.records.family_link import FamilyLink
    from registry.records.module import Module, ModuleType
    from registry.records.permit import KeepOut, Permit
    from registry.records.placement import Placement, PlacementTable
    from registry.records.programme import Programme
    from registry.records.programme_key import ProgrammeKey
    from registry.records.target import Target

__all__ = ["Accounts", "Clock", "Exchange", "Families", "Parts", "Passwords", "Register", "Shapes", "Signer"]


class Clock(Protocol):
    """Where the time comes from."""

    def now(self) -> datetime:
        """Give the present instant in UTC."""
        ...


class Shapes(Protocol):
    """The shapes of one layer of a file."""

    @property
    def frame(self) -> str | None:
        """The frame that the file states, as "EPSG:6318"; None where it states none."""
        ...

    @property
    def shapes(self) -> tuple[tuple[str, BaseGeometry], ...]:
        """Name and geometry of each feature; longitude, latitude in degrees."""
        ...


class Signer(Protocol):
    """Something that holds the programme's private key."""

    @property
    def key_id(self) -> str:
        """The thumbprint of the key (RFC 7638)."""
        ...

    def sign(self, message: bytes) -> bytes:
        """Give the Ed25519 signature of a message: 64 bytes."""
        ...


class Families(Protocol):
    """What is held of families, apart from the registry; written while the registry is held for writing."""

    def held(self) -> Mapping[str, Family]:
        """Give what is held of every family, by the tag of its module, in order of tag."""
        ...

    def keep(self, families: Sequence[Family]) -> None:
        """Write down what is held of families from now on, in the place of what was; erase empty ones."""
        ...

    def fresh_secret(self) -> str:
        """Give 32 bytes that nobody can guess, in hexadecimal."""
        ...


class Passwords(Protocol):
    """How passwords and PINs are hashed, slowly and each with a salt of its own."""

    @property
    def nobody(self) -> str:
        """A hash that no password has, to spend the same time on where there is no account."""
        ...

    def hash(self, password: str) -> str:
        """Give the hash that is kept of a password."""
        ...

    def verify(self, kept: str, password: str) -> bool:
        """Tell whether a password is the one of a hash that was kept."""
        ...

    def needs_rehash(self, kept: str) -> bool:
        """Tell whether a hash was made with other parameters than those in use."""
        ...


class Accounts(Protocol):
    """Who may come in, apart from the registry. Names are found however they are capitalised."""

    @property
    def passwords(self) -> Passwords:
        """How passwords are hashed here."""
        ...

    def writing(self) -> AbstractContextManager[None]:
        """Hold what is kept for reading and writing as one transaction; all of it stands or none."""
        ...

    def fresh_secret(self) -> str:
        """Give 256 random bits as text that fits into an address."""
        ...

    def pseudonym(self, text: str) -> str:
        """Give what stands for a text: always the same, and nobody can tell the text from it."""
        ...

    def account(self, name: str) -> Account | None:
        """Give the account of a name, if there is one."""
        ...

    def accounts(self) -> tuple[Account, ...]:
        """Give every account, in order of name."""
        ...

    def keep_account(self, account: Account) -> None:
        """Keep an account, in the place of the one of that name."""
        ...

    def boat_pin(self) -> BoatPin | None:
        """Give the PIN of the boat, if there is one."""
        ...

    def keep_boat_pin(self, pin: BoatPin | None) -> None:
        """Keep the PIN of the boat in the place of the last one, or none any more."""
        ...

    def session(self, digest: str) -> Session | None:
        """Give the session of a digest, alive or not."""
        ...

    def sessions(self) -> tuple[Session, ...]:
        """Give every session that is kept, oldest first."""
        ...

    def keep_session(self, session: Session) -> None:
        """Keep a session, in the place of the one of that digest."""
        ...

    def end_sessions(self, digests: Sequence[str]) -> None:
        """Forget sessions."""
        ...

    def tokens(self) -> tuple[Token, ...]:
        """Give every token, oldest first."""
        ...

    def token(self, digest: str) -> Token | None:
        """Give the token of a digest, valid or not."""
        ...

    def keep_token(self, token: Token) -> None:
        """Keep a token, in the place of the one of that identifier."""
        ...

    def family_links(self, tag: str | None = None) -> tuple[FamilyLink, ...]:
        """Give every link, or those of one family, oldest first."""
        ...

    def family_link(self, digest: str) -> FamilyLink | None:
        """Give the link of a digest, valid or not."""
        ...

    def keep_family_link(self, link: FamilyLink) -> None:
        """Keep a link, in the place of the one of that digest."""
        ...

    def remove_family_links(self, tag: str) -> int:
        """Remove every link of a family, revoked or not, and tell how many there were."""
        ...

    def sign_ins(self, *, since: datetime | None = None, name: str | None = None) -> tuple[SignIn, ...]:
        """Give the attempts to come in, oldest first; only those of a name, or since an instant, if asked."""
        ...

    def note_sign_in(self, attempt: SignIn) -> int:
        """Note an attempt, and give its number."""
        ...

    def settle_sign_in(self, number: int, outcome: Outcome) -> None:
        """Say what came of an attempt."""
        ...

    def forget_sign_ins(self, before: datetime) -> None:
        """Forget attempts of long ago."""
        ...

    def deeds(self) -> tuple[Deed, ...]:
        """Give what was done to accounts, tokens and links, oldest first."""
        ...

    def note_deed(self, deed: Deed) -> None:
        """Note what was done; it stays."""
        ...


class Register(Protocol):
    """The registry of one programme. Reading shows what the last committed entry left."""

    def programme(self) -> Programme:
        """Give the programme."""
        ...

    def permits(self) -> tuple[Permit, ...]:
        """Give every permit, in order of number, in the version in force on the register's day."""
        ...

    def permits_near(self, *, lon_deg: float, lat_deg: float, reach_m: float) -> tuple[Permit, ...]:
        """
        Give the permits that have an area within at least `reach_m` of a point (others may be among them).

        In order of number, and in the version in force on the register's day.
        """
        ...

    def permit_boxes(self) -> tuple[tuple[str, tuple[float, float, float, float]], ...]:
        """
        Give number, west, south, east and north of every area of a permit in force on the register's day.

        Units: degrees. The edges of an area may bulge a little out of its box.
        """
        ...

    def permit(self, number: str, *, on: date | None = None) -> Permit:
        """Give one permit in the version in force on a day, by default today; NotFoundError names all."""
        ...

    def permit_versions(self, number: str) -> tuple[Permit, ...]:
        """Give every version of a permit, oldest in force first; NotFoundError names those there are."""
        ...

    def permit_history(self) -> tuple[tuple[Permit, ...], ...]:
        """Give every version of every permit: in order of number, and of each oldest in force first."""
        ...

    def targets(self) -> tuple[Target, ...]:
        """Give where the plan wants modules now, in order of identifier: one for each tag and permit."""
        ...

    def target_of(self, permit: str, tag: str) -> Target | None:
        """Give where the plan wants a module of a permit now; None where it says nothing."""
        ...

    def baselines(self) -> tuple[Baseline, ...]:
        """Give every baseline, in order of identifier."""
        ...

    def declarations(self) -> tuple[Mapping[str, Any], ...]:
        """
        Give the bodies of what the programme declared, oldest first.

        Each has besides its "reference", "time" (UTC, as text) and "actor".
        """
        ...

    def duties_done(self) -> tuple[Mapping[str, Any], ...]:
        """
        Give the bodies of the duties told as done, oldest first.

        Each has besides its "reference", "time" (UTC, as text) and "actor".
        """
        ...

    def plaque_answers(self, tag: str) -> tuple[Mapping[str, Any], ...]:
        """
        Give what the family of a module answered to proofs of its plaque, oldest first.

        Each has "approved" (bool), "artwork_sha256", "reference", "time" (UTC, as text) and "actor".
        """
        ...

    def keep_outs(self) -> tuple[KeepOut, ...]:
        """Give every keep-out, in order of identifier."""
        ...

    def module_types(self) -> tuple[ModuleType, ...]:
        """Give every module type, in order of identifier."""
        ...

    def module_type(self, type_id: str) -> ModuleType:
        """Give one module type; NotFoundError names the types there are."""
        ...

    def modules(self) -> tuple[Module, ...]:
        """Give every module, in order of tag."""
        ...

    def module(self, tag: str) -> Module:
        """Give one module; NotFoundError names the tags nearest to what was asked."""
        ...

    def modules_tagged(self, tags: Sequence[str]) -> dict[str, Module]:
        """Give those of the modules named that there are, by tag."""
        ...

    def placements(self, *, permit: str | None = None, by_permit: bool = False) -> PlacementTable:
        """
        Give the placements that stand (not superseded), in order of time and then of identifier.

        Where that is asked, in order of the number of their permit before all else.
        """
        ...

    def placements_near(
        self,
        *,
        lon_deg: float,
        lat_deg: float,
        reach_m: float,
        permit: str | None = None,
        less_sure_than_m: float | None = None,
    ) -> PlacementTable:
        """
        Give the standing placements within at least `reach_m` of a point (others may be among them).

        Those of a permit are all among them where one is named; of all these only those whose position is
        less sure than `less_sure_than_m`, where that is said.
        """
        ...

    def placed_under(self, permit: str, *, until: datetime) -> tuple[int, float]:
        """
        Give how many modules of a permit stand that had been placed by then, and their mass together.

        Added up in order of time; NaN where one mass is unknown. Units: kg.
        """
        ...

    def placements_tagged(self, tags: Sequence[str]) -> PlacementTable:
        """Give the standing placements of some tags, in order of time and then of identifier."""
        ...

    def placement(self, placement_id: str) -> Placement:
        """Give one placement with its observations; NotFoundError otherwise."""
        ...

    def placement_ids(self, tag: str) -> tuple[str, ...]:
        """Give the identifiers of the standing placements of a tag, oldest first."""
        ...

    def source_rows(self, keys: Sequence[str]) -> frozenset[str]:
        """Give those of the row keys that were taken in before."""
        ...

    def source_entry(self, key: str) -> Entry | None:
        """Give the entry that a row of this key became, or None where none was taken in."""
        ...

    def resurveys(self, tag: str | None = None) -> tuple[Mapping[str, Any], ...]:
        """Give the bodies of the resurveys that stand, oldest entry first, each with its "reference"."""
        ...

    def certificates(self, tag: str | None = None) -> tuple[Mapping[str, Any], ...]:
        """Give the bodies of the certificates issued, oldest first, each with its "reference"."""
        ...

    def certificate_versions(self, tag: str | None = None) -> tuple[CertificateVersion, ...]:
        """Give every version of every certificate with its state, oldest entry first."""
        ...

    def certificate_duplicates(self, tag: str | None = None) -> tuple[Mapping[str, Any], ...]:
        """Give the bodies of the duplicates, oldest first, each with its "reference" and "time" (as text)."""
        ...

    def signing_keys(self) -> tuple[ProgrammeKey, ...]:
        """Give every key that the programme ever signed with, oldest first; the last is in use."""
        ...

    def hand_overs(self, tag: str | None = None) -> tuple[Mapping[str, Any], ...]:
        """
        Give the bodies of the hand-overs that stand, of one module or of all, oldest entry first.

        Each has besides its "reference", "time" (UTC, as text) and "actor".
        """
        ...

    def keeps_custody(self) -> bool:
        """Tell whether a hand-over of any module was ever recorded."""
        ...

    def erasures(self) -> tuple[Mapping[str, Any], ...]:
        """
        Give the bodies of the receipts for what was erased of families, oldest first.

        Each has besides its "reference", "time" (UTC, as text) and "actor".
        """
        ...

    def journal(self, *, after: int = 0, kind: str | None = None) -> Iterator[Entry]:
        """Give the entries in order, from the one after position `after`; only those of a kind if asked."""
        ...

    def head(self) -> str:
        """Give the digest of the last entry."""
        ...

    def journal_length(self) -> int:
        """Give the number of entries."""
        ...

    def reading(self) -> AbstractContextManager[None]:
        """Hold one state of the registry across several reads."""
        ...

    def now(self) -> datetime:
        """Give the instant that an entry written now would carry."""
        ...

    def today(self) -> date:
        """Give the register's day, in the programme's zone."""
        ...

    def writing(self) -> AbstractContextManager[None]:
        """Hold the registry for reading and writing as one transaction; all of it stands or none."""
        ...

    def append(self, drafts: Sequence[Draft]) -> tuple[Entry, ...]:
        """Write entries and the tables that follow from them; durable when the transaction ends."""
        ...


class Exchange(Protocol):
    """What a registry hands to other machines and takes in; beside the port ``Register`` of the same file."""

    def registry(self) -> tuple[str, str]:
        """Give the origin of the registry and the digest of its first entry."""
        ...

    def writes_as(self) -> str:
        """Give the origin of what is written here."""
        ...

    def is_copy(self) -> bool:
        """Tell whether the file is a copy to which nothing was written yet."""
        ...

    def begin_anew(self) -> str:
        """Write under a fresh origin from now on, and give it."""
        ...

    def held(self) -> Mapping[str, int]:
        """Give the last sequence of each device."""
        ...

    def digest(self, origin: str, sequence: int) -> str | None:
        """Give the digest of an entry; None where it is not here."""
        ...

    def is_held(self, digest: str) -> bool:
        """Tell whether an entry of a digest is here."""
        ...

    def beyond(self, held: Mapping[str, int]) -> Iterator[Entry]:
        """Give the entries that somebody lacks who holds so many of each device, in order."""
        ...

    def devices(self) -> tuple[Device, ...]:
        """Give the machines that have a name, in order of their first entry."""
        ...

    def contests(self) -> tuple[Contest, ...]:
        """Give what is open between machines, oldest first."""
        ...

    def placed_twice(self) -> tuple[Twice, ...]:
        """Give the modules of which placements of several machines stand, in order of tag."""
        ...

    def receipts(self) -> tuple[Receipt, ...]:
        """Give the bundles that were taken in here, oldest first."""
        ...

    def take_in(self, entries: Sequence[Entry], receipt: Receipt) -> None:
        """Put entries of other machines where they belong; within a transaction all of it stands or none."""
        ...


class Parts(Protocol):
    """The standing placements of a registry, some at a time: what is too large is never held as a whole."""

    def counts(self, *, until: datetime | None = None) -> Mapping[str, int]:
        """Give how many placements stand under each permit that has any, or had been placed by then."""
        ...

    def placements_of(self, permits: Sequence[str]) -> PlacementTable:
        """Give the placements of some permits, in order of time and then of identifier."""
        ...

    def placements_around(
        self, lon_deg: Sequence[float], lat_deg: Sequence[float], reach_m: float, *, but: Sequence[str] = ()
    ) -> PlacementTable:
        """Give those within at least `reach_m` of any of some places (or more), `but` of no such permit."""
        ...

    def repeated(self) -> PlacementTable:
        """Give the placements whose tag or memorial another one bears as well."""
        ...

    def less_sure_than(self, r95_m: float) -> PlacementTable:
        """Give the placements whose position is less certain than that."""
        ...

    def count_less_sure_than(self, r95_m: float) -> int:
        """Give how many those are."""
        ...
