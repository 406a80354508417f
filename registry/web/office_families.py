"""Families in the office: contacts, the private link, what is held given away, and erased with proof."""

from datetime import datetime
from typing import Annotated
from zoneinfo import ZoneInfo

from fastapi import APIRouter, Depends, Request
from fastapi.responses import RedirectResponse, Response

from registry.errors import NotFoundError, RequestError
from registry.records.family import CONTACT_FIELDS, Contact
from registry.records.family_record import FamilyRecord
from registry.web.faults import status_of
from registry.web.forms import Form, posted
from registry.web.identity import Caller, needs
from registry.web.office_addresses import family_address
from registry.web.opened import accounts_of, families_of, reading, settings_of, writing
from registry.web.pages import page

__all__ = ["router"]

router = APIRouter(include_in_schema=False)
Office = Annotated[Caller, Depends(needs("office"))]
Posted = Annotated[Form, Depends(posted)]


@router.get("/office/families")
def families_page(request: Request, caller: Office) -> Response:
    """List the families of which something is held."""
    del caller
    from registry.actions.erase_family import brought_back

    now = settings_of(request).clock.now()
    linked = {link.tag for link in accounts_of(request).family_links() if link.valid(now)}
    with reading(request) as register:
        families = families_of(request, register)
        held = families.held()
        back = brought_back(register, held)
        tags = sorted({*held, *linked})
        modules = register.modules_tagged(tags)
    return page(
        request,
        "office_families.html",
        tags=tags,
        held=held,
        linked=linked,
        back=back,
        names={tag: module.memorial.name for tag, module in modules.items() if module.memorial},
        notes=families.notes,
    )


@router.get("/office/families/of")
def family_page(request: Request, caller: Office, tag: str) -> Response:
    """Show what is held of one family."""
    del caller
    return _family(request, tag)


@router.post("/office/families/contact")
def add_contact(request: Request, caller: Office, form: Posted) -> Response:
    """Keep a contact; the journal learns nothing of it."""
    del caller
    from registry.actions.add_contact import add_contact as keep_contact

    tag, said = form.needed("tag", "The tag"), {name: form.text(name) for name in CONTACT_FIELDS}
    try:
        contact = Contact(**said, recorded_at=settings_of(request).clock.now())
        with writing(request) as register:
            keep_contact(register, families_of(request, register), tag, contact)
    except NotFoundError:
        raise
    except RequestError as fault:
        return _family(request, tag, fault, said)
    return RedirectResponse(family_address(tag), status_code=303)


@router.post("/office/families/erase")
def erase(request: Request, caller: Office, form: Posted) -> Response:
    """Erase all that is held of a family, or one contact; look for it byte by byte, and show the receipt."""
    from registry.actions.erase_family import erase_family
    from registry.desk.erasure_proof import prove_erased

    tag, settings = form.needed("tag", "The tag"), settings_of(request)
    try:
        if not form.ticked("sure"):
            what = "Nothing was erased: it was not ticked that nothing brings it back."
            raise RequestError(what, remedy="Tick it, and send it again.")
        with writing(request) as register:
            made = erase_family(
                register,
                families_of(request, register),
                accounts_of(request),
                tag,
                actor=caller.name,
                contact=_number(form.text("contact")),
                seen=_instant(form.text("seen")),
            )
    except NotFoundError:
        raise
    except RequestError as fault:
        return _family(request, tag, fault)
    proof = prove_erased(made, settings.registry, [settings.received, settings.papers])
    return page(request, "office_erased.html", made=made, proof=proof, lines=proof.lines())


@router.post("/office/families/link")
def open_link(request: Request, caller: Office, form: Posted) -> Response:
    """Make a private link, and show it this once."""
    from registry.actions.open_family_link import open_family_link
    from registry.formats.written_instant import end_of

    tag, expires = form.needed("tag", "The tag"), form.stated("expires")
    try:
        with reading(request) as register:
            zone = register.programme().zone
            opened = open_family_link(
                register,
                accounts_of(request),
                settings_of(request).clock,
                tag=tag,
                actor=caller.name,
                expires_at=end_of(expires, zone) if expires else None,
            )
    except NotFoundError:
        raise
    except RequestError as fault:
        return _family(request, tag, fault)
    address = str(request.base_url).rstrip("/") + opened.path
    return page(
        request, "office_family_link.html", tag=tag, address=address, link=opened.link, zone=ZoneInfo(zone)
    )


@router.post("/office/families/unlink")
def revoke_links(request: Request, caller: Office, form: Posted) -> Response:
    """End every private link of a family."""
    from registry.actions.revoke_family_link import revoke_family_link

    tag = form.needed("tag", "The tag")
    revoke_family_link(accounts_of(request), settings_of(request).clock, tag=tag, actor=caller.name)
    return RedirectResponse(family_address(tag), status_code=303)


@router.get("/office/families/held.txt")
def held_as_text(request: Request, caller: Office, tag: str) -> Response:
    """Give all that is held about one family, as plain text for them."""
    del caller
    from registry.formats.family_record_file import write_family_text

    return _attached(write_family_text(_record(request, tag)), "text/plain; charset=utf-8", "family.txt")


@router.get("/office/families/held.json")
def held_as_json(request: Request, caller: Office, tag: str) -> Response:
    """Give all that is held about one family, as JSON."""
    del caller
    from registry.formats.family_record_file import write_family_json

    return _attached(write_family_json(_record(request, tag)), "application/json", "family.json")


def _number(text: str) -> int | None:
    """Read which contact is meant; nothing typed means all of them, and nothing else does."""
    if not text:
        return None
    if not (text.isascii() and text.isdigit()):
        raise RequestError(f"{text!r} is no number of a contact; nothing was erased.")
    return int(text)


def _instant(text: str) -> datetime | None:
    try:
        return datetime.fromisoformat(text) if text else None
    except ValueError:
        raise RequestError(f"{text!r} is no instant; nothing was erased.") from None


def _record(request: Request, tag: str) -> FamilyRecord:
    from registry.actions.gather_family import gather_family
    from registry.formats.printed_notation import position_words

    with reading(request) as register:
        families = families_of(request, register)
        return gather_family(register, families, tag, write_position=position_words)


def _attached(content: bytes, kind: str, name: str) -> Response:
    given = {"content-disposition": f'attachment; filename="{name}"'}
    return Response(content, media_type=kind, headers=given)


def _family(
    request: Request, tag: str, fault: RequestError | None = None, said: dict[str, str] | None = None
) -> Response:
    from registry.actions.erase_family import brought_back

    settings = settings_of(request)
    with reading(request) as register:
        families = families_of(request, register)
        family = families.held().get(tag)
        back = brought_back(register, {tag: family}) if family else {}
        module = register.modules_tagged([tag]).get(tag)
        if module is None and family is None:
            register.module(tag)  # an error that names the tags near it
        erasures = [body for body in register.erasures() if body["tag"] == tag]
        zone = ZoneInfo(register.programme().zone)
    return page(
        request,
        "office_family.html",
        status_of(fault) if fault else 200,
        tag=tag,
        family=family,
        module=module,
        back=back.get(tag),
        erasures=erasures,
        links=accounts_of(request).family_links(tag),
        now=settings.clock.now(),
        zone=zone,
        fields=CONTACT_FIELDS,
        said=dict.fromkeys(CONTACT_FIELDS, "") | (said or {}),
        fault=fault,
    )
