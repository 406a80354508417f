"""Whom the programme writes to: theirs to read, change and take out; the journal learns no word."""

from typing import Annotated, Any

from fastapi import APIRouter, Depends, Request
from fastapi.responses import RedirectResponse, Response

from registry.errors import LeadlineError
from registry.web.family_link import OwnFamily, own_family
from registry.web.family_page import family_page, refused
from registry.web.forms import Form, sent
from registry.web.opened import accounts_of, families_of, reading, settings_of, writing

__all__ = ["router"]

router = APIRouter(include_in_schema=False)
Own = Annotated[OwnFamily, Depends(own_family)]


@router.get("/family/{secret}/contact")
def contact_page(request: Request, family: Own) -> Response:
    """Show what is held."""
    return _page(request, family)


@router.post("/family/{secret}/contact")
def change(request: Request, family: Own, form: Annotated[Form, Depends(sent)]) -> Response:
    """Keep a contact, another in the place of one that was seen, or take one out."""
    from registry.actions.add_contact import add_contact
    from registry.actions.change_contact import change_contact, remove_contact
    from registry.records.family import CONTACT_FIELDS, Contact

    seen = form.text("seen")
    try:
        with writing(request) as register:
            families = families_of(request, register)
            if form.text("do") == "remove":
                remove_contact(
                    register, families, accounts_of(request), family.tag, seen=seen, actor=family.actor
                )
            else:
                form.needed("name", "Name")
                told = {field: " ".join(form.text(field).split()) for field in CONTACT_FIELDS}
                contact = Contact(**told, recorded_at=settings_of(request).clock.now())
                if seen:
                    change_contact(
                        register,
                        families,
                        accounts_of(request),
                        family.tag,
                        seen=seen,
                        contact=contact,
                        actor=family.actor,
                    )
                else:
                    add_contact(register, families, family.tag, contact)
    except LeadlineError as error:
        return _page(request, family, typed=form, **refused(error))
    return RedirectResponse(f"{family.root}/contact", status_code=303)


def _page(request: Request, family: OwnFamily, **values: Any) -> Response:
    from registry.actions.change_contact import contact_version

    status = values.pop("status", 200)
    with reading(request) as register:
        held = families_of(request, register).held().get(family.tag)
    contacts = [(contact_version(contact), contact) for contact in (held.contacts if held else ())]
    shown = {"typed": None, "fault": None, "readings": ()} | values
    return family_page(request, family, "family_contact.html", status, contacts=contacts, **shown)
