"""A family's own page: where their module lies and how sure that is, in plain words."""

from typing import Annotated

from fastapi import APIRouter, Depends, Request
from fastapi.responses import Response

from registry.errors import ConflictError, NotFoundError
from registry.web import family_contact, family_erasure, family_listing, family_plaque, family_visit
from registry.web.family_link import OwnFamily, own_family
from registry.web.family_page import family_page, image
from registry.web.opened import reading, settings_of

__all__ = ["router"]

router = APIRouter(include_in_schema=False)
Own = Annotated[OwnFamily, Depends(own_family)]


@router.get("/family/{secret}")
def first_page(request: Request, family: Own) -> Response:
    """Tell what is known of the place."""
    from registry.actions.answer_plaque import plaque_answer
    from registry.actions.describe_place import describe_place
    from registry.actions.reprint_certificate import latest_certificate
    from registry.documents.family_words import place_sentences, seen_sentences, sure_sentences
    from registry.formats.printed_notation import written_position
    from registry.records.public_wording import CAUTIONS

    place, unplaced = None, ""
    with reading(request) as register, register.reading():
        module = register.module(family.tag)
        try:
            place = describe_place(register, family.tag, on=settings_of(request).clock.now()).place
        except NotFoundError:
            unplaced = "It has not been set on the sea floor yet. This page will say where, on the day it is."
        except ConflictError:
            unplaced = "The record names two places, and the programme is finding out which is true."
        certificate = latest_certificate(register, family.tag)
        answer = plaque_answer(register, family.tag)
        programme = register.programme().name
    words = {}
    if place is not None:
        words = {
            "where": place_sentences(place),
            "sure": sure_sentences(place),
            "seen": seen_sentences(place),
            "texts": written_position(place.position),
            "cautions": CAUTIONS,
        }
    return family_page(
        request,
        family,
        "family_first.html",
        module=module,
        place=place,
        unplaced=unplaced,
        certificate=certificate,
        answer=answer,
        programme=programme,
        words=words,
    )


@router.get("/family/{secret}/plan.svg")
def plan(request: Request, family: Own) -> Response:
    """Draw the reef with their module in it."""
    from registry.actions.describe_place import describe_place
    from registry.documents.reef_plan import draw_reef

    with reading(request) as register, register.reading():
        place = describe_place(register, family.tag, on=settings_of(request).clock.now()).place
    return image(draw_reef(place).encode())


@router.get("/family/{secret}/certificate.pdf")
def certificate(request: Request, family: Own) -> Response:
    """Give the latest certificate that was issued; nothing is issued by looking."""
    from registry.actions.issue_certificate import PrintPage
    from registry.actions.reprint_certificate import reprint_certificate
    from registry.desk.certificate_page import page_printer, signing_key
    from registry.documents.look import Look

    with reading(request) as register:

        def printer() -> PrintPage:
            return page_printer(signing_key(register), Look())

        made = reprint_certificate(register, family.tag, printer=printer)
    name = f"{made.version.number}-v{made.version.version}.pdf"
    said = {"content-disposition": f'attachment; filename="{name}"'}
    return Response(made.pdf, media_type="application/pdf", headers=said)


for part in (family_plaque, family_visit, family_listing, family_contact, family_erasure):
    router.include_router(part.router)
