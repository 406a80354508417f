"""What a form brings: its fields, and the proof that it was one of ours."""

import hmac
from collections.abc import AsyncIterator
from dataclasses import dataclass
from urllib.parse import urlsplit

from fastapi import Request
from starlette.datastructures import FormData, UploadFile

from registry.errors import AccessDeniedError, RequestError
from registry.web.identity import optional_caller

__all__ = ["FORM_TOKEN", "Form", "posted", "sent"]

#: The hidden field of every form of a session.
FORM_TOKEN = "form_token"
_LONGEST_FIELD = 10_000
_MOST_FILES, _MOST_FIELDS = 20, 500


@dataclass(frozen=True, slots=True)
class Form:
    """The fields of one form."""

    fields: FormData

    def text(self, name: str) -> str:
        """Give a field without space around it; empty where it is absent."""
        value = self.fields.get(name, "")
        return value.strip()[:_LONGEST_FIELD] if isinstance(value, str) else ""

    def stated(self, name: str) -> str | None:
        """Give a field, or None where nothing was typed into it."""
        return self.text(name) or None

    def needed(self, name: str, label: str) -> str:
        """Give a field that must be filled in; RequestError names it by its label."""
        text = self.text(name)
        if not text:
            raise RequestError(f"{label} is empty.", remedy="Fill it in.")
        return text

    def raw(self, name: str) -> str:
        """Give a field as it was typed: a password may begin with a space."""
        value = self.fields.get(name, "")
        return value if isinstance(value, str) else ""

    def ticked(self, name: str) -> bool:
        """Tell whether a box is ticked."""
        return bool(self.text(name))

    def every(self, name: str) -> tuple[str, ...]:
        """Give all that was chosen under one name."""
        return tuple(value for value in self.fields.getlist(name) if isinstance(value, str))

    def upload(self, name: str) -> UploadFile | None:
        """Give a file that was sent, or None."""
        value = self.fields.get(name)
        return value if isinstance(value, UploadFile) and value.filename else None


async def posted(request: Request) -> AsyncIterator[Form]:
    """
    Read a form, a dependency of each route that changes something.

    Raises
    ------
    AccessDeniedError
        If another site sent it, or a session's form lacks the session's own token: it was forged, or is
        older than the session.
    """
    _refuse_other_sites(request)
    async with request.form(max_files=_MOST_FILES, max_fields=_MOST_FIELDS) as fields:
        form = Form(fields)
        _refuse_forged(request, form)
        yield form


def _refuse_forged(request: Request, form: Form) -> None:
    """Refuse the form of another session, or of none, where one is open."""
    caller = optional_caller(request)
    if caller is not None and not hmac.compare_digest(form.text(FORM_TOKEN).encode(), caller.csrf.encode()):
        what = "This form does not belong to the session that is open now; nothing was changed."
        raise AccessDeniedError(what, remedy="Open the page again, and send it from there.")


async def sent(request: Request) -> AsyncIterator[Form]:
    """
    Read a form that no session stands behind: one that changes nothing, or whose address is itself the proof.

    Raises
    ------
    AccessDeniedError
        If another site sent it.
    """
    _refuse_other_sites(request)
    async with request.form(max_files=_MOST_FILES, max_fields=_MOST_FIELDS) as fields:
        yield Form(fields)


def _refuse_other_sites(request: Request) -> None:
    """Refuse what a browser says comes from another site."""
    origin = request.headers.get("origin")
    if request.headers.get("sec-fetch-site", "same-origin") not in {"same-origin", "none"} or (
        origin is not None and urlsplit(origin).netloc != request.headers.get("host")
    ):
        what = "This form was sent by another site; nothing was changed."
        raise AccessDeniedError(what, remedy="Open the page here, and send it from there.")
