"""Erase what is held of a family, and leave a receipt that says what was erased when, and nothing more."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime

from registry.errors import ConflictError, NotFoundError
from registry.ports import Accounts, Families, Register
from registry.records.access_trail import Deed
from registry.records.entry import Draft, canonical_json
from registry.records.family import CONTACT_FIELDS, Family

__all__ = ["Erased", "Sought", "brought_back", "erase_family"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Sought:
    """One text that was erased, and where the journal still says it."""

    #: What it was, without saying it: "phone of contact 1".
    label: str
    text: str = field(repr=False)
    #: Entries of the journal that hold it, of which nothing can be erased.
    entries: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Erased:
    """What was erased of a family."""

    tag: str
    erased_at: datetime
    actor: str
    #: How many contacts, and which of their fields were filled.
    contacts: int
    fields: tuple[str, ...]
    #: How many numbers of the crematory; with them went the secret behind their digests.
    identifications: int
    #: Whether words of the plaque were held, and went as well.
    plaque: bool
    #: How many private links went with it, and how many stay since only one contact was to be erased.
    links: int
    links_left: int
    #: The receipt in the journal, and its digest.
    reference: str
    digest: str
    #: True where something of this family is held on purpose: only one contact was to be erased.
    rest_held: bool
    #: Whether the name of the memorial is still shown in public.
    listed: bool
    #: What must now stand nowhere; for the search, never for the receipt.
    sought: tuple[Sought, ...] = field(repr=False)


def erase_family(
    register: Register,
    families: Families,
    accounts: Accounts,
    tag: str,
    *,
    actor: str,
    contact: int | None = None,
    seen: datetime | None = None,
) -> Erased:
    """
    Erase all that is held of the family of a module with its private links, or one contact of it.

    Parameters
    ----------
    register : Register
        Gets the receipt.
    families : Families
        Where it is held.
    accounts : Accounts
        Where its links are held.
    tag : str
        Of the module.
    actor : str
        Who erases it.
    contact : int, optional
        The number of the one contact to erase, from 1; by default everything.
    seen : datetime.datetime, optional
        When what somebody had before their eyes was written down: numbers of contacts follow from it.

    Raises
    ------
    NotFoundError
        If nothing is held, or no contact of that number.
    ConflictError
        If something was written down since it was seen.
    """
    with register.writing():
        held = families.held()
        links = accounts.family_links(tag)
        before = held.get(tag)
        if before is None and links and contact is None:
            before = Family(tag=tag, recorded_at=register.now())
        if before is None:
            what = f"Nothing is held of a family of {tag}."
            remedy = f"Held are: {', '.join(held)}." if held else "Nothing is held of any family."
            raise NotFoundError(what, remedy=remedy)
        if seen is not None and before.recorded_at != seen:
            changed = f"{before.recorded_at:%Y-%m-%d %H:%M:%S} UTC"
            what = f"What is held of the family of {tag} was changed at {changed}."
            raise ConflictError(what, remedy="Nothing was erased: look at what is held now, and choose anew.")
        after = _without(before, contact)
        gone = [one for one in before.contacts if one not in after.contacts]
        filled = {name for one in gone for name in one.values()}
        fields = tuple(name for name in CONTACT_FIELDS if name in filled)
        identifications = len(before.identifications) - len(after.identifications)
        body = {
            "tag": tag,
            "contacts": len(gone),
            "fields": list(fields),
            "identifications": identifications,
            "secret": bool(before.secret) and not after.secret,
            "rest_held": not after.empty,
        }
        if before.plaque and not after.plaque:
            body["plaque"] = True
        going = links if contact is None else ()
        if going:
            body["links"] = len(going)
        sought = _sought(register, before, after, [link.digest for link in going])
        (entry,) = register.append([Draft(kind="family.erased", actor=actor, body=body)])
        # Before the receipt stands: it must never say of anything that it is gone which is not.
        families.keep([replace(after, recorded_at=entry.time)])
        if going:
            with accounts.writing():
                accounts.remove_family_links(tag)
                deed = Deed(time=entry.time, actor=actor, what="links of a family removed", about=tag)
                accounts.note_deed(deed)
        module = register.modules_tagged([tag]).get(tag)
    return Erased(
        tag=tag,
        erased_at=entry.time,
        actor=actor,
        contacts=len(gone),
        fields=fields,
        identifications=identifications,
        plaque="plaque" in body,
        links=len(going),
        links_left=sum(link.valid(entry.time) for link in links) if contact is not None else 0,
        reference=entry.reference,
        digest=entry.digest,
        rest_held=not after.empty,
        listed=bool(module and module.memorial and module.memorial.consent_listed),
        sought=sought,
    )


def brought_back(register: Register, held: Mapping[str, Family]) -> dict[str, str]:
    """
    Say of which families something is held that was erased: an old copy of the file was put back.

    Returns
    -------
    dict
        Tag of the module to when it was erased, in UTC.
    """
    erased = {body["tag"]: str(body["time"]) for body in register.erasures()}
    return {
        tag: erased[tag][:16] + "Z"
        for tag, family in held.items()
        if tag in erased and family.recorded_at < datetime.fromisoformat(erased[tag])
    }


def _without(before: Family, contact: int | None) -> Family:
    if contact is None:
        return Family(tag=before.tag, recorded_at=before.recorded_at)
    if not 1 <= contact <= len(before.contacts):
        what = f"There is no contact {contact} of {before.tag}; {len(before.contacts)} are held."
        raise NotFoundError(what, remedy=f"See them with: leadline family show {before.tag}.")
    kept = (*before.contacts[: contact - 1], *before.contacts[contact:])
    return replace(before, contacts=kept)


def _sought(register: Register, before: Family, after: Family, links: Sequence[str]) -> tuple[Sought, ...]:
    """Give what must be gone, and the entries of the journal that say it for reasons of their own."""
    labels: dict[str, str] = {}
    for number, contact in enumerate(before.contacts, start=1):
        for name, text in contact.values().items():
            labels.setdefault(text, f"the {name} of contact {number}")
    if before.secret:
        labels[before.secret] = "the secret"
    for number, text in enumerate(before.identifications, start=1):
        labels.setdefault(text, f"number {number} of the crematory")
    for text, label in before.plaque.texts().items() if before.plaque else ():
        labels.setdefault(text, label)
    labels |= {digest: f"the digest of link {number}" for number, digest in enumerate(links, start=1)}
    for text in after.texts():
        labels.pop(text, None)
    holding = _entries_with(register, tuple(labels))
    return tuple(Sought(label=label, text=text, entries=holding[text]) for text, label in labels.items())


def _entries_with(register: Register, texts: Sequence[str]) -> dict[str, tuple[str, ...]]:
    found: dict[str, list[str]] = {text: [] for text in texts}
    written = {text: canonical_json(text)[1:-1] for text in texts}
    for entry in register.journal():
        for text in texts:
            if written[text] in entry.body or text in entry.actor:
                found[text].append(f"{entry.reference} ({entry.kind})")
    return {text: tuple(entries) for text, entries in found.items()}
