"""Keep whom to write to in a family; the journal learns nothing of it."""

from dataclasses import replace

from registry.errors import ConflictError, NotFoundError
from registry.ports import Families, Register
from registry.records.family import Contact, Family

__all__ = ["add_contact"]


def add_contact(register: Register, families: Families, tag: str, contact: Contact) -> Family:
    """
    Keep a contact of the family of a module, and give all that is now held.

    Parameters
    ----------
    register : Register
        Knows the module; nothing is written to it.
    families : Families
        Where it is kept.
    tag : str
        Of the module that remembers their relative.
    contact : Contact
        Whom to write to.

    Raises
    ------
    NotFoundError
        If there is no such module, or it remembers nobody.
    ConflictError
        If the very same contact is held already.
    """
    with register.writing():
        module = register.module(tag)
        if module.memorial is None:
            what = f"Module {tag} remembers nobody: it has no memorial name."
            raise NotFoundError(
                what, remedy=f"Check the tag, or: leadline module amend {tag} --memorial NAME."
            )
        family = families.held().get(tag) or Family(tag=tag, recorded_at=contact.recorded_at)
        if any(each.values() == contact.values() for each in family.contacts):
            what = f"This contact is held for {tag} already."
            raise ConflictError(what, remedy=f"See it with: leadline family show {tag}.")
        family = replace(family, contacts=(*family.contacts, contact), recorded_at=contact.recorded_at)
        families.keep([family])
    return family
