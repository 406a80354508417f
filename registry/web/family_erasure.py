"""Erase what is held of a family, once it has typed its tag; the link that led here goes with it."""

from typing import Annotated, Any

from fastapi import APIRouter, Depends, Request
from fastapi.responses import Response

from registry.errors import NotFoundError, RequestError
from registry.web.family_link import OwnFamily, no_such_page, own_family
from registry.web.family_page import family_page, refused
from registry.web.forms import Form, sent
from registry.web.opened import accounts_of, families_of, reading, writing

__all__ = ["router"]

router = APIRouter(include_in_schema=False)
Own = Annotated[OwnFamily, Depends(own_family)]


@router.get("/family/{secret}/erasure")
def erasure_page(request: Request, family: Own) -> Response:
    """Say what would go and what stays; nothing goes by looking."""
    return _page(request, family)


@router.post("/family/{secret}/erasure")
def erase(request: Request, family: Own, form: Annotated[Form, Depends(sent)]) -> Response:
    """Erase, and say so: this page is the last that the link shows."""
    from registry.actions.erase_family import erase_family

    typed = form.text("tag")
    if typed.casefold() != family.tag.casefold():
        what = f"“{typed}” is not the tag {family.tag}; nothing was erased."
        error = RequestError(what, remedy=f"Type {family.tag} to say that you mean it.")
        return _page(request, family, **refused(error))
    try:
        with writing(request) as register:
            made = erase_family(
                register, families_of(request, register), accounts_of(request), family.tag, actor=family.actor
            )
    except NotFoundError as error:
        raise no_such_page() from error
    return family_page(request, family, "family_erased.html", made=made)


def _page(request: Request, family: OwnFamily, **values: Any) -> Response:
    status = values.pop("status", 200)
    with reading(request) as register:
        held = families_of(request, register).held().get(family.tag)
        memorial = register.module(family.tag).memorial
    shown = {"fault": None, "readings": ()} | values
    listed = bool(memorial and memorial.consent_listed)
    return family_page(request, family, "family_erasure.html", status, held=held, listed=listed, **shown)
