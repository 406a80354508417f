"""End the private links of a family."""

from dataclasses import replace

from registry.errors import NotFoundError
from registry.ports import Accounts, Clock
from registry.records.access_trail import Deed

__all__ = ["revoke_family_link"]


def revoke_family_link(accounts: Accounts, clock: Clock, *, tag: str, actor: str) -> int:
    """
    Revoke every valid link of a family, at once.

    Parameters
    ----------
    accounts : Accounts
        Where they are kept.
    clock : Clock
        Tells the time.
    tag : str
        Of the module that remembers their relative.
    actor : str
        Who does this.

    Returns
    -------
    int
        How many were revoked.

    Raises
    ------
    NotFoundError
        If no link of that family is valid.
    """
    now = clock.now()
    with accounts.writing():
        valid = [link for link in accounts.family_links(tag) if link.valid(now)]
        if not valid:
            what = f"No link of the family of {tag} is valid."
            raise NotFoundError(what, remedy=f"Check the tag, or make one: leadline family link {tag}.")
        for link in valid:
            accounts.keep_family_link(replace(link, revoked_at=now))
        about = f"{tag} ({len(valid)})"
        accounts.note_deed(Deed(time=now, actor=actor, what="links of a family revoked", about=about))
    return len(valid)
