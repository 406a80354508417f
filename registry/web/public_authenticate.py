"""Whether a certificate is genuine and stands: by its file, by what its code says, or by its number."""

from dataclasses import dataclass
from typing import TYPE_CHECKING, Annotated, Any
from zoneinfo import ZoneInfo

from fastapi import APIRouter, Depends, Request
from fastapi.responses import Response

from registry.errors import (
    InvalidRecordError,
    LeadlineError,
    NotFoundError,
    RejectedError,
    RequestError,
    UnreadableFileError,
)
from registry.web.forms import Form, sent
from registry.web.open_to_all import open_to_all
from registry.web.opened import reading
from registry.web.pages import page

if TYPE_CHECKING:
    from registry.records.certificate_version import CertificateVersion

__all__ = ["router"]

router = APIRouter(include_in_schema=False, dependencies=[Depends(open_to_all)])

#: No certificate is larger, and no code of one. Units: bytes.
LARGEST_FILE, LARGEST_TEXT = 5_000_000, 100_000
_KINDS = "Choose the PDF file that the programme sent, or a text file with what the code on the paper says."


@dataclass(frozen=True, slots=True)
class Answer:
    """What is shown: "good", "unsure" or "bad", a heading, sentences, and what is stated."""

    kind: str
    heading: str
    sentences: tuple[str, ...]
    lines: tuple[tuple[str, str], ...] = ()


@router.get("/authenticate")
def authenticate_page(request: Request) -> Response:
    """Ask for a paper; with ``?number=`` tell what is known of that certificate."""
    number = request.query_params.get("number", "").strip()[:60]
    try:
        answer = _by_number(request, number) if number else None
    except (InvalidRecordError, NotFoundError) as error:
        answer = Answer("bad" if isinstance(error, NotFoundError) else "unsure", error.what, (error.remedy,))
    return page(request, "public_authenticate.html", answer=answer, number=number)


@router.post("/authenticate")
def authenticate(request: Request, form: Annotated[Form, Depends(sent)]) -> Response:
    """Prove a file or a text."""
    status = 200
    try:
        answer = _by_paper(request, *_paper(form))
    except RejectedError as error:
        said = "What was sent is not a certificate as this programme issued it."
        answer = Answer("bad", "Not genuine", (said, error.what, error.remedy))
    except LeadlineError as error:
        if not isinstance(error, RequestError | UnreadableFileError):
            raise
        status, answer = 400, Answer("unsure", "This could not be read", (error.what, error.remedy))
    return page(request, "public_authenticate.html", status, answer=answer, number="")


def _paper(form: Form) -> tuple[bytes, str]:
    """Give what was sent: a file before a text."""
    upload = form.upload("file")
    if upload is not None:
        content = upload.file.read(LARGEST_FILE + 1)
        if not content:
            raise RequestError("The file is empty.", remedy=_KINDS)
        if len(content) > LARGEST_FILE:
            raise RequestError("The file is larger than 5 MB; no certificate is.", remedy=_KINDS)
        if not content.startswith(b"%PDF") and len(content) > LARGEST_TEXT:
            raise RequestError("This is neither a PDF file nor what a code says.", remedy=_KINDS)
        return content, "The file"
    text = form.raw("code").strip()
    if not text:
        raise RequestError("Nothing was sent.", remedy=_KINDS)
    if len(text) > LARGEST_TEXT:
        raise RequestError("This is more text than a code holds.", remedy="Give what the code says, no more.")
    return text.encode("utf-8", "replace"), "The text"


def _by_paper(request: Request, content: bytes, name: str) -> Answer:
    from registry.actions.judge_paper import judge_by_registry
    from registry.desk.proved_paper import prove_paper
    from registry.formats.printed_statement import statement_lines
    from registry.measure.decision import Verdict

    with reading(request) as register:
        keys = {key.key_id: key.public_key for key in register.signing_keys()}
        try:
            proved = prove_paper(content, name, keys)
        except UnreadableFileError as error:
            what = f"{name} is neither a PDF file nor what a code says."
            raise RequestError(what, remedy=_KINDS) from error
        judged = judge_by_registry(register, proved.statement, proved.key_id)
    stands = judged.verdict is Verdict.CONFORMING
    statement: dict[str, Any] = proved.statement
    which = f"Certificate {statement['certificate']}, version {statement['version']}"
    said = f"{which}: {judged.words}."
    heading = "Genuine" if stands else "Genuine, but read on"
    lines = tuple(row for row in statement_lines(statement) if row[0] != "Journal")
    return Answer("good" if stands else "unsure", heading, (said,), lines)


def _by_number(request: Request, text: str) -> Answer:
    """Tell of which versions a number is; nothing that a paper says of people and places."""
    from registry.actions.list_certificates import certificate_of
    from registry.documents.status_page import MEANINGS
    from registry.records.certificate import read_certificate_number
    from registry.records.certificate_version import CertificateState

    number = read_certificate_number(text)
    try:
        with reading(request) as register:
            zone = ZoneInfo(register.programme().zone)
            programme = register.programme().name
            versions = certificate_of(register, number)
    except NotFoundError as error:
        what = f"No certificate {number} was issued here"
        raise NotFoundError(what, remedy="Compare it with the paper, and ask the programme.") from error
    lines = tuple((f"Version {each.version}", _state(each, zone)) for each in versions)
    last = versions[-1]
    stands = last.state is CertificateState.CURRENT
    heading = f"{number}: {last.state}"
    sentences = (
        MEANINGS[last.state],
        f"{programme} issued it. Whether the paper in your hand is that certificate, only its file or its "
        "code tells: use one of the other two ways.",
    )
    return Answer("good" if stands else "unsure", heading, sentences, lines)


def _state(version: "CertificateVersion", zone: ZoneInfo) -> str:
    issued = version.issued_at.astimezone(zone).date().isoformat()
    ended = version.state in ("superseded", "withdrawn")
    since = f" on {version.since.astimezone(zone).date().isoformat()}" if ended else ""
    return f"issued on {issued}; {version.state}{since}"
