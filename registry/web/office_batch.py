"""The office's page of a run that issues many certificates: begun, watched, stopped, taken away."""

import tempfile
from pathlib import Path
from typing import Annotated

from fastapi import APIRouter, Depends, Request
from fastapi.responses import FileResponse, RedirectResponse, Response
from starlette.background import BackgroundTask

from registry.errors import ConflictError, NotFoundError
from registry.records.certificate_version import CertificateState
from registry.web.certificate_batch import batch_state, begin_batch, stop_batch
from registry.web.faults import status_of
from registry.web.forms import Form, posted
from registry.web.identity import Caller, needs
from registry.web.opened import reading, settings_of
from registry.web.pages import page

__all__ = ["router"]

router = APIRouter(include_in_schema=False)
Office = Annotated[Caller, Depends(needs("office"))]
Posted = Annotated[Form, Depends(posted)]
BATCH = "/office/certificates/batch"


@router.get(BATCH)
def batch_page(request: Request, caller: Office) -> Response:
    """Show how far the run is."""
    del caller
    return _batch(request)


@router.get(f"{BATCH}.json")
def batch_data(request: Request, caller: Office) -> dict[str, object]:
    """Tell a script how far the run is."""
    del caller
    state = batch_state(settings_of(request))
    return state.as_json() if state else {"running": False, "state": "none"}


@router.post(BATCH)
def begin(request: Request, caller: Office, form: Posted) -> Response:
    """Begin to issue what is missing or has changed."""
    from registry.desk.certificate_page import signing_key

    permit = form.stated("permit")
    with reading(request) as register:
        signing_key(register)
        if permit is not None:
            register.permit(permit)
    try:
        begin_batch(settings_of(request), permit=permit, by=caller.name)
    except ConflictError as fault:
        return _batch(request, fault)
    return RedirectResponse(BATCH, status_code=303)


@router.post(f"{BATCH}/stop")
def stop(request: Request, caller: Office, form: Posted) -> Response:
    """Let the run end after the certificate that it is at."""
    del caller, form
    stop_batch(settings_of(request))
    return RedirectResponse(BATCH, status_code=303)


@router.get("/office/certificates/papers.zip")
def papers(request: Request, caller: Office, permit: str = "") -> Response:
    """Give the papers of all certificates that stand and were issued here, those of one permit or all."""
    del caller
    from registry.actions.issue_certificates import tags_to_certify
    from registry.actions.list_certificates import list_certificates
    from registry.desk.certificate_folder import pack_papers
    from registry.documents.look import Look

    settings = settings_of(request)
    with reading(request) as register:
        tags = set(tags_to_certify(register, permit or None))
        versions = [
            each
            for each in list_certificates(register)
            if each.state is CertificateState.CURRENT and each.tag in tags
        ]
    with tempfile.NamedTemporaryFile(suffix=".zip", delete=False) as target:
        file = Path(target.name)
        count = pack_papers(versions, settings.papers, Look(), target)
    if not count:
        file.unlink()
        raise NotFoundError("No paper of a certificate that stands lies here.", remedy="Issue them first.")
    return FileResponse(
        file,
        media_type="application/zip",
        filename="certificates.zip",
        background=BackgroundTask(file.unlink),
    )


def _batch(request: Request, fault: ConflictError | None = None) -> Response:
    from registry.actions.list_certificates import list_certificates

    batch = batch_state(settings_of(request))
    with reading(request) as register:
        permits = [each.number for each in register.permits()]
        standing = set()
        if batch and batch.refused and not batch.running:
            versions = list_certificates(register)
            standing = {each.tag for each in versions if each.state is CertificateState.CURRENT}
    return page(
        request,
        "office_batch.html",
        status_of(fault) if fault else 200,
        batch=batch,
        refused=[each for each in batch.refused if each[0] not in standing] if batch else [],
        permits=permits,
        fault=fault,
    )
