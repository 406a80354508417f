"""Let another program ask through the HTTP interface."""

from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import datetime

from registry.errors import ConflictError, InvalidRecordError
from registry.ports import Accounts, Clock
from registry.records.access_token import Token, read_scopes
from registry.records.access_trail import Deed
from registry.records.secret_digest import digest_of_secret

__all__ = ["AddedToken", "add_token"]

#: Before every secret, so that whoever finds one in a file knows what it is.
PREFIX = "leadline_"


@dataclass(frozen=True, slots=True, kw_only=True)
class AddedToken:
    """A token that was made."""

    #: For the other program; it stands nowhere else and cannot be shown again.
    secret: str = field(repr=False)
    token: Token


def add_token(
    accounts: Accounts,
    clock: Clock,
    *,
    label: str,
    scopes: Iterable[str],
    expires_at: datetime,
    actor: str,
) -> AddedToken:
    """
    Make a token.

    Parameters
    ----------
    accounts : Accounts
        Where it is kept.
    clock : Clock
        Tells the time.
    label : str
        What it is for.
    scopes : iterable of str
        What it may be used for.
    expires_at : datetime
        Until when.
    actor : str
        Who makes it.

    Raises
    ------
    ConflictError
        If a valid token bears the label.
    InvalidRecordError, UnprintableTextError
        If the label or a scope will not do, or the end has come already.
    """
    now = clock.now()
    secret = PREFIX + accounts.fresh_secret()
    digest = digest_of_secret(secret)
    token = Token(
        token_id=digest[:8],
        label=label,
        digest=digest,
        scopes=read_scopes(scopes),
        made_by=actor,
        made_at=now,
        expires_at=expires_at,
    )
    if not token.valid(now):
        what = f"The token would have ended at {expires_at:%Y-%m-%d %H:%M} already."
        raise InvalidRecordError(what, remedy="Give a later end.")
    with accounts.writing():
        if any(each.label == label and each.valid(now) for each in accounts.tokens()):
            what = f"There is a token for {label!r} already."
            raise ConflictError(what, remedy="Revoke it first, or give this one another label.")
        accounts.keep_token(token)
        about = f"{token.token_id} {label} ({', '.join(sorted(token.scopes))})"
        accounts.note_deed(Deed(time=now, actor=actor, what="token added", about=about))
    return AddedToken(secret=secret, token=token)
