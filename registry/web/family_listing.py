"""Whether the name may be shown in public: the family's choice, and theirs to change."""

from typing import Annotated, Any

from fastapi import APIRouter, Depends, Request
from fastapi.responses import RedirectResponse, Response

from registry.errors import ConflictError
from registry.web.family_link import OwnFamily, own_family
from registry.web.family_page import family_page, refused
from registry.web.forms import Form, sent
from registry.web.opened import reading, writing

__all__ = ["router"]

router = APIRouter(include_in_schema=False)
Own = Annotated[OwnFamily, Depends(own_family)]
_REASONS = {True: "The family agreed to have the name listed.", False: "The family withdrew its consent."}


@router.get("/family/{secret}/listing")
def listing_page(request: Request, family: Own) -> Response:
    """Show what holds now."""
    return _page(request, family)


@router.post("/family/{secret}/listing")
def choose_listing(request: Request, family: Own, form: Annotated[Form, Depends(sent)]) -> Response:
    """Record the choice in the module's record."""
    from registry.actions.amend_module import amend_module

    listed = form.needed("listed", "Your choice") == "yes"
    try:
        with writing(request) as register:
            amend_module(
                register,
                family.tag,
                reason=_REASONS[listed],
                actor=family.actor,
                consent_listed=listed,
                seen=form.text("seen"),
            )
    except ConflictError as error:
        return _page(request, family, **refused(error))
    return RedirectResponse(f"{family.root}/listing", status_code=303)


def _page(request: Request, family: OwnFamily, **values: Any) -> Response:
    from registry.records.module_words import module_version

    status = values.pop("status", 200)
    with reading(request) as register:
        module = register.module(family.tag)
    listed = bool(module.memorial and module.memorial.consent_listed)
    shown = {"fault": None, "readings": ()} | values
    return family_page(
        request, family, "family_listing.html", status, listed=listed, seen=module_version(module), **shown
    )
