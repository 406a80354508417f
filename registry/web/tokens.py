"""Which program asks through the HTTP interface, and what its token is for."""

from typing import Annotated

from fastapi import HTTPException, Request, Security
from fastapi.security import HTTPAuthorizationCredentials, HTTPBearer
from fastapi.security.base import SecurityBase

from registry.errors import AccessDeniedError
from registry.records.access_token import SCOPES, Scope, Token
from registry.web.opened import accounts_of, settings_of

__all__ = ["holding"]

_BEARER = HTTPBearer(
    auto_error=False, description="A token made with: leadline token add LABEL --scope SCOPE"
)


class holding:  # noqa: N801 - reads as a word where routes are declared
    """A dependency of a route: the request brings a token with this scope."""

    #: FastAPI looks for it to write the scheme into the description of the interface.
    scheme: SecurityBase = _BEARER

    def __init__(self, scope: Scope) -> None:
        self.scope = scope

    def __call__(
        self, request: Request, brought: Annotated[HTTPAuthorizationCredentials | None, Security(_BEARER)]
    ) -> Token:
        """
        Give the token.

        Raises
        ------
        HTTPException
            401 where there is none, or one that is unknown, expired or revoked.
        AccessDeniedError
            If it is for other things.
        """
        from registry.actions.recall_token import recall_token

        token = None
        if brought is not None:
            token = recall_token(accounts_of(request), settings_of(request).clock, brought.credentials)
        if token is None:
            what = "This needs a token that holds: none was sent, or it is unknown, expired or revoked."
            raise HTTPException(401, what, headers={"www-authenticate": "Bearer"})
        if self.scope not in token.scopes:
            what = f"The token {token.label} is not for this: it lacks {self.scope}."
            raise AccessDeniedError(what, remedy=f"{self.scope}: {SCOPES[self.scope]}")
        return token
