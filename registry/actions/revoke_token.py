"""End a token of the HTTP interface."""

from dataclasses import replace

from registry.errors import NotFoundError
from registry.ports import Accounts, Clock
from registry.records.access_token import Token
from registry.records.access_trail import Deed

__all__ = ["revoke_token"]


def revoke_token(accounts: Accounts, clock: Clock, *, token: str, actor: str) -> Token:
    """
    Revoke a token, at once; one that was revoked already stays as it is.

    Parameters
    ----------
    accounts : Accounts
        Where it is kept.
    clock : Clock
        Tells the time.
    token : str
        Its identifier, or the label of a valid one.
    actor : str
        Who does this.

    Raises
    ------
    NotFoundError
        If there is no such token; it names the valid ones.
    """
    now = clock.now()
    with accounts.writing():
        tokens = accounts.tokens()
        valid = [each for each in tokens if each.valid(now)]
        named = [each for each in tokens if each.token_id == token]
        found = named or [each for each in valid if each.label == token]
        if not found:
            there = ", ".join(f"{each.token_id} ({each.label})" for each in valid)
            remedy = f"Valid are: {there}." if there else "No token is valid."
            raise NotFoundError(f"There is no token {token!r}.", remedy=remedy)
        if found[0].revoked_at is not None:
            return found[0]
        after = replace(found[0], revoked_at=now)
        accounts.keep_token(after)
        about = f"{after.token_id} {after.label}"
        accounts.note_deed(Deed(time=now, actor=actor, what="token revoked", about=about))
    return after
