"""Give a family a private address under which it sees its own module."""

from dataclasses import dataclass, field
from datetime import datetime

from registry.errors import InvalidRecordError, NotFoundError
from registry.ports import Accounts, Clock, Register
from registry.records.access_trail import Deed
from registry.records.family_link import FamilyLink
from registry.records.secret_digest import digest_of_secret

__all__ = ["OpenedLink", "open_family_link"]


@dataclass(frozen=True, slots=True, kw_only=True)
class OpenedLink:
    """A link that was made."""

    #: For the family; it stands nowhere else and cannot be shown again.
    secret: str = field(repr=False)
    link: FamilyLink

    @property
    def path(self) -> str:
        """The end of the address, after the name of the host."""
        return f"/family/{self.secret}"


def open_family_link(
    register: Register,
    accounts: Accounts,
    clock: Clock,
    *,
    tag: str,
    actor: str,
    expires_at: datetime | None = None,
) -> OpenedLink:
    """
    Make a private link of one family; links that were made before stay.

    Parameters
    ----------
    register : Register
        Knows the module; nothing is written to it.
    accounts : Accounts
        Where the link is kept.
    clock : Clock
        Tells the time.
    tag : str
        Of the module that remembers their relative.
    actor : str
        Who makes it.
    expires_at : datetime, optional
        Until when; by default until it is revoked.

    Raises
    ------
    NotFoundError
        If there is no such module, or it remembers nobody.
    InvalidRecordError
        If the end has come already.
    """
    if register.module(tag).memorial is None:
        what = f"Module {tag} remembers nobody: it has no memorial name."
        raise NotFoundError(what, remedy=f"Check the tag, or: leadline module amend {tag} --memorial NAME.")
    now = clock.now()
    secret = accounts.fresh_secret()
    link = FamilyLink(
        tag=tag, digest=digest_of_secret(secret), made_by=actor, made_at=now, expires_at=expires_at
    )
    if not link.valid(now):
        what = f"The link would have ended at {expires_at:%Y-%m-%d %H:%M} already."
        raise InvalidRecordError(what, remedy="Give a later end.")
    with accounts.writing():
        accounts.keep_family_link(link)
        accounts.note_deed(Deed(time=now, actor=actor, what="link of a family opened", about=tag))
    return OpenedLink(secret=secret, link=link)
