"""Modules in the office: found, added, read in from a spreadsheet, mended, each told on one page."""

import hashlib
import re
from collections.abc import Mapping
from typing import Annotated, Any
from zoneinfo import ZoneInfo

from fastapi import APIRouter, Depends, Request
from fastapi.responses import RedirectResponse, Response

from registry.errors import ConflictError, LeadlineError, NotFoundError, RequestError
from registry.records.module import Memorial, Module
from registry.web.faults import status_of
from registry.web.forms import Form, posted
from registry.web.identity import Caller, needs
from registry.web.office_addresses import module_address
from registry.web.opened import reading, settings_of, writing
from registry.web.pages import page

__all__ = ["router"]

router = APIRouter(include_in_schema=False)
Office = Annotated[Caller, Depends(needs("office"))]
Posted = Annotated[Form, Depends(posted)]

#: Modules on one page of the list.
PAGE = 100
_FIELDS = ("tag", "type", "cast", "mass", "memorial", "consent", "language", "reason", "seen")
_DIGEST = re.compile(r"[0-9a-f]{64}")


@router.get("/office/modules")
def modules_page(request: Request, caller: Office, q: str = "", first: int = 0) -> Response:
    """List the modules, all or those that words are found in."""
    del caller
    from registry.actions.search_modules import search_modules

    with reading(request) as register:
        found = search_modules(register, q[:200], first=first, at_most=PAGE)
    return page(request, "office_modules.html", found=found, q=q[:200], step=PAGE)


@router.get("/office/modules/add")
def add_page(request: Request, caller: Office) -> Response:
    """Show the form of a new module."""
    del caller
    return _form(request, "office_module_add.html", {})


@router.post("/office/modules/add")
def add(request: Request, caller: Office, form: Posted) -> Response:
    """Record one module."""
    from registry.actions.add_module import add_modules

    try:
        module = _module_of(form)
        with writing(request) as register:
            (answer,) = add_modules(register, [module], actor=caller.name)
        if isinstance(answer, LeadlineError):
            raise answer
    except RequestError as fault:
        return _form(request, "office_module_add.html", _typed(form), fault)
    return RedirectResponse(module_address(module.tag), status_code=303)


@router.get("/office/module")
def module_page(request: Request, caller: Office, tag: str) -> Response:
    """Tell all that is held of one module."""
    del caller
    from registry.actions.recount_module import recount_module
    from registry.documents.name_warnings import name_warnings
    from registry.formats.printed_notation import position_words
    from registry.records.module_words import module_words
    from registry.rules.wording import length_text, radius_text
    from registry.storage.shipped import shipped_path

    with reading(request) as register:
        story = recount_module(register, tag)
    return page(
        request,
        "office_module.html",
        story=story,
        described=module_words(story.module),
        zone=ZoneInfo(story.zone),
        write_position=position_words,
        radius=radius_text,
        length=length_text,
        warnings=name_warnings([story.module], shipped_path("fonts")),
    )


@router.get("/office/module/amend")
def amend_page(request: Request, caller: Office, tag: str) -> Response:
    """Show the form that mends a module, filled with what is recorded."""
    del caller
    return _amend_form(request, tag, None)


@router.post("/office/module/amend")
def amend(request: Request, caller: Office, form: Posted) -> Response:
    """Mend what is recorded of a module; whoever was overtaken is told by whom, and keeps what they typed."""
    from registry.actions.amend_module import amend_module
    from registry.formats.written_instant import read_day
    from registry.formats.written_quantity import read_mass

    tag, name = form.needed("tag", "The tag"), form.stated("memorial")
    try:
        mass, cast = form.stated("mass"), form.stated("cast")
        with writing(request) as register:
            amend_module(
                register,
                tag,
                reason=form.needed("reason", "The reason"),
                actor=caller.name,
                type_id=form.needed("type", "The type"),
                mass_kg=read_mass(mass).value if mass else None,
                cast_on=read_day(cast) if cast else None,
                memorial=name,
                no_memorial=name is None,
                consent_listed=form.ticked("consent") if name or form.ticked("consent") else None,
                language=form.stated("language"),
                seen=form.text("seen"),
            )
    except NotFoundError:
        raise
    except RequestError as fault:
        return _amend_form(request, tag, fault, _typed(form))
    return RedirectResponse(module_address(tag), status_code=303)


@router.post("/office/modules/import")
def import_modules(request: Request, caller: Office, form: Posted) -> Response:
    """Record the modules of a spreadsheet; what cannot be taken is told row by row, and kept."""
    from registry.actions.intake_modules import intake_modules
    from registry.documents.name_warnings import name_warnings
    from registry.formats.csv_table import read_csv_table, write_reject_table
    from registry.formats.module_table import columns_left_out, read_modules
    from registry.storage.files import decode_text, make_folder, write_file
    from registry.storage.shipped import shipped_path

    file = form.upload("file")
    if file is None:
        raise RequestError("No file was chosen.", remedy="Choose a spreadsheet that was saved as CSV.")
    decoded = decode_text(file.file.read(), name=file.filename or "The file")
    table = read_csv_table(decoded.text)
    with writing(request) as register:
        taken = intake_modules(register, list(read_modules(table)), actor=caller.name)
    rejects = ""
    if taken.rejected:
        data = write_reject_table(table, [(row, str(why)) for row, why in taken.rejected]).encode()
        rejects = hashlib.sha256(data).hexdigest()
        write_file(make_folder(settings_of(request).received) / f"{rejects}.csv", data, private=True)
    return page(
        request,
        "office_modules_taken.html",
        name=file.filename,
        taken=taken,
        note=decoded.note,
        left_out=columns_left_out(table),
        warnings=name_warnings(taken.new, shipped_path("fonts")),
        rejects=rejects,
    )


@router.get("/office/modules/rejected/{digest}")
def rejected(request: Request, caller: Office, digest: str) -> Response:
    """Give back the rows that were not taken in, with their reasons."""
    del caller
    from registry.storage.files import read_file

    file = settings_of(request).received / f"{digest}.csv"
    if not _DIGEST.fullmatch(digest) or not file.is_file():
        raise NotFoundError("There are no such rows.", remedy="Read the spreadsheet in again.")
    given = {"content-disposition": 'attachment; filename="modules.rejected.csv"'}
    return Response(read_file(file), media_type="text/csv", headers=given)


def _module_of(form: Form) -> Module:
    from registry.formats.written_instant import read_day
    from registry.formats.written_quantity import read_mass

    name, mass, cast = form.stated("memorial"), form.stated("mass"), form.stated("cast")
    if name is None and (form.stated("language") or form.ticked("consent")):
        what = "A language or a consent is given, but no name to which it belongs."
        raise RequestError(what, remedy="Give the name too, or leave both out.")
    remembered = None
    if name is not None:
        remembered = Memorial(
            name=name, consent_listed=form.ticked("consent"), language=form.stated("language")
        )
    return Module(
        tag=form.needed("tag", "The tag"),
        type_id=form.needed("type", "The type"),
        cast_on=read_day(cast) if cast else None,
        mass_kg=read_mass(mass).value if mass else None,
        memorial=remembered,
    )


def _typed(form: Form) -> dict[str, str]:
    return {name: form.text(name) for name in _FIELDS}


def _amend_form(
    request: Request, tag: str, fault: RequestError | None, typed: Mapping[str, str] | None = None
) -> Response:
    """Show what is recorded, or what was typed beside what is recorded now."""
    from registry.records.module_words import module_version, module_words

    with reading(request) as register:
        module = register.module(tag)
        types = register.module_types()
    memorial, version = module.memorial, module_version(module)
    recorded = {
        "tag": module.tag,
        "type": module.type_id,
        "cast": module.cast_on.isoformat() if module.cast_on else "",
        "mass": f"{module.mass_kg!r} kg" if module.mass_kg is not None else "",
        "memorial": memorial.name if memorial else "",
        "consent": "yes" if memorial and memorial.consent_listed else "",
        "language": (memorial.language if memorial else None) or "",
        "reason": "",
    }
    overtaken = isinstance(fault, ConflictError) and typed is not None and typed["seen"] != version
    return page(
        request,
        "office_module_amend.html",
        status_of(fault) if fault else 200,
        said=dict(recorded) | dict(typed or {}) | {"seen": version},
        now=module_words(module) if overtaken else (),
        types=types,
        fault=fault,
    )


def _form(
    request: Request, template: str, said: Mapping[str, Any], fault: RequestError | None = None
) -> Response:
    with reading(request) as register:
        types = register.module_types()
    return page(
        request,
        template,
        status_of(fault) if fault else 200,
        types=types,
        said=dict.fromkeys(_FIELDS, "") | dict(said),
        fault=fault,
    )
