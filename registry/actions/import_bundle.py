"""Take in what another machine wrote: all of a bundle or nothing, once, whatever the order."""

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from registry.actions.insist_on_record import insist_on_record
from registry.actions.trusted_keys import Verify, trusted_keys
from registry.errors import ConflictError, RejectedError
from registry.ports import Exchange, Register
from registry.records.branches import cited
from registry.records.bundle import Bundle, Contest, Receipt, Twice, entry_names
from registry.records.entry import Entry, instant_text

__all__ = ["Imported", "import_bundle"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Imported:
    """What a bundle brought."""

    #: Whose key had signed it.
    signed_by: str
    sender: str
    #: The entries that are new here: first and last of each machine, and how many of each kind.
    brought: Mapping[str, tuple[int, int]] = field(default_factory=dict)
    kinds: Mapping[str, int] = field(default_factory=dict)
    #: What is open since.
    contests: tuple[Contest, ...] = ()
    placed_twice: tuple[Twice, ...] = ()
    #: The one digest of the ends of the journal now.
    head: str

    @property
    def count(self) -> int:
        """How many entries are new here; 0 where the bundle brought nothing new."""
        return sum(self.kinds.values())


def import_bundle(
    register: Register,
    exchange: Exchange,
    bundle: Bundle,
    *,
    actor: str,
    verify: Verify,
    compared: str = "",
) -> Imported:
    """
    Take in the entries of a bundle that are not here yet, in one transaction.

    Parameters
    ----------
    register, exchange : Register, Exchange
        The registry of this machine.
    bundle : Bundle
        As ``formats/bundle_file`` proved it: signed by the key that it names, unchanged, and whole.
    actor : str
        Who takes it in.
    verify : callable
        Proves a signed statement.
    compared : str
        See :func:`trusted_keys`.

    Raises
    ------
    ConflictError
        If it is of another registry, entries before its first are not here, or two machines wrote as one.
    RejectedError
        If nobody vouches for the key that signed it, or the journal would not prove itself with it.
    InvalidRecordError, NewerRegistryError
        If an entry cannot be read as what its kind says, or this version does not know the kind.
    """
    with register.writing():
        registry, founded = exchange.registry()
        if (bundle.registry, bundle.founded) != (registry, founded):
            what = f"The bundle is of another registry: {bundle.programme} ({bundle.registry})."
            remedy = (
                f"This is the registry of {register.programme().name} ({registry}). Choose with --registry."
            )
            raise ConflictError(what, remedy=remedy)
        keys = trusted_keys(register, exchange, bundle.entries, verify=verify, compared=compared)
        signed_by = keys.get(bundle.sender.key_id)
        if signed_by is None:
            raise _untrusted(bundle)
        new = _new_entries(exchange, bundle)
        if not new:
            return Imported(signed_by=signed_by, sender=bundle.sender.name, head=register.head())
        for entry in new:
            insist_on_record(entry)
        contests, twice = set(exchange.contests()), set(exchange.placed_twice())
        brought = {
            origin: (min(of), max(of))
            for origin in dict.fromkeys(entry.origin for entry in new)
            for of in [[entry.sequence for entry in new if entry.origin == origin]]
        }
        receipt = Receipt(
            received_at=instant_text(register.now()),
            actor=actor,
            bundle_sha256=bundle.sha256,
            key_id=bundle.sender.key_id,
            sender=bundle.sender.origin,
            brought=brought,
            sender_held=bundle.held,
        )
        exchange.take_in(new, receipt)
        return Imported(
            signed_by=signed_by,
            sender=bundle.sender.name,
            brought=brought,
            kinds=dict(Counter(entry.kind for entry in new)),
            contests=tuple(each for each in exchange.contests() if each not in contests),
            placed_twice=tuple(each for each in exchange.placed_twice() if each not in twice),
            head=register.head(),
        )


def _new_entries(exchange: Exchange, bundle: Bundle) -> list[Entry]:
    """Give the entries that are not here, if everything that they build on is here or among them."""
    held = dict(exchange.held())
    new: list[Entry] = []
    for entry in bundle.entries:
        last = held.get(entry.origin, 0)
        if entry.sequence <= last:
            if exchange.digest(entry.origin, entry.sequence) != entry.digest:
                raise _forked(entry)
            continue
        if entry.sequence > last + 1:
            missing = entry_names(entry.origin, last + 1, entry.sequence - 1)
            what = (
                f"Entries are missing between what is here and the bundle: {missing}. Nothing was taken in."
            )
            raise ConflictError(what, remedy=_EARLIER)
        held[entry.origin] = entry.sequence
        new.append(entry)
    _insist_on_ground(exchange, new)
    return new


def _insist_on_ground(exchange: Exchange, new: Sequence[Entry]) -> None:
    there = {entry.digest for entry in new}
    for entry in new:
        for digest in cited(entry.previous):
            if digest not in there and not exchange.is_held(digest):
                what = (
                    f"Entry {entry.reference} builds on an entry that is neither here nor in the bundle"
                    f" ({digest[:16]}). Nothing was taken in."
                )
                raise ConflictError(what, remedy=_EARLIER)


def _untrusted(bundle: Bundle) -> RejectedError:
    sender = bundle.sender
    what = (
        f"The bundle of {sender.name} is signed with the key {sender.key_id}, which nobody vouches for here."
    )
    remedy = (
        "Compare the key with the screen of that machine (leadline bundle devices), then, where the"
        " programme's key is: leadline bundle trust FILE --key KEY. Nothing was taken in."
    )
    return RejectedError(what, remedy=remedy)


def _forked(entry: Entry) -> ConflictError:
    what = (
        f"Two machines wrote as {entry.origin}: {entry.reference} is one entry here and another one in the"
        " bundle. One of them is a copy of the other's file. Nothing was taken in."
    )
    remedy = (
        f"Keep the copy's file, and list what it wrote from {entry.reference} on: leadline journal show."
        " Begin there anew with a copy by leadline backup; leadline bundle device; and log these again."
    )
    return ConflictError(what, remedy=remedy)


_EARLIER = "Take in the earlier bundle first, or have the sender export every entry, without --to."
