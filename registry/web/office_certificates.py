"""Certificates in the office: listed, issued one by one, withdrawn, duplicated, published."""

import io
import zipfile
from typing import Annotated
from zoneinfo import ZoneInfo

from fastapi import APIRouter, Depends, Request
from fastapi.responses import RedirectResponse, Response

from registry.errors import ConflictError, LeadlineError, RequestError
from registry.records.certificate_version import CertificateState
from registry.web.faults import status_of
from registry.web.forms import Form, posted
from registry.web.identity import Caller, needs
from registry.web.office_addresses import certificate_address
from registry.web.opened import reading, settings_of, writing
from registry.web.pages import page

__all__ = ["router"]

router = APIRouter(include_in_schema=False)
Office = Annotated[Caller, Depends(needs("office"))]
Posted = Annotated[Form, Depends(posted)]

#: Versions on one page of the list.
PAGE = 100


@router.get("/office/certificates")
def certificates_page(
    request: Request, caller: Office, state: str = "", q: str = "", first: int = 0
) -> Response:
    """List every version of every certificate with its state, and the ways to issue more."""
    del caller
    from registry.actions.list_certificates import list_certificates
    from registry.desk.certificate_page import signing_key
    from registry.web.certificate_batch import batch_state

    missing = None
    with reading(request) as register:
        versions = list_certificates(register)
        permits = [each.number for each in register.permits()]
        zone = ZoneInfo(register.programme().zone)
        try:
            signing_key(register)
        except LeadlineError as fault:
            missing = fault
    words = q.casefold().split()
    found = [
        each
        for each in reversed(versions)
        if state in ("", str(each.state))
        and all(word in f"{each.number} {each.tag} {each.memorial_name}".casefold() for word in words)
    ]
    first = max(0, min(first, len(found) - 1))
    return page(
        request,
        "office_certificates.html",
        found=found[first : first + PAGE],
        count_found=len(found),
        first=first,
        step=PAGE,
        state=state,
        q=q[:200],
        states=[str(each) for each in CertificateState],
        outdated=sum(each.state is CertificateState.CHANGED for each in versions),
        permits=permits,
        zone=zone,
        missing=missing,
        batch=batch_state(settings_of(request)),
    )


@router.get("/office/certificates/of")
def certificate_page(request: Request, caller: Office, number: str) -> Response:
    """Show one certificate: its versions, papers and duplicates."""
    del caller
    return _certificate(request, number)


def _certificate(request: Request, number: str, fault: RequestError | None = None) -> Response:
    from registry.actions.list_certificates import certificate_of

    with reading(request) as register:
        versions = certificate_of(register, number)
        duplicates = register.certificate_duplicates(versions[-1].tag)
        zone = ZoneInfo(register.programme().zone)
    return page(
        request,
        "office_certificate.html",
        status_of(fault) if fault else 200,
        versions=versions,
        last=versions[-1],
        duplicates=[each for each in duplicates if each["number"] == versions[-1].number],
        zone=zone,
        fault=fault,
    )


@router.post("/office/certificates/issue")
def issue(request: Request, caller: Office, form: Posted) -> Response:
    """Issue the certificate of one module; what speaks against it is told, and a reason asked for."""
    from registry.actions.issue_certificate import issue_certificate
    from registry.desk.certificate_page import page_printer, paper_file, signing_key
    from registry.documents.look import Look
    from registry.storage.files import make_folder, write_file
    from registry.storage.replay import insist_on_proof

    tag, despite, look = form.needed("tag", "The tag"), form.text("despite"), Look()
    settings = settings_of(request)
    try:
        with writing(request) as register:
            key = signing_key(register)
            insist_on_proof(register)
            issued = issue_certificate(
                register,
                tag,
                print_page=page_printer(key, look),
                now=settings.clock.now(),
                actor=caller.name,
                despite=despite or None,
            )
    except ConflictError as fault:
        return page(
            request,
            "office_certificate_refused.html",
            status_of(fault),
            tag=tag,
            despite=despite,
            fault=fault,
        )
    made = issued.certificate
    write_file(paper_file(make_folder(settings.papers), made.number, made.version, look), issued.pdf)
    return RedirectResponse(certificate_address(made.number), status_code=303)


@router.post("/office/certificates/withdraw")
def withdraw(request: Request, caller: Office, form: Posted) -> Response:
    """Withdraw a certificate with all its versions."""
    from registry.actions.withdraw_certificate import withdraw_certificate

    number = form.needed("number", "The number")
    try:
        with writing(request) as register:
            withdraw_certificate(register, number, reason=form.text("reason"), actor=caller.name)
    except RequestError as fault:
        return _certificate(request, number, fault)
    return RedirectResponse(certificate_address(number), status_code=303)


@router.post("/office/certificates/duplicate")
def duplicate(request: Request, caller: Office, form: Posted) -> Response:
    """Make one more paper of the current version."""
    from registry.actions.duplicate_certificate import duplicate_certificate
    from registry.desk.certificate_page import page_printer, signing_key
    from registry.documents.look import Look
    from registry.storage.replay import insist_on_proof

    number = form.needed("number", "The number")
    try:
        with writing(request) as register:
            key = signing_key(register)
            insist_on_proof(register)
            duplicate_certificate(
                register,
                number,
                print_page=page_printer(key, Look()),
                now=settings_of(request).clock.now(),
                actor=caller.name,
            )
    except RequestError as fault:
        return _certificate(request, number, fault)
    return RedirectResponse(certificate_address(number), status_code=303)


@router.get("/office/certificates/paper")
def paper(
    request: Request, caller: Office, number: str, version: int | None = None, duplicate: int | None = None
) -> Response:
    """Give the paper of a version, or of a duplicate, as it was issued."""
    del caller
    from registry.actions.print_certificate import print_certificate
    from registry.desk.certificate_page import page_printer, paper_file, signing_key
    from registry.documents.look import Look

    look = Look()
    with reading(request) as register:
        print_page = page_printer(signing_key(register), look)
        printed = print_certificate(
            register, number, print_page=print_page, version=version, duplicate=duplicate
        )
    made = printed.certificate
    file = paper_file(settings_of(request).papers, made.number, made.version, look, made.duplicate or 0)
    return _attached(printed.pdf, "application/pdf", file.name)


@router.get("/office/certificates/status.zip")
def status(request: Request, caller: Office) -> Response:
    """Give the signed list of certificates that stand, for any web host to serve."""
    del caller
    from registry.actions.publish_status import publish_status
    from registry.desk.certificate_folder import status_files
    from registry.desk.certificate_page import signing_key
    from registry.storage.replay import insist_on_proof

    with reading(request) as register:
        key = signing_key(register)
        insist_on_proof(register)
        listed = publish_status(register, now=settings_of(request).clock.now())
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in status_files(listed, key).items():
            archive.writestr(name, content)
    return _attached(packed.getvalue(), "application/zip", "certificates-status.zip")


def _attached(content: bytes, kind: str, name: str) -> Response:
    return Response(
        content, media_type=kind, headers={"content-disposition": f'attachment; filename="{name}"'}
    )
