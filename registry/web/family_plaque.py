"""The proof of the plaque: read it, change its words, approve it or ask for a change."""

from typing import TYPE_CHECKING, Annotated, Any

from fastapi import APIRouter, Depends, Request
from fastapi.responses import RedirectResponse, Response

from registry.errors import LeadlineError
from registry.web.family_link import OwnFamily, own_family
from registry.web.family_page import family_page, image, refused
from registry.web.forms import Form, sent
from registry.web.opened import families_of, reading, settings_of, writing

if TYPE_CHECKING:
    from registry.desk.plaque_artwork import DrawnPlaque
    from registry.records.plaque_wording import PlaqueWording
    from registry.storage.register import GeoPackageRegister

__all__ = ["router"]

router = APIRouter(include_in_schema=False)
Own = Annotated[OwnFamily, Depends(own_family)]
Sent = Annotated[Form, Depends(sent)]


@router.get("/family/{secret}/plaque")
def plaque_page(request: Request, family: Own) -> Response:
    """Show the proof, or why there is none yet."""
    return _page(request, family)


@router.get("/family/{secret}/plaque.svg")
def plaque_drawing(request: Request, family: Own) -> Response:
    """Give the proof as a drawing."""
    return image(_drawn(request, family).artwork.svg.encode())


@router.get("/family/{secret}/plaque.pdf")
def plaque_file(request: Request, family: Own) -> Response:
    """Give the proof true to scale."""
    said = {"content-disposition": 'attachment; filename="plaque-proof.pdf"'}
    return Response(_drawn(request, family).pdf(), media_type="application/pdf", headers=said)


@router.post("/family/{secret}/plaque/words")
def change_words(request: Request, family: Own, form: Sent) -> Response:
    """Keep other words, and draw the proof anew."""
    from registry.actions.keep_plaque_wording import keep_plaque_wording

    try:
        with writing(request) as register:
            wording = _typed(request, register, family, form)
            _draw(register, family, wording)  # what does not fit the plate is not kept
            keep_plaque_wording(
                register, families_of(request, register), family.tag, wording, seen=form.text("seen")
            )
    except LeadlineError as error:
        return _page(request, family, typed=form, **refused(error))
    return RedirectResponse(f"{family.root}/plaque#proof", status_code=303)


@router.post("/family/{secret}/plaque/answer")
def answer(request: Request, family: Own, form: Sent) -> Response:
    """Record that the family approves the drawing it saw, or asks for a change."""
    from registry.actions.answer_plaque import answer_plaque
    from registry.actions.keep_plaque_wording import keep_plaque_wording

    approved = form.text("answer") == "approve"
    try:
        with writing(request) as register, register.writing():
            wording, version = _kept(request, register, family)
            if not approved or version is None:
                from dataclasses import replace

                asked = form.needed("request", "What is to be changed") if not approved else ""
                wording = replace(wording, request=asked)
                keep_plaque_wording(
                    register, families_of(request, register), family.tag, wording, seen=_version(version)
                )
            drawn = _draw(register, family, wording)
            answer_plaque(
                register,
                family.tag,
                approved=approved,
                seen=form.text("drawing"),
                artwork_sha256=drawn.sha256,
                actor=family.actor,
            )
    except LeadlineError as error:
        return _page(request, family, typed=form, **refused(error))
    return RedirectResponse(f"{family.root}/plaque", status_code=303)


def _page(request: Request, family: OwnFamily, **values: Any) -> Response:
    from registry.actions.answer_plaque import plaque_answer
    from registry.records.plaque_wording import MOST_LINES

    drawn, unready = None, None
    with reading(request) as register, register.reading():
        wording, version = _kept(request, register, family)
        try:
            drawn = _draw(register, family, wording)
        except LeadlineError as error:
            unready = error
        last = plaque_answer(register, family.tag)
    status = values.pop("status", 200)
    shown = {"typed": None, "fault": None, "readings": ()} | values
    return family_page(
        request,
        family,
        "family_plaque.html",
        status,
        drawn=drawn,
        unready=unready,
        wording=wording,
        seen=_version(version),
        answer=last,
        same=bool(last and drawn and last.artwork_sha256 == drawn.sha256),
        lines=MOST_LINES,
        **shown,
    )


def _drawn(request: Request, family: OwnFamily) -> "DrawnPlaque":
    with reading(request) as register, register.reading():
        return _draw(register, family, _kept(request, register, family)[0])


def _draw(register: "GeoPackageRegister", family: OwnFamily, wording: "PlaqueWording") -> "DrawnPlaque":
    from registry.desk.plaque_artwork import draw_wording

    return draw_wording(register, family.tag, wording)


def _kept(
    request: Request, register: "GeoPackageRegister", family: OwnFamily
) -> "tuple[PlaqueWording, PlaqueWording | None]":
    """Give the words to be drawn, and those that are kept, if any."""
    from registry.records.plaque_wording import PlaqueWording

    held = families_of(request, register).held().get(family.tag)
    kept = held.plaque if held else None
    return kept or PlaqueWording(on=_today(request, register)), kept


def _typed(
    request: Request, register: "GeoPackageRegister", family: OwnFamily, form: Form
) -> "PlaqueWording":
    from dataclasses import replace

    wording, _ = _kept(request, register, family)
    lines = [line.strip() for line in form.text("words").splitlines()]
    return replace(
        wording,
        heading=form.text("heading"),
        dates=form.text("dates"),
        words=tuple(line for line in lines if line),
        on=_today(request, register),
    )


def _today(request: Request, register: "GeoPackageRegister") -> Any:
    from zoneinfo import ZoneInfo

    return settings_of(request).clock.now().astimezone(ZoneInfo(register.programme().zone)).date()


def _version(wording: "PlaqueWording | None") -> str:
    from registry.records.plaque_wording import wording_version

    return wording_version(wording)
