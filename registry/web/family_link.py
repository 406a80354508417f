"""Whose family opened a page: told by the secret in its address, and by nothing else."""

from dataclasses import dataclass

from fastapi import Request

from registry.errors import NotFoundError
from registry.web.open_to_all import open_to_all
from registry.web.opened import accounts_of, settings_of

__all__ = ["OwnFamily", "no_such_page", "own_family"]


@dataclass(frozen=True, slots=True)
class OwnFamily:
    """The one family of which a page may tell."""

    #: Of its module.
    tag: str
    #: Where its pages begin.
    root: str

    @property
    def actor(self) -> str:
        """What the journal calls them: no relative is named."""
        return f"family of {self.tag}"


def own_family(request: Request, secret: str) -> OwnFamily:
    """
    Give the family of a private link, a dependency of each of their routes.

    Raises
    ------
    NotFoundError
        In the same words whether the link never was, was revoked or has expired: nobody learns which.
    """
    from registry.actions.recall_family_link import recall_family_link

    open_to_all(request)
    tag = recall_family_link(accounts_of(request), settings_of(request).clock, secret)
    if tag is None:
        raise no_such_page()
    return OwnFamily(tag, f"/family/{secret}")


def no_such_page() -> NotFoundError:
    """Say that a link opens nothing."""
    what = "This link opens no page."
    remedy = "Perhaps a part of it was lost, or it has ended: ask the programme’s office for another."
    return NotFoundError(what, remedy=remedy)
